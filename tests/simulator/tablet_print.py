"""Scans of a step tablet's blue print: the independent process drawn as a picture.

The colours of the blue: three densities in proportion (red most), scaled until the
luminance has the density that the process gives: sRGB, IEC 61966-2-1.
"""
import numpy as np
from scipy import ndimage

from process_model import Noise

# Luminance in the ICC's D50: the sRGB primaries' XYZ (IEC 61966-2-1) through the Bradford
# matrix's Y row. (Luminance in D65 differs by 0.02 in density where a blue is deep.)
SRGB = np.array([[.4124, .3576, .1805], [.2126, .7152, .0722], [.0193, .1192, .9505]])
LUMA = np.array([.0295424, .9904844, -.0170491]) @ SRGB
BLUE = np.array([1.5, 0.95, 0.45])
PAPER = np.array([0.05, 0.06, 0.12])  # a cleared sheet, cream


def colours(density, base):
    """Linear sRGB of a print whose visual density is density, base that of its paper."""
    paper = PAPER * base / -np.log10((10 ** -PAPER) @ LUMA)
    amounts = np.linspace(0, 4, 4001)
    visual = -np.log10(10 ** -(paper + amounts[:, None] * BLUE) @ LUMA)
    amount = np.interp(density, visual, amounts)
    return 10 ** -(paper + amount[..., None] * BLUE)


def encode(light):
    light = np.clip(light, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


class TabletPrint:
    """A picture of the print of count steps, apart in density, and its truth."""

    def __init__(self, process, rng, count=21, apart=0.15, dpi=300, turn=0.0, surround="blue",
                 lid="white", digits=True, step_mm=6.0, wide_mm=14.0, overshoot=0.5, noise=None):
        self.process, self.rng, self.noise = process, rng, noise or Noise()
        self.densities = 0.05 + apart * np.arange(count)
        self.px = 25.4 / dpi
        self.turn, self.surround, self.lid = turn, surround, lid
        self.count, self.step_mm, self.wide_mm, self.digits = count, step_mm, wide_mm, digits
        self.overshoot = overshoot  # log exposure beyond what clear film needs
        self.coat = process.coat(rng, self.noise)
        self.size = np.array([count * step_mm + 70, wide_mm + 70])
        self.picture = self._draw()

    def density_at(self, film):
        """Of the print under film of a density, at the mean coat of this sheet."""
        p = self.process
        h = p.clear + self.overshoot - np.asarray(film, float) + self.coat.speed
        middle = p._log_of(0.5)
        share = p._share(middle + (h - middle) / self.coat.contrast)
        return p.base + self.coat.base + (p.dmax - p.base) * share * self.coat.gain

    def truth(self):
        """Least and most density, and the scale between the ISO 6846 points, of this coat."""
        film = np.linspace(self.densities[0], self.densities[-1], 20001)
        d = self.density_at(film)  # falls
        least, most = d[-1], d[0]
        at = lambda density: np.interp(-density, -d, film)
        return least, most, at(least + 0.04) - at(0.9 * most)

    def _film(self, u, v):
        """Density of what lies on the coat at (u, v) mm from the row's start and middle line."""
        step = np.floor(u / self.step_mm)
        inside = (step >= 0) & (step < self.count) & (np.abs(v) < self.wide_mm / 2)
        film = np.where(inside, self.densities[np.clip(step, 0, self.count - 1).astype(int)],
                        9.0 if self.surround == "masked" else 0.05 if self.surround == "film"
                        else 0.0)
        if self.digits:  # a number's strokes in a corner of each step
            local = u - step * self.step_mm
            stroke = (np.abs(v + 0.36 * self.wide_mm) < 0.9) & (np.abs(local - 1.2) < 0.35)
            film = np.where(inside & stroke, film + 0.8, film)
        return film

    def _draw(self):
        a = np.radians(self.turn)
        c, s = abs(np.cos(a)), abs(np.sin(a))
        width, height = self.size @ [c, s] + 24, self.size @ [s, c] + 24
        nx, ny = int(width / self.px), int(height / self.px)
        y, x = np.mgrid[0:ny, 0:nx] * self.px
        x, y = x - width / 2, y - height / 2
        u, v = x * np.cos(a) + y * np.sin(a), -x * np.sin(a) + y * np.cos(a)
        half = self.size / 2
        film = self._film(u + self.count * self.step_mm / 2, v)
        density = self.density_at(film)
        uneven = 1 + 0.5 * (self.coat.brush[0] * u / half[0] + self.coat.brush[1] * v / half[1])
        streak = ndimage.gaussian_filter1d(self.rng.normal(0, 1, ny), 1.5 / self.px)
        uneven = uneven + 0.006 * (streak / streak.std())[:, None]
        base = self.process.base + self.coat.base
        density = base + (density - base) * uneven
        coated = (np.abs(u) < half[0] - 8 + 1.5 * np.sin(v)) & (np.abs(v) < half[1] - 8 + np.sin(u / 3))
        density = np.where(coated, density, base)
        light = colours(density, base)
        on_paper = (np.abs(u) < half[0]) & (np.abs(v) < half[1])
        light = np.where(on_paper[..., None], light, 0.92 if self.lid == "white" else 0.02)
        light = ndimage.gaussian_filter(light, (0.12 / self.px, 0.12 / self.px, 0))
        tooth = ndimage.gaussian_filter(self.rng.normal(0, 1, (ny, nx)), 0.08 / self.px)
        light = light * np.exp(0.02 * tooth / tooth.std())[..., None]
        light = light + self.rng.normal(0, 0.0015, light.shape)
        self.start = np.array([-self.count * self.step_mm / 2 * np.cos(a) + width / 2,
                               -self.count * self.step_mm / 2 * np.sin(a) + height / 2]) / self.px
        self.along = np.array([np.cos(a), np.sin(a)]) * self.step_mm / self.px
        return np.round(encode(light) * 65535).astype(np.uint16)

    def middle(self, step):
        """Of step 0, 1 .. in px."""
        return self.start + (step + 0.5) * self.along
