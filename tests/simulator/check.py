#!/usr/bin/env python3
"""Check the simulator itself against published figures; exits 1 on a miss.

CIE 1931 functions: Debian's colord-data. Others: named beside each check.
"""
import os
import sys

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import fidelity  # noqa: E402
import icc  # noqa: E402
import scenes  # noqa: E402
import spectra  # noqa: E402
import tone_error  # noqa: E402
from bed import NODES, TOP, ColourTable  # noqa: E402
from scanner import Scanner  # noqa: E402
from specs import ScannerSpec, SheetSpec  # noqa: E402

MISSES = []


def check(what, value, wanted, tolerance):
    off = float(np.max(np.abs(np.asarray(value, float) - np.asarray(wanted, float))))
    print(f"{'ok  ' if off <= tolerance else 'MISS'} {what}: off by {off:.3g}, allowed {tolerance:g}")
    if not off <= tolerance:
        MISSES.append(what)


def kubelka_munk():
    """K/S pairs computed from Kubelka and Munk 1931; Saunderson 1942 pairs."""
    r = [0.02, 0.05, 0.10, 0.18, 0.20, 0.25, 0.50, 0.80, 0.90]
    check("K/S of reflectances", spectra.km_ratio(np.array(r)),
          [24.01, 9.025, 4.05, 1.86778, 1.6, 1.125, 0.25, 0.025, 0.0055556], 1e-5)
    check("reflectances of K/S", spectra.km_reflectance(np.array([0.01, 0.1, 1, 2, 10])),
          [0.868226, 0.641742, 0.267949, 0.171573, 0.045549], 1e-6)
    check("Saunderson k1 .04 k2 .6", spectra.surface(np.array([0.05, 0.2, 0.5, 0.9]), 0.04, 0.6, 1.0),
          [0.059794, 0.127273, 0.314286, 0.791304], 1e-6)


def observer():
    """Against the CIE 1931 table in colord-data."""
    path = "/usr/share/colord/cmf/CIE1931-2deg-XYZ.cmf"
    if not os.path.exists(path):
        print(f"not checked: the CIE 1931 table ({path}: install colord-data)")
        return
    table = cmf_table(path)
    check("CIE 1931 functions (peak 1.78)", spectra.colour_matching(), table, 0.03)


def cmf_table(path):
    """(3, wavelengths) from a .cmf file (CGATS with SPEC_nnn fields)."""
    words = open(path, encoding="utf-8").read().split()
    fields = words[words.index("BEGIN_DATA_FORMAT") + 1 : words.index("END_DATA_FORMAT")]
    data = words[words.index("BEGIN_DATA") + 1 : words.index("END_DATA")]
    rows = np.array(data).reshape(-1, len(fields))
    nm = [(float(f[5:]), i) for i, f in enumerate(fields) if f.startswith("SPEC_")]
    at, cols = [n for n, _ in nm], [i for _, i in nm]
    return np.stack([np.interp(spectra.WL, at, row[cols].astype(float)) for row in rows])


def lightness():
    """CIE 1976 L* (ISO/CIE 11664-4)."""
    y = np.array([0.90, 0.50, 0.18, 0.10, 0.05, 0.01])[:, None]
    check("L*", spectra.lab(y * spectra.D50)[:, 0], [95.997, 76.069, 49.496, 37.842, 26.735, 8.991], 6e-4)
    check("sRGB (IEC 61966-2-1)", icc.srgb_decode(np.array([10, 11, 64, 128, 188, 254]) / 255),
          [0.0030353, 0.0033465, 0.0512695, 0.2158605, 0.5028865, 0.9911021], 1e-7)


def plausible():
    """Colours that REFERENCES quotes: thin film of Prussian blue, hue 231.8
    (Mortimer & Reynolds 2005); on paper by scattering it may lie bluer."""
    colour = spectra.SheetColour(SheetSpec())
    dye = spectra.lab(spectra.xyz(colour.reflectance(0.5, 0, 0)))
    hue = np.degrees(np.arctan2(dye[2], dye[1])) % 360
    check("hue of the dye on paper", hue, 231.8, 20)
    bare = spectra.lab(spectra.xyz(colour.reflectance(0, 0.85, 0.06)))
    check("hue of the coated sheet is yellow", np.degrees(np.arctan2(bare[2], bare[1])) % 360, 95, 12)


def table_error():
    """The colour table against the full spectra at random amounts."""
    rng = np.random.default_rng(1)
    for kind in ("white LED", "CCFL", "RGB LED"):
        table = ColourTable(SheetSpec(), Scanner(ScannerSpec(kind=kind)))
        amounts = [t * rng.random(4000) ** 2 for t in TOP]
        off = table.look_up(*amounts) - table.scanner.see(table.colour.reflectance(*amounts))
        check(f"colour table {NODES}, {kind}, RMS", np.sqrt((off**2).mean()), 0, 2e-4)
        check("  worst on stained paper", np.abs(off[amounts[2] > 0.02]).max(), 0, 2e-3)
        check("  worst", np.abs(off).max(), 0, 4e-3)


def scoring():
    """Pool adjacent violators by hand, and a known misplacement recovered."""
    x, t = np.arange(6.0), np.array([1.0, 3, 2, 4, 3, 5])
    check("non-decreasing fit", fidelity.rising_fit(x, t), [1, 2.5, 2.5, 3.5, 3.5, 5], 1e-12)
    scene = scenes.make("water butt", 5, 1.0, 512).astype(float)
    target = fidelity.Target(scene, np.zeros(scene.shape, bool))
    warp = fidelity.register(scene[2:-2, 2:-2], target.t, target.use)
    check("registration finds a crop of 2 pixels in 512", warp[2:4], 4 / 508, 4e-4)
    found = fidelity.decibels(target.t[target.use] ** 2, target.t[target.use])
    check("a rising map costs nothing (dB, capped at 120)", min(found, 120.0), 120.0, 1e-9)


def luminance_of(light):
    """Luminance of a positive with tone_error's known tone: logistic, then L*."""
    t = 100 / (1 + np.exp(-tone_error.STEEP * np.log2(light)))
    return np.where(t > 8, ((t + 16) / 116) ** 3, t * 27 / 24389)


def tones():
    """Four stops in even steps: their middle 80 % has standard deviation
    3.2 / sqrt(12), so light to the power 0.8 is off by a fifth of that."""
    ramp = np.repeat(2 ** np.linspace(-4, 0, 512)[None, :], 512, 0)
    use, still = np.ones((fidelity.SIDE, fidelity.SIDE), bool), np.zeros(5)
    light = tone_error.light_of(luminance_of(0.3 * ramp))
    check("tone undone, one factor off", tone_error.tone_error(light, ramp, still, use), 0, 1e-6)
    light = tone_error.light_of(luminance_of(0.3 * ramp**0.8))
    check("tone error of a power of 0.8", tone_error.tone_error(light, ramp, still, use), 0.64 / np.sqrt(12), 0.003)


if __name__ == "__main__":
    for part in (kubelka_munk, observer, lightness, plausible, table_error, scoring, tones):
        part()
    sys.exit(1 if MISSES else 0)
