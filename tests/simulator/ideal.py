"""An ideal positive made from the truth, to prove the scoring itself."""
import numpy as np
from scipy import ndimage

from noise import stream


def ideal_positive(scene, facts, seed):
    """Luminance as milori would leave it: mirror undone, turned as it was
    scanned, with a curve, and a crop that is off by up to 0.3 per cent."""
    rng = stream(seed, "ideal")
    image = np.clip(scene.astype(float), 0, 1) ** 0.8 * 0.9 + 0.02
    image = np.rot90(image, facts["turn_deg"] // 90)
    if not facts["mirrored"]:
        image = image[:, ::-1]
    h, w = image.shape
    big = [int(1.3 * n) for n in (h, w)]
    off = rng.uniform(-0.003, 0.003, 4)
    y, x = np.meshgrid((np.arange(big[0]) + 0.5) / big[0], (np.arange(big[1]) + 0.5) / big[1], indexing="ij")
    y, x = y * (1 + off[2]) + off[0], x * (1 + off[3]) + off[1]
    return ndimage.map_coordinates(image, (y * h - 0.5, x * w - 0.5), order=3, mode="nearest")
