"""Random fields in millimetres, so that a sheet looks alike at any resolution."""
import hashlib

import numpy as np
from scipy import fft, ndimage


def stream(seed, label):
    """An independent generator for one named part of one seed."""
    digest = hashlib.sha256(f"{seed}/{label}".encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:8], "little"))


def _shaped(rng, shape, gain):
    """White noise times gain(|frequency| in cycles per pixel), unit deviation."""
    rows, cols = (fft.next_fast_len(n, real=True) for n in shape)
    white = rng.standard_normal((rows, cols), dtype=np.float32)
    spectrum = fft.rfft2(white)
    fy = np.abs(fft.fftfreq(rows)).astype(np.float32)[:, None]
    fx = np.abs(fft.rfftfreq(cols)).astype(np.float32)[None, :]
    weight = gain(np.sqrt(fy * fy + fx * fx))
    weight[0, 0] = 0.0
    field = fft.irfft2(spectrum * weight, s=(rows, cols))[: shape[0], : shape[1]]
    return (field / max(field.std(), 1e-12)).astype(np.float32)


def fractal(rng, shape, power=2.0, longest=None):
    """1/f^power noise, flat for periods longer than `longest` pixels."""
    low = 1.0 / (longest or max(shape))

    def gain(f):
        return (f * f + low * low) ** (-power / 2.0)

    return _shaped(rng, shape, gain)


def band(rng, shape, px_per_mm, fine_mm, coarse_mm):
    """Noise between two scales (Gaussian radii, mm); unit deviation."""
    fine, coarse = fine_mm * px_per_mm, coarse_mm * px_per_mm
    tau = 2.0 * np.pi**2

    def gain(f):
        f2 = f * f
        return np.exp(-tau * fine**2 * f2) - 0.98 * np.exp(-tau * coarse**2 * f2)

    return _shaped(rng, shape, gain)


def smooth(rng, shape, px_per_mm, scale_mm):
    """Slow blotches of the given Gaussian radius, made small and enlarged."""
    step = max(1.0, scale_mm * px_per_mm / 6.0)
    small = [int(np.ceil(n / step)) + 8 for n in shape]
    field = ndimage.gaussian_filter(rng.standard_normal(small), scale_mm * px_per_mm / step)
    field = (field - field.mean()) / max(field.std(), 1e-12)
    yy = (np.arange(shape[0]) / step + 2.0)[:, None]
    xx = (np.arange(shape[1]) / step + 2.0)[None, :]
    grid = np.broadcast_arrays(yy, xx)
    return ndimage.map_coordinates(field, grid, order=2, mode="nearest").astype(np.float32)


def streaks(rng, along, across, long_mm, wide_mm):
    """Noise drawn out along one direction: unit deviation.

    `along` and `across` are coordinate maps in mm.
    """
    du, dv = long_mm / 4.0, wide_mm / 2.5
    u0, v0 = along.min(), across.min()
    size = (int((across.max() - v0) / dv) + 8, int((along.max() - u0) / du) + 8)
    field = ndimage.gaussian_filter(rng.standard_normal(size), (2.5, 4.0))
    field = (field - field.mean()) / max(field.std(), 1e-12)
    grid = ((across - v0) / dv + 3.0, (along - u0) / du + 3.0)
    return ndimage.map_coordinates(field, grid, order=1, mode="nearest").astype(np.float32)
