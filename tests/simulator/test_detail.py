#!/usr/bin/env python3
"""Detail kept: a slanted edge and a one per cent texture, positive against scan.

usage: test_detail.py --milori BINARY
The edge's response is found as ISO 12233 does (from memory): centroids of each
row's derivative, a line through them, a four times finer profile across it, its
derivative under a Hamming window, its spectrum. The goal is 0.9 of the MTF50 of
the scan's red density. The texture's size is that of the difference of two
positives of one sheet with and without it, so that the paper drops out, over
the edge's step; the goal is 0.9 to 1.1 of the same of the scan's red density in
every octave. Goals: issue "Truth". It fails below what has been reached, and
says where the goal is not.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile

import numpy as np
from scipy import fft, ndimage

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pictures  # noqa: E402
import recipes  # noqa: E402
import simulate  # noqa: E402
import tone_error  # noqa: E402
from icc import srgb_decode  # noqa: E402
from scenes_charts import CHARTS  # noqa: E402

SIZE, DPI, TILT = (56.0, 56.0), 300, 1.7
PER_MM = DPI / 25.4
OCTAVES = 5.9 * 2.0 ** np.arange(-5, 1)  # cycles per mm: bounds, up to Nyquist's
EDGE_GOAL, EDGE_REACHED = (0.9, 9), (0.9, 9)
TEXTURE_GOAL, TEXTURE_REACHED = (0.9, 1.1), (0.9, 1.1)


def judge(what, part, goal, reached):
    """Print one figure; whether it is no worse than what has been reached."""
    good = reached[0] <= part <= reached[1]
    word = "MISS" if not good else "ok  " if goal[0] <= part <= goal[1] else "goal missed:"
    print(f"{word} {what}: {part:.3f} of the scan's")
    return good


def chart(scene):
    """A recipe: quiet paper and scanner, so that only detail differs."""
    return recipes.one(501, "", dict(
        scene=scene, size=SIZE, turn=0, mirrored=True, tilt=TILT, frame_turn=0.0, skew=0.0, vignette=0.0,
        veil=0.0, coat_rough=0.02, coat_grain=0.01, tooth=0.004, relief=0.004, fibres=0),
        dict(shot=0.0008, read=0.0001, pattern=0.0), dpi=DPI, dust=0, hairs=0)


def made(milori, scene, name, folder):
    """(red density of the scan, log2 light of the positive), each the same square
    from the middle of the frame, the edge about upright."""
    spec = chart(scene)
    spec.name = name
    scan = simulate.simulate(spec, folder)
    with open(os.path.join(folder, name + ".truth.json"), encoding="utf-8") as f:
        frame = json.load(f)["sheets"][0]["frame_px"]
    palette, out = (os.path.join(folder, n) for n in ("palette.txt", "out"))
    with open(palette, "w", encoding="ascii") as f:
        f.write(tone_error.PALETTE)
    corners = " ".join(f"{x:.3f},{y:.3f}" for x, y in frame)
    subprocess.run([milori, "positive", "-q", scan, "-o", out, "--reading", "as-scanned", "--corners", corners,
                    "--palette", palette, *tone_error.CHOICES], check=True)
    red = -np.log10(np.maximum(srgb_decode(pictures.codes(scan)[..., 0]), 1e-4))
    light = np.log2(tone_error.light_of(pictures.luminance(os.path.join(out, name + ".tif"))))
    return square(red, np.mean(frame, axis=0), PER_MM), square(light, np.array(light.shape[::-1]) / 2, per_mm(light))


def per_mm(positive):
    return positive.shape[1] / SIZE[0]


def square(image, middle, scale):
    half = int(0.42 * SIZE[0] * scale)
    x, y = middle.astype(int)
    return image[y - half : y + half, x - half : x + half]


def mtf50(image, per_mm):
    """Frequency in cycles per mm where the response of a steep edge is half."""
    h, w = image.shape
    slope = np.abs(np.gradient(ndimage.gaussian_filter1d(image, 2, axis=1), axis=1))
    slope = np.where(slope > 0.3 * slope.max(axis=1, keepdims=True), slope, 0)
    centre = (slope * np.arange(w)).sum(axis=1) / slope.sum(axis=1)
    line = np.polyfit(np.arange(h), centre, 1)
    y, x = np.mgrid[0:h, 0:w]
    across = (x - np.polyval(line, y)) * np.cos(np.arctan(line[0]))
    near = np.abs(across) < 24
    index = np.floor((across[near] + 24) * 4).astype(int)
    profile = np.bincount(index, image[near]) / np.maximum(np.bincount(index), 1)
    spread = np.diff(profile)[2:-2]
    response = np.abs(fft.rfft(spread * np.hamming(len(spread)), 8192))
    response /= response[0]
    below = int(np.argmax(response < 0.5))
    part = (response[below - 1] - 0.5) / (response[below - 1] - response[below])
    return (below - 1 + part) / 8192 * 4 * per_mm


def octaves(image, per_mm):
    """RMS of each octave of a picture."""
    image = image - image.mean()
    h, w = image.shape
    window = np.hanning(h)[:, None] * np.hanning(w)
    power = np.abs(fft.fft2(image * window)) ** 2 / (window**2).sum() / (h * w)
    f = np.hypot(*np.meshgrid(fft.fftfreq(h) * per_mm, fft.fftfreq(w) * per_mm, indexing="ij"))
    return np.sqrt([power[(f >= a) & (f < b)].sum() for a, b in zip(OCTAVES, OCTAVES[1:])])


def halves(image):
    """The two sides of the edge."""
    w = image.shape[1]
    return image[:, : int(0.42 * w)], image[:, int(0.58 * w) :]


def texture_size(plain, textured, scale):
    """RMS of each octave of the texture over the edge's step, mean of both sides."""
    left, right = (float(np.median(side)) for side in halves(plain))
    sizes = [octaves(side, scale) for side in halves(textured - plain)]
    return np.mean(sizes, axis=0) / abs(right - left)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--milori", required=True)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        plain, textured = (made(args.milori, scene, f"chart-{i}", folder) for i, scene in enumerate(CHARTS))
    scales = (PER_MM, PER_MM * plain[1].shape[1] / plain[0].shape[1])
    own, kept = map(mtf50, plain, scales)
    good = judge(f"MTF50 of the edge, {kept:.2f} of {own:.2f} cycles/mm", kept / own, EDGE_GOAL, EDGE_REACHED)
    held, shown = map(texture_size, plain, textured, scales)
    for a, b, part in zip(OCTAVES, OCTAVES[1:], shown / held):
        good &= judge(f"texture of {a:.2f} to {b:.2f} cycles/mm", part, TEXTURE_GOAL, TEXTURE_REACHED)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
