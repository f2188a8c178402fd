"""Fidelity of a picture to its scene: what issue "Truth" calls the score.

Both are averaged to 256 x 256 over the frame, a rim of 8 is dropped, the sun
and what lies outside a round frame are left out. t = L* of the scene, the
best non-decreasing map of the picture's value x to t is fitted, and fidelity
is 10 log10(var t / mean squared residual) in dB.
"""
import numpy as np
from scipy import ndimage

SIDE, RIM, SUB = 256, 8, 3


def lightness(y):
    """CIE 1976 L* of Y (white = 1), clipped to 0..1 before."""
    y = np.clip(y, 0, 1)
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


def reduced(image, most=900):
    """Average whole blocks so that no side exceeds `most` pixels by much."""
    step = [max(1, n // most) for n in image.shape]
    h, w = (n // s * s for n, s in zip(image.shape, step))
    blocks = image[:h, :w].reshape(h // step[0], step[0], w // step[1], step[1])
    return blocks.mean(axis=(1, 3))


def averaged(image, warp=(0, 0, 0, 0, 0)):
    """`image` averaged over SIDE x SIDE cells of its own extent.

    warp: shift down, shift right, growth down, growth right (all as parts of
    the extent) and turn in radians; it says where in the image a cell looks.
    """
    f = (np.arange(SIDE * SUB) + 0.5) / (SIDE * SUB) - 0.5
    y, x = np.meshgrid(f, f, indexing="ij")
    h, w = image.shape
    dy, dx, gy, gx, turn = warp
    yy = y * (1 + gy) + dy + turn * x * w / h
    xx = x * (1 + gx) + dx - turn * y * h / w
    grid = ((yy + 0.5) * h - 0.5, (xx + 0.5) * w - 0.5)
    sampled = ndimage.map_coordinates(image, grid, order=1, mode="nearest")
    return sampled.reshape(SIDE, SUB, SIDE, SUB).mean(axis=(1, 3))


def smooth_map(x, t):
    """A quick monotone-free map x -> t: mean t in 64 groups of equal count."""
    order = np.argsort(x, kind="stable")
    groups = np.array_split(order, 64)
    at = np.array([x[g].mean() for g in groups])
    at += np.arange(64) * 1e-9 * (1 + abs(at).max())
    return at, np.array([t[g].mean() for g in groups])


def register(image, target, use, rounds=8):
    """The warp of `image` that best explains `target` (least squares)."""
    warp = np.zeros(5)
    steps = np.array([0.002, 0.002, 0.004, 0.004, 0.004])
    for _ in range(rounds):
        here = averaged(image, warp)
        at, to = smooth_map(here[use], target[use])
        now = np.interp(here, at, to)
        columns = []
        for k in range(5):
            moved = warp.copy()
            moved[k] += steps[k]
            columns.append(((np.interp(averaged(image, moved), at, to) - now) / steps[k])[use])
        a = np.stack(columns, 1)
        change = np.linalg.lstsq(a, (target - now)[use], rcond=None)[0]
        warp += np.clip(change, -0.01, 0.01)
        if np.all(np.abs(change) < 5e-5):
            break
    return warp if np.all(np.abs(warp) < 0.08) else np.zeros(5)


def rising_fit(x, t):
    """Best non-decreasing map of x to t (pool adjacent violators), at x.

    Equal x are pooled first.
    """
    value, index = np.unique(x, return_inverse=True)
    weight = np.bincount(index).astype(float)
    mean = np.bincount(index, t) / weight
    heights, sizes, counts = [], [], []
    for m, w in zip(mean.tolist(), weight.tolist()):
        n = 1
        while heights and heights[-1] >= m:
            m = (m * w + heights[-1] * sizes[-1]) / (w + sizes[-1])
            w += sizes.pop()
            n += counts.pop()
            heights.pop()
        heights.append(m)
        sizes.append(w)
        counts.append(n)
    return np.repeat(heights, counts)[index]


def decibels(x, t):
    residual = t - rising_fit(x, t)
    return float(10 * np.log10(t.var() / max((residual**2).mean(), 1e-12)))


class Target:
    """The scene of one sheet as the score sees it."""

    def __init__(self, scene, left_out):
        self.t = lightness(averaged(scene))
        use = averaged(left_out.astype(float)) < 0.001
        use[:RIM], use[-RIM:], use[:, :RIM], use[:, -RIM:] = False, False, False, False
        self.use = use

    def score(self, image, lookup=None):
        """(dB, warp) of a picture (h, w) in the scene's orientation; larger
        values must mean more light. `lookup` is applied after averaging."""
        image = reduced(np.asarray(image, float))
        warp = register(image, self.t, self.use)
        x = averaged(image, warp)
        x = lookup(x) if lookup else x
        return decibels(x[self.use], self.t[self.use]), warp
