"""Matrix ICC profiles: written small, and read for their primaries and curve."""
import os
import struct

import numpy as np

PRIMARIES = {  # columns are the D50 colorants, as their tags hold them
    "sRGB": [[0.43607, 0.38515, 0.14307], [0.22249, 0.71687, 0.06061], [0.01392, 0.09708, 0.71410]],
    "Adobe": [[0.60974, 0.20528, 0.14919], [0.31111, 0.62567, 0.06322], [0.01947, 0.06087, 0.74457]],
    "ProPhoto": [[0.79767, 0.13519, 0.03134], [0.28804, 0.71188, 0.00009], [0.0, 0.0, 0.82491]],
}
GAMMA = {"Adobe": 563 / 256, "ProPhoto": 1.8, "grey": 2.2}
INSTALLED = {  # Debian's colord-data, used when it is there; the bundled scans hold only our own
    "ProPhoto": "/usr/share/color/icc/colord/ProPhotoRGB.icc",
}


def srgb_decode(code):
    return np.where(code <= 0.04045, code / 12.92, ((np.maximum(code, 0) + 0.055) / 1.055) ** 2.4)


def srgb_encode(linear):
    x = np.maximum(linear, 0)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


def _fixed(value):
    return struct.pack(">i", int(round(value * 65536)))


def _curve(space):
    """A 'curv' tag: one gamma, or sRGB's curve in 4096 steps."""
    if space == "sRGB":
        table = np.round(srgb_decode(np.linspace(0, 1, 4096)) * 65535).astype(">u2")
        return b"curv" + bytes(4) + struct.pack(">I", 4096) + table.tobytes()
    return b"curv" + bytes(4) + struct.pack(">IH", 1, int(round(GAMMA[space] * 256))) + bytes(2)


def _text(kind, words):
    raw = words.encode("ascii") + b"\0"
    if kind == b"desc":
        return b"desc" + bytes(4) + struct.pack(">I", len(raw)) + raw + bytes(78)
    return b"text" + bytes(4) + raw


def write(space):
    """Bytes of an ICC version 2.1 display profile of one of our spaces."""
    grey = space == "grey"
    tags = {b"desc": _text(b"desc", f"simulator {space}"), b"cprt": _text(b"text", "No copyright"),
            b"wtpt": b"XYZ " + bytes(4) + _fixed(0.9642) + _fixed(1) + _fixed(0.8249)}
    if grey:
        tags[b"kTRC"] = _curve(space)
    else:
        for i, name in enumerate((b"r", b"g", b"b")):
            column = [row[i] for row in PRIMARIES[space]]
            tags[name + b"XYZ"] = b"XYZ " + bytes(4) + b"".join(map(_fixed, column))
            tags[name + b"TRC"] = _curve(space)
    table, body, at, placed = b"", b"", 128 + 4 + 12 * len(tags), {}
    for name, data in tags.items():
        if data not in placed:  # the three curves share one place
            placed[data] = at + len(body)
            body += data + bytes(-len(data) % 4)
        table += name + struct.pack(">II", placed[data], len(data))
    size = at + len(body)
    head = struct.pack(">I4sI4s4s4s12s4s", size, bytes(4), 0x02100000, b"mntr",
                       b"GRAY" if grey else b"RGB ", b"XYZ ",
                       struct.pack(">6H", 2024, 1, 1, 0, 0, 0), b"acsp")
    head += bytes(24) + bytes(4) + _fixed(0.9642) + _fixed(1) + _fixed(0.8249)
    return head + bytes(128 - len(head)) + struct.pack(">I", len(tags)) + table + body


def read(data):
    """(3x3 colorants as columns, decoding function) of a matrix RGB profile."""
    count = struct.unpack(">I", data[128:132])[0]
    tags = {}
    for i in range(count):
        name, at, size = struct.unpack(">4sII", data[132 + 12 * i : 144 + 12 * i])
        tags[name] = data[at : at + size]
    columns = [np.array(struct.unpack(">3i", tags[n][8:20])) / 65536 for n in (b"rXYZ", b"gXYZ", b"bXYZ")]
    curve = tags[b"rTRC"]
    if curve[:4] == b"para" and curve[8:10] == b"\0\0":  # type 0 is one gamma
        return np.stack(columns, 1), np.array([struct.unpack(">i", curve[12:16])[0] / 256])
    if curve[:4] != b"curv":
        raise ValueError("this profile's curve is not one gamma: not read here")
    n = struct.unpack(">I", curve[8:12])[0]
    values = np.frombuffer(curve[12 : 12 + 2 * n], ">u2")
    return np.stack(columns, 1), values


class Space:
    """A matrix RGB space: linear values in, codes 0..1 out, and back."""

    def __init__(self, name):
        self.name = "sRGB" if name == "none" else name
        self.icc = write(self.name)
        path = INSTALLED.get(self.name)
        if path and os.path.exists(path):
            with open(path, "rb") as f:
                self.icc = f.read()
        self.matrix, values = read(self.icc)
        self.gamma = values[0] / 256 if len(values) == 1 else None
        if self.gamma is None and self.name != "sRGB":
            raise ValueError(f"{path}: its curve is a table: not read here")

    def encode(self, linear):
        if self.gamma is None:
            return srgb_encode(linear)
        return np.maximum(linear, 0) ** (1 / self.gamma)

    def decode(self, code):
        if self.gamma is None:
            return srgb_decode(code)
        return np.maximum(code, 0) ** self.gamma
