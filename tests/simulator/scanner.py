"""The flatbed: lamp, filters, calibration, optics and noise.

Light leaves a surface as a spectrum; the scanner sees three numbers. They are
turned into a colour space by one matrix, fitted to a set of plausible
surfaces as a maker would do, so that colours come out nearly, not exactly.
"""
import numpy as np
from scipy import ndimage

import spectra
from noise import stream
from spectra import WL, gauss


def _lamp(kind):
    if kind == "white LED":
        return 1.5 * gauss(WL, 451, 11) + gauss(WL, 560, 52) + 0.35 * gauss(WL, 625, 45)
    if kind == "CCFL":
        lines = ((436, 5, 1.0), (488, 8, 0.5), (545, 5, 2.2), (586, 9, 0.6), (612, 6, 2.4), (650, 12, 0.25))
        return 0.05 + sum(a * gauss(WL, c, s) for c, s, a in lines)
    return np.ones_like(WL)  # RGB LED: the colours are in the lamps


def _filters(kind):
    if kind == "RGB LED":
        return np.stack([gauss(WL, 634, 10), gauss(WL, 522, 16), gauss(WL, 463, 12)])
    red = 1 / (1 + np.exp(-(WL - 592) / 8)) + 0.04 * gauss(WL, 440, 30)
    green = gauss(WL, 535, 36) + 0.05 * gauss(WL, 460, 25)
    blue = gauss(WL, 455, 30) + 0.03 * gauss(WL, 540, 40)
    cut = 1 / (1 + np.exp((WL - (682 if kind == "CCFL" else 695)) / 6))
    return np.stack([red, green, blue]) * cut


def surfaces(count=300):
    """Smooth reflectances for the maker's calibration and the LUT profile."""
    rng = stream(7, "calibration chart")
    nodes = np.linspace(WL[0], WL[-1], 9)
    rows = []
    for _ in range(count):
        level, swing = rng.normal(0, 1.6), rng.uniform(0.2, 2.4)
        curve = np.interp(WL, nodes, level + swing * rng.standard_normal(9))
        rows.append(0.02 + 0.9 / (1 + np.exp(-ndimage.gaussian_filter1d(curve, 3))))
    greys = np.linspace(0.01, 0.98, 40)[:, None] * np.ones_like(WL)
    return np.concatenate([rows, greys])


class Scanner:
    def __init__(self, spec):
        self.spec = spec
        sight = _lamp(spec.kind) * _filters(spec.kind) * (0.4 + 0.6 * np.clip((WL - 380) / 140, 0, 1))
        self.sight = (sight / sight.sum(axis=1, keepdims=True)).T / spec.white
        chart = surfaces()
        seen, real = chart @ self.sight, spectra.xyz(chart) / spec.white
        weight = 1 / (0.05 + real[:, 1:2])
        self.to_xyz = np.linalg.lstsq(seen * weight, real * weight, rcond=None)[0]

    def see(self, reflectance):
        """Spectra (..., wavelengths) -> device RGB, 1 = the scanner's white."""
        return reflectance @ self.sight

    def blur(self, image, dpi):
        """Optics and veiling glare on device RGB (h, w, 3)."""
        s = self.spec
        sigma = np.hypot(s.psf, s.optics * dpi / 25.4)
        step = max(1, int(dpi / 25.4))
        out = np.empty_like(image)
        for c in range(3):
            far = ndimage.zoom(image[::step, ::step, c], 1, order=1)
            far = ndimage.gaussian_filter(far, (4.0, 2.5), mode="nearest")
            grid = np.meshgrid(np.arange(image.shape[0]) / step, np.arange(image.shape[1]) / step, indexing="ij")
            far = ndimage.map_coordinates(far, grid, order=1, mode="nearest")
            near = ndimage.gaussian_filter(image[..., c], sigma, mode="nearest")
            out[..., c] = (1 - s.flare) * near + s.flare * far
        return out

    def noise(self, image, dpi, seed):
        """Shot, read and fixed pattern noise, uneven lamp; device RGB."""
        s, rng = self.spec, stream(seed, "scanner")
        grow = (dpi / 300.0) ** 0.5
        deviation = np.sqrt(s.shot**2 * np.maximum(image, 0) + s.read**2) * grow
        image += deviation * rng.standard_normal(image.shape, dtype=np.float32)
        columns = 1 + s.pattern * rng.standard_normal((1, image.shape[1], 3))
        x = np.linspace(-1, 1, image.shape[1])[None, :, None]
        return (image * columns * (1 - s.lamp_falloff * x * x)).astype(np.float32)


def sharpened(code, amount):
    """Unsharp masking as scanner programs do it, on codes."""
    if not amount:
        return code
    soft = ndimage.gaussian_filter(code, (1.2, 1.2, 0))
    return code + amount * (code - soft)
