"""Scan files: TIFF, PNG and JPEG with profile and resolution."""
import os
import struct
import zlib

import numpy as np
import tifffile
from PIL import Image


def quantise(code, bits):
    """Codes 0..1 -> integers, rounded."""
    top = 255 if bits == 8 else 65535
    return np.round(np.clip(code, 0, 1) * top).astype(np.uint8 if bits == 8 else np.uint16)


def write(path, pixels, file, dpi, icc):
    """Write through a temporary name; pixels (h, w) or (h, w, 3)."""
    tagged = dpi if file.tagged_dpi else None
    part = path + ".part"
    {"tif": _tiff, "png": _png, "jpg": _jpeg}[file.kind](part, pixels, tagged, icc, file)
    os.replace(part, path)


def _tiff(path, pixels, dpi, icc, file):
    grey = pixels.ndim == 2
    tags = [(34675, "B", len(icc), icc, True)] if icc else []
    extra = dict(resolution=(dpi, dpi), resolutionunit="INCH") if dpi else {}
    tifffile.imwrite(path, pixels, photometric="minisblack" if grey else "rgb", metadata=None,
                     compression="adobe_deflate", predictor=True, rowsperstrip=32,
                     extratags=tags, software="milori sheet simulator", **extra)


def _chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(path, pixels, dpi, icc, file):
    """PNG by hand: Pillow cannot write 16-bit RGB. Rows use the Up filter."""
    h, w = pixels.shape[:2]
    depth, kind = pixels.dtype.itemsize * 8, 0 if pixels.ndim == 2 else 2
    raw = pixels.astype(">u2" if depth == 16 else "u1").tobytes()
    rows = np.frombuffer(raw, np.uint8).reshape(h, -1)
    up = np.diff(rows, axis=0, prepend=np.zeros((1, rows.shape[1]), np.uint8))
    lines = np.concatenate([np.full((h, 1), 2, np.uint8), up], axis=1)
    with open(path, "wb") as f:
        f.write(b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", struct.pack(">IIBBBBB", w, h, depth, kind, 0, 0, 0)))
        if icc:
            f.write(_chunk(b"iCCP", b"scan\0\0" + zlib.compress(icc)))
        if dpi:
            per_metre = int(round(dpi / 0.0254))
            f.write(_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
        f.write(_chunk(b"IDAT", zlib.compress(lines.tobytes(), 9)) + _chunk(b"IEND", b""))


def _jpeg(path, pixels, dpi, icc, file):
    extra = dict(dpi=(dpi, dpi)) if dpi else {}
    if file.quality >= 95:  # as scanners do: no colour thinned out
        extra["subsampling"] = 0
    Image.fromarray(pixels).save(path, "JPEG", quality=file.quality, icc_profile=icc, **extra)
