"""Scenes: linear light as the paper would see it, white = 1.

Drawn ones come from scenes_drawn; photographic ones from the pictures that
Debian's python3-skimage carries (their licences are stated in its data
folder), decoded from sRGB and given a range of stops.
"""
import os

import numpy as np
import skimage
from PIL import Image

from canvas import Canvas
from noise import stream
from scenes_charts import CHARTS
from scenes_drawn import DRAWN

PHOTOS = {"camera": "camera.png", "coins": "coins.png", "astronaut": "astronaut.png",
          "brick": "brick.png", "grass": "grass.png", "gravel": "gravel.png",
          "rocket": "rocket.jpg", "coffee": "coffee.png", "chelsea": "chelsea.png",
          "motorcycle": "motorcycle_left.png", "moon": "moon.png"}
NAMES = list(DRAWN) + list(PHOTOS)


def photograph(name, wide, range_stops, tint):
    """A real photograph, cropped to the aspect; blue counts most in colour."""
    path = os.path.join(os.path.dirname(skimage.__file__), "data", PHOTOS[name])
    code = np.asarray(Image.open(path), dtype=np.float64) / 255.0
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    if linear.ndim == 3:
        linear = linear[..., :3] @ np.array([0.05, 0.25, 0.7] if tint else [0.2, 0.7, 0.1])
    h, w = linear.shape
    tall = min(h, w / wide)
    across = tall * wide
    top, left = int((h - tall) / 2), int((w - across) / 2)
    linear = linear[top : top + int(tall), left : left + int(across)]
    stops = np.log2(linear + 2e-3)
    low, high = np.percentile(stops, [1, 99])
    return np.exp2((stops - high) * range_stops / (high - low)).astype(np.float32)


def make(name, seed, wide, height_px, range_stops=6.0):
    """Light of a scene of aspect `wide` (width / height), about white = 1."""
    if name in DRAWN:
        canvas = Canvas(stream(seed, "scene"), wide, height_px)
        DRAWN[name](canvas)
        light = canvas.light()
    elif name in PHOTOS:
        light = photograph(name, wide, range_stops, True)
    elif name in CHARTS:
        return CHARTS[name](seed, wide, height_px)
    else:
        raise ValueError(f"no scene called {name}: one of {', '.join(NAMES)}")
    return light / np.percentile(light, 99.0)
