"""Checks picture files that milori wrote with readers that are not milori's.

sink_reader.py JOBS, where a line of the file JOBS is
KIND FILE RAW WIDTH HEIGHT CHANNELS BITS TOLERANCE

RAW holds the samples that were written, native byte order. KIND: tiff (read by
python3-tifffile), png (decoded here after ISO 15948, clauses 7, 9 and 10, since
PIL cuts 16 bit colour to 8) or jpeg (djpeg's decoding in FILE.pnm, and PIL).
TOLERANCE is the largest difference in codes; the mean may be an eighth of it.
Exits non-zero with a line if anything differs.
"""

import struct
import sys
import zlib

import numpy as np
from PIL import Image


def read_tiff(path):
    import tifffile

    with tifffile.TiffFile(path) as tiff:
        assert len(tiff.pages) == 1, "one page"
        page = tiff.pages[0]
        tags = page.tags
        assert tags["Compression"].value == 8, "Adobe Deflate"
        assert tags["Predictor"].value == 2, "horizontal differencing"
        assert "DateTime" not in tags, "no clock time"
        assert tags["Software"].value.startswith("milori "), "software"
        row = page.imagewidth * page.samplesperpixel * page.bitspersample // 8
        assert page.rowsperstrip * row <= 1 << 20 and page.rowsperstrip <= 256, "strip size"
        return page.asarray()


def chunks(data):
    assert data[:8] == b"\x89PNG\r\n\x1a\n", "signature"
    at = 8
    while at < len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        body = data[at + 8 : at + 8 + size]
        (crc,) = struct.unpack(">I", data[at + 8 + size : at + 12 + size])
        assert crc == zlib.crc32(kind + body), "CRC"
        yield kind, body
        at += 12 + size


def unfilter(raw, height, row, step):
    """Filter types 0 none, 1 sub, 2 up (those that milori writes)."""
    raw = np.frombuffer(raw, np.uint8).reshape(height, row + 1)
    out = np.zeros((height, row), np.uint8)
    above = np.zeros(row, np.uint8)
    for y in range(height):
        kind, line = raw[y, 0], raw[y, 1:]
        if kind == 1:
            line = np.cumsum(line.reshape(-1, step), axis=0, dtype=np.uint8).reshape(-1)
        elif kind == 2:
            line = line + above
        else:
            assert kind == 0, "filter type %d" % kind
        out[y] = above = line
    return out


def read_png(path):
    found = list(chunks(open(path, "rb").read()))
    kinds = [kind for kind, _ in found]
    assert b"tIME" not in kinds, "no clock time"
    assert kinds[0] == b"IHDR" and kinds[-1] == b"IEND", "order"
    width, height, bits, colour, *rest = struct.unpack(">IIBBBBB", found[0][1])
    assert rest == [0, 0, 0], "deflate, adaptive filters, no interlace"
    channels = {0: 1, 2: 3}[colour]
    raw = zlib.decompress(b"".join(body for kind, body in found if kind == b"IDAT"))
    step = channels * bits // 8
    pixels = unfilter(raw, height, width * step, step)
    samples = pixels.view(">u2").astype(np.uint16) if bits == 16 else pixels
    samples = samples.reshape(height, width, channels)
    if bits == 8:
        assert np.array_equal(np.asarray(Image.open(path)).reshape(samples.shape), samples), "PIL"
    return samples


def read_jpeg(path):
    picture = Image.open(path + ".pnm")
    with Image.open(path) as own:
        assert all(layer[1:3] == (1, 1) for layer in own.layer), "4:4:4"
        assert "progressive" not in own.info, "baseline"
        difference = np.asarray(picture).astype(int) - np.asarray(own.convert(picture.mode))
        assert np.abs(difference).max() <= 1, "djpeg and PIL"
    return np.asarray(picture)


def check(kind, path, raw, *numbers):
    width, height, channels, bits, tolerance = map(int, numbers)
    shape = (height, width, channels)
    expected = np.fromfile(raw, np.uint16 if bits == 16 else np.uint8).reshape(shape)
    got = {"tiff": read_tiff, "png": read_png, "jpeg": read_jpeg}[kind](path)
    assert got.size == expected.size, "size %s" % (got.shape,)
    assert got.dtype == expected.dtype, "depth %s" % got.dtype
    difference = np.abs(got.reshape(shape).astype(int) - expected)
    assert difference.max() <= tolerance, "differs by %d" % difference.max()
    assert difference.mean() <= tolerance / 8, "differs by %.2f in the mean" % difference.mean()


def main():
    jobs = [line.split() for line in open(sys.argv[1])]
    for job in jobs:
        try:
            check(*job)
        except Exception as error:
            sys.exit("%s: %s" % (job[1], error))
    print(len(jobs), "files read")


main()
