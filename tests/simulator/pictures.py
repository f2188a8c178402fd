"""Reading scans and positives back, without milori."""
import struct
import zlib

import numpy as np
import tifffile
from PIL import Image

from icc import srgb_decode


def codes(path):
    """Codes 0..1, (h, w) or (h, w, channels), of TIFF, PNG or JPEG."""
    if path.lower().endswith((".tif", ".tiff")):
        array = tifffile.imread(path)
    elif path.lower().endswith(".png"):
        array = png_codes(path)
    else:
        array = np.asarray(Image.open(path))
    top = {1: 255.0, 2: 65535.0}[array.dtype.itemsize]
    return array.astype(np.float64) / top


def png_codes(path):
    """PNG of any depth. Pillow drops 16-bit RGB to 8 bits, so files.py's own
    kind (every row with the Up filter) is read here; others go to Pillow."""
    with open(path, "rb") as f:
        data = f.read()
    at, idat, head = 8, b"", None
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        head = body if kind == b"IHDR" else head
        idat += body if kind == b"IDAT" else b""
        at += 12 + size
    w, h, depth, colour, _, _, lace = struct.unpack(">IIBBBBB", head)
    channels = {0: 1, 2: 3}.get(colour)
    if depth != 16 or channels is None or lace:
        return np.asarray(Image.open(path))
    rows = np.frombuffer(zlib.decompress(idat), np.uint8).reshape(h, 1 + w * channels * 2)
    if not np.all(rows[:, 0] == 2):
        raise ValueError(f"{path}: this reader knows only 16-bit PNG with the Up filter")
    raw = np.add.accumulate(rows[:, 1:], axis=0, dtype=np.uint8)
    shape = (h, w) if channels == 1 else (h, w, channels)
    return np.ascontiguousarray(raw).view(">u2").astype(np.uint16).reshape(shape)


def luminance(path):
    """Relative luminance of a picture in sRGB (or grey with its curve)."""
    linear = srgb_decode(codes(path))
    if linear.ndim == 2:
        return linear
    return linear[..., :3] @ np.array([0.2126, 0.7152, 0.0722])
