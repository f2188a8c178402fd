"""What simple ways would make of a scan, the frame's true place given."""
import numpy as np
from scipy import ndimage

from icc import Space

LONG = 512


class Straightened:
    """The frame of one sheet cut from the scan, in the scene's orientation."""

    def __init__(self, code, head, facts):
        spec = facts["spec"]
        w, h = spec["size"]
        n = [int(round(LONG * s / max(w, h))) for s in (h, w)]
        self.grid = self.places(facts, n, w, h)
        blur = 0.35 * max(w, h) / LONG * head["dpi"] / 25.4
        self.blur = blur if blur > 0.5 else 0.0
        self.code = code if code.ndim == 3 else np.repeat(code[..., None], 3, -1)
        self.space = head["space"]

    @staticmethod
    def places(facts, n, w, h):
        """Scan pixel coordinates (row, column) of the scene's pixels."""
        fy, fx = np.meshgrid((np.arange(n[0]) + 0.5) / n[0], (np.arange(n[1]) + 0.5) / n[1], indexing="ij")
        u, v = {0: (fx, fy), 90: (fy, 1 - fx), 180: (1 - fx, 1 - fy), 270: (1 - fy, fx)}[facts["turn_deg"]]
        u = 1 - u if facts["mirrored"] else u
        a, b, _, d = (np.array(p) for p in facts["frame_top_left_first"])
        at = a + u[..., None] * (b - a) + v[..., None] * (d - a)
        return at[..., 1] - 0.5, at[..., 0] - 0.5

    def sampled(self, image):
        soft = ndimage.gaussian_filter(image, self.blur) if self.blur else image
        return ndimage.map_coordinates(soft, self.grid, order=1, mode="nearest")

    def decode(self, code):
        if self.space in ("grey", "LUT"):
            return code**2.2
        return Space(self.space).decode(code)

    def luminance_inverted(self):
        return 1 - self.sampled(self.code @ np.array([0.2126, 0.7152, 0.0722]))

    def red_density(self):
        return self.sampled(-np.log10(np.maximum(self.decode(self.code[..., 0]), 1e-3)))
