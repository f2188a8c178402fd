"""From the scanner's linear numbers to the codes in the file, and back."""
import numpy as np

import icc
import scanner as scanners
from lut_profile import lut_profile


class Encoding:
    """Device RGB -> codes. `linear` gives what a reader recovers, levels included."""

    def __init__(self, scanner, file):
        self.file, self.spec = file, scanner.spec
        self.low, self.high = np.zeros(3), np.ones(3)
        self.grey = file.space == "grey"
        if file.space == "LUT":
            self.profile, self.matrix = lut_profile(scanner), np.eye(3)
            self.code, self.back = lambda v: np.maximum(v, 0) ** (1 / 2.2), lambda v: np.maximum(v, 0) ** 2.2
        elif self.grey:
            self.profile, self.matrix = icc.write("grey"), np.eye(3)
            self.code, self.back = lambda v: np.maximum(v, 0) ** (1 / 2.2), lambda v: np.maximum(v, 0) ** 2.2
        else:
            space = icc.Space(file.space)
            self.profile = None if file.space == "none" else space.icc
            self.matrix = scanner.to_xyz @ np.linalg.inv(space.matrix).T
            self.code, self.back = space.encode, space.decode

    def linear(self, device):
        """Linear values (..., 3; grey repeats one) as the file would decode."""
        values = device @ self.matrix
        if self.grey:
            values = np.repeat(device @ np.array([[0.25], [0.65], [0.10]]), 3, axis=-1)
        code = (self.code(values) - self.low) / (self.high - self.low)
        return self.back(np.clip(code, 0, 1))

    def codes(self, device):
        """Codes 0..1 of a whole image; sets the automatic levels if they are on."""
        if self.grey:
            device = np.repeat(device @ np.array([[0.25], [0.65], [0.10]], np.float32), 3, axis=-1)
        code = self.code(device @ self.matrix.astype(np.float32))
        if self.spec.auto_levels:
            flat = code.reshape(-1, 3)
            self.low, self.high = np.percentile(flat, [0.5, 99.5], axis=0)
        code = scanners.sharpened((code - self.low) / (self.high - self.low), self.spec.sharpen)
        return code[..., 0] if self.grey else code
