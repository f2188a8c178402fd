"""What the tests of milori print share."""
import os

import numpy as np
import tifffile
from PIL import Image

from program import Bench, milori

Image.MAX_IMAGE_PIXELS = None


def lightness(codes):
    """CIE L* (ISO/CIE 11664-4) of sRGB (IEC 61966-2-1) codes; greys, or the mean of channels."""
    full = 255 if codes.dtype == np.uint8 else 65535
    v = codes / full
    light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
    y = light @ (0.2126, 0.7152, 0.0722) if light.ndim == 3 else light
    return np.where(y > 0.008856, 116 * np.cbrt(y) - 16, 903.3 * y)


class PrintBench(Bench):
    def setUp(self):
        super().setUp()
        self.file = os.path.join(self.root, "print.tif")

    def print(self, *arguments, to=None):
        if "--print-dpi" not in arguments:
            arguments = (*arguments, "--print-dpi", "100")
        return self.check_well(milori("print", *arguments, "--replace", "-o", to or self.file))

    def page(self):
        return tifffile.imread(self.file)

    def picture(self):
        """The page's picture: what is not paper, and its left, top, width, height."""
        page = self.page()
        inked = (page < np.iinfo(page.dtype).max).any(axis=2)
        rows, columns = np.flatnonzero(inked.any(axis=1)), np.flatnonzero(inked.any(axis=0))
        top, left = rows[0], columns[0]
        return (page[top:rows[-1] + 1, left:columns[-1] + 1],
                (left, top, columns[-1] + 1 - left, rows[-1] + 1 - top))

    def positive(self, *arguments):
        self.check_well(milori("positive", *arguments, "-o", self.out))
        return os.path.join(self.out, os.path.splitext(os.path.basename(arguments[0]))[0] + ".tif")
