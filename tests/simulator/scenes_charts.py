"""Test charts: never drawn by chance, made by name only."""
import numpy as np

import noise

SLANT_DEG = 5.0  # of the edge against the frame, as ISO 12233 has it
LIGHTS = (0.7, 1.0)  # left and right of it: so near that scan and positive are straight lines of it
TEXTURE = 0.01  # relative deviation, evenly spread over the octaves


def slanted_edge(seed, wide, height_px, textured):
    """An edge across the middle, and a one per cent texture on both its sides."""
    over = 4
    h, w = height_px, int(round(wide * height_px))
    x = (np.arange(w * over) + 0.5) / over - w / 2
    y = np.arange(h) + 0.5 - h / 2
    right = x[None, :] > y[:, None] * np.tan(np.radians(SLANT_DEG))
    share = right.reshape(h, w, over).mean(axis=2)
    light = LIGHTS[0] + (LIGHTS[1] - LIGHTS[0]) * share
    if textured:
        light = light * (1 + TEXTURE * noise.fractal(noise.stream(seed, "chart"), light.shape, 1.0))
    return light.astype(np.float32)


CHARTS = {"slanted edge": lambda *a: slanted_edge(*a, False),
          "slanted edge, textured": lambda *a: slanted_edge(*a, True)}
