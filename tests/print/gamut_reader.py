"""Checks the gamut's report with programs and data that are not milori's.

gamut_reader.py JOB...: JSON files of test_gamut.c. What is asked is worked out here, by ICC's media
relative XYZ and black point compensation as a line in XYZ (ISO 18619, from memory); what is given
is argyll's reading of the profile (icclu); distances are scikit-image's CIEDE2000. Where the gamut
ends is told by FOGRA's patches alone: those without yellow, between which SciPy interpolates.
"""

import json
import subprocess
import sys

import numpy as np
from scipy.interpolate import LinearNDInterpolator
from skimage.color import deltaE_ciede2000

D50 = np.array([0.9642, 1, 0.8249])
ABSOLUTE = 3


def to_xyz(lab):
    y = (lab[..., 0] + 16) / 116
    f = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], -1)
    return np.where(f > 6 / 29, f**3, (f - 4 / 29) * 3 * (6 / 29) ** 2) * D50


def to_lab(xyz):
    t = xyz / D50
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / 3 / (6 / 29) ** 2 + 4 / 29)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1
    )


def patches(path):
    rows = [line.split() for line in open(path) if line[:1].isdigit()]
    rows = np.array([[float(word) for word in row[1:]] for row in rows if len(row) == 11])
    return rows[:, :4], rows[:, 7:10]  # inks in per cent, CIELAB absolute


def given_by_argyll(job, codes):
    lines = "".join("%.7f %.7f %.7f %.7f\n" % tuple(row) for row in codes / 65535)
    intent = "-ia" if job["intent"] == ABSOLUTE else "-ir"
    done = subprocess.run(
        ["icclu", "-v0", "-ff", intent, "-pl", job["profile"]],
        input=lines, capture_output=True, text=True, check=True,
    )
    return np.array([[float(w) for w in line.split()[:3]] for line in done.stdout.splitlines()])


def check_distances(job, wish, asked, codes, pixels):
    L = wish[:, 0]
    outside = np.zeros(len(L), bool)
    for low, high in job["ranges"]:
        outside |= (L >= low) & (L <= high)
    assert job["outside"] == pixels[outside].sum(), "pixels outside"
    away = deltaE_ciede2000(asked, given_by_argyll(job, codes))
    compare("all pixels", job["all"], away, pixels)
    if job["outside"]:
        far = [job["mean"], job["most_95"], job["worst"]]
        compare("those outside", far, away[outside], pixels[outside])


def compare(what, ours, away, weights):
    order = np.argsort(away)
    reached = np.cumsum(weights[order]) >= 0.95 * weights.sum()
    here = [
        (away * weights).sum() / weights.sum(),
        away[order][reached][0],
        away[weights > 0].max(),
    ]
    print(what, "mean, 95 %, worst:", *("%.3f (here %.3f)" % pair for pair in zip(ours, here)))
    # argyll and lcms2 interpolate a coarse table of four dimensions in two ways.
    assert (np.abs(np.subtract(ours, here)) < (0.3, 0.8, 0.8)).all(), what


def check_range(job, wish, asked):
    """Where no mix of cyan, magenta and black comes within CIEDE2000 1."""
    inks, lab = patches(job["ti3"])
    if job["intent"] != ABSOLUTE:
        lab = to_lab(to_xyz(lab) / to_xyz(lab[0]) * D50)
    blue = inks[:, 2] == 0
    mixes = LinearNDInterpolator(inks[blue][:, [0, 1, 3]], lab[blue])
    steps = np.linspace(0, 100, 26)
    cloud = mixes(np.stack(np.meshgrid(steps, steps, steps), -1).reshape(-1, 3))
    dark = np.arange(0, 512, 8)
    nearest = np.array([deltaE_ciede2000(a[None], cloud).min() for a in asked[dark]])
    L = wish[dark, 0]
    ours = np.zeros(len(L), bool)
    for low, high in job["ranges"]:
        ours |= (L >= low) & (L <= high)
    ends = [L[out].max() if out.any() else L[0] for out in (nearest >= 1, ours)]
    print("the darks leave the gamut up to L* %.1f by the patches, %.1f by us" % tuple(ends))
    # Straight lines between patches, and a profile fitted to them, differ by less than this.
    assert ours[nearest >= 1.6].all() and not ours[nearest <= 0.4].any(), "range"
    # The deepest black of the patches without colour to speak of.
    grey = np.hypot(lab[:, 1], lab[:, 2]) < 4
    darkest = lab[grey, 0].min()
    print("darkest grey patch L* %.1f, black fitted to L* %.1f" % (darkest, job["black_L"]))
    assert job["intent"] == ABSOLUTE or abs(darkest - job["black_L"]) < 1.5, "black"


def check(path):
    job = json.load(open(path))
    places = np.array(job["places"])
    wish, codes, pixels = places[:, :3], places[:, 3:7], places[:, 7].astype(int)
    asked = wish
    if job["intent"] != ABSOLUTE:
        black = to_xyz(np.array([job["black_L"], 0, 0]))
        asked = to_lab(black + to_xyz(wish) * (1 - black / D50))
    assert job["pixels"] == pixels.sum()
    check_distances(job, wish, asked, codes, pixels)
    check_range(job, wish, asked)


for name in sys.argv[1:]:
    try:
        check(name)
    except AssertionError as error:
        sys.exit("%s: %s" % (name, error))
