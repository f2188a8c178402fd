"""What the camera did: exposure of the sheet over time, in scene orientation.

Exposure 1 is a full sky at 15 minutes in full sun.
"""
import numpy as np
from scipy import ndimage

import scenes
from noise import stream


class Exposure:
    """`image`: exposure by the scene (blur, corners, movement, sun included);
    `extra`: veil and leak, which are no picture; `sun`: where the sun went."""

    def __init__(self, spec, px_per_mm):
        w, h = spec.size
        rows = int(np.clip(h * px_per_mm, 420, 1500))
        wide = w / h
        light = scenes.make(spec.scene, spec.seed, wide, rows, spec.range_stops)
        self.px_per_mm = light.shape[0] / h
        self.shape = light.shape
        rng = stream(spec.seed, "camera")
        light = passer_by(light, spec.moving, rng)
        light = corners_darker(light, spec.vignette)
        light = ndimage.gaussian_filter(light, spec.lens_blur * self.px_per_mm)
        if spec.clearing:
            light *= no_light(light.shape, rng)
        dose = spec.minutes / 15.0 * spec.light
        self.sun = np.zeros(light.shape, np.float32)
        if spec.sun:
            self.sun = sun_track(light.shape, self.px_per_mm, rng) * spec.sun
        glow = ndimage.gaussian_filter(self.sun, 2.5 * self.px_per_mm) * 0.01
        self.image = (light * dose + self.sun + glow).astype(np.float32)
        self.extra = np.full(light.shape, spec.veil * self.image.mean(), np.float32)
        if spec.leak:
            self.extra += spec.leak * leak(light.shape, rng)


def passer_by(light, part, rng):
    """Someone stands in the picture for a part of the time: two soft figures."""
    if not part:
        return light
    h, w = light.shape
    y, x = np.mgrid[0:h, 0:w] / h
    out = light.copy()
    for k in range(2):
        cx = (0.25 + 0.45 * rng.random()) * w / h
        body = (np.abs(x - cx) < 0.055) & (y > 0.5) & (y < 0.93)
        head = np.hypot(x - cx, y - 0.46) < 0.035
        out = np.where(body | head, (1 - part / 2) * out + part / 2 * (0.03 + 0.2 * k), out)
    return out.astype(np.float32)


def corners_darker(light, stops):
    h, w = light.shape
    y, x = np.mgrid[0:h, 0:w]
    r2 = ((x - w / 2) ** 2 + (y - h / 2) ** 2) / ((w / 2) ** 2 + (h / 2) ** 2)
    return light * np.exp2(-stops * r2).astype(np.float32)


def no_light(shape, rng):
    """A slanting border beyond which nothing arrived."""
    h, w = shape
    y, x = np.mgrid[0:h, 0:w]
    edge = w * 0.5 + (y - h / 2) * rng.uniform(-0.2, 0.2)
    return 0.004 + 0.996 / (1 + np.exp((edge - x) / (0.01 * w)))


def sun_track(shape, px_per_mm, rng):
    """An arc of some hours across the sky, broken by clouds; greatest value 1."""
    h, w = shape
    t = np.linspace(0, 1, 600)
    x = w * (0.12 + 0.55 * t)
    y = h * (0.32 - 0.22 * np.sin(0.4 + 1.7 * t) + 0.1 * rng.random())
    here = np.clip(0.7 + ndimage.gaussian_filter1d(rng.standard_normal(600), 12) * 3, 0, 1)
    track = np.zeros(shape, np.float32)
    np.add.at(track, (np.clip(y, 0, h - 1).astype(int), np.clip(x, 0, w - 1).astype(int)), here)
    track = ndimage.gaussian_filter(track, 0.28 * px_per_mm)
    return track / np.percentile(track[track > 0.02 * track.max()], 90)


def leak(shape, rng):
    """Light that came in beside the gate: brightest at one side, a soft wedge."""
    h, w = shape
    y, x = np.mgrid[0:h, 0:w]
    at = rng.uniform(0.2, 0.8)
    wedge = np.exp(-x / (0.16 * w)) * np.exp(-(((y / h - at) / 0.22) ** 2))
    return wedge.astype(np.float32)
