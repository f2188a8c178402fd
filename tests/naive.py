"""The naive way, to stand beside milori's: the frame's luminance inverted, mirrored, stretched.

usage: naive.py SCAN SHEET.json SHEET.png NAIVE.png
SHEET.json is what milori measure --json prints of a scan with one sheet; SHEET.png gets the
sheet as the scan shows it, NAIVE.png the naive positive.
"""
import json
import sys

import numpy as np
import tifffile
from PIL import Image, ImageOps


def read(path):
    """The scan in 8 bit."""
    if not path.lower().endswith((".tif", ".tiff")):
        return Image.open(path).convert("RGB")
    codes = tifffile.imread(path)
    codes = codes if codes.dtype == np.uint8 else (codes / 257 + 0.5).astype(np.uint8)
    return Image.fromarray(codes).convert("RGB")


def box(corners):
    across, down = zip(*corners)
    return (int(min(across)), int(min(down)), int(max(across)) + 1, int(max(down)) + 1)


def naive(frame):
    return ImageOps.mirror(ImageOps.autocontrast(ImageOps.invert(frame.convert("L")), cutoff=0.5))


def main():
    scan, facts, sheet_png, naive_png = sys.argv[1:]
    with open(facts, encoding="utf-8") as file:
        sheet = json.load(file)["sheets"][0]
    picture = read(scan)
    picture.crop(box(sheet["outline"]["corners_px"])).save(sheet_png)
    naive(picture.crop(box(sheet["frame"]["corners_px"]))).save(naive_png)


if __name__ == "__main__":
    main()
