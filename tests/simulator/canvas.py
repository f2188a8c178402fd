"""A canvas for drawn scenes: light in stops (0 = white sky, negative darker).

Units: y runs 0..1 from top to bottom, x runs 0..`wide` (the aspect ratio).
Shapes are painted over one another at twice the size and reduced in linear
light, so that edges are true mixtures.
"""
import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

from noise import fractal

OVER = 2  # pixels drawn for each kept


class Canvas:
    def __init__(self, rng, wide, height_px):
        self.rng, self.wide = rng, wide
        self.h = height_px * OVER
        self.w = int(round(wide * height_px)) * OVER
        self.image = Image.new("F", (self.w, self.h), 0.0)
        self.pen = ImageDraw.Draw(self.image)

    def px(self, points):
        return [(float(x) * self.h, float(y) * self.h) for x, y in points]

    def poly(self, points, stops):
        """Filled polygon of one tone."""
        self.pen.polygon(self.px(points), fill=float(stops))

    def line(self, points, width, stops):
        """Polyline; width in units."""
        w = max(1, int(round(width * self.h)))
        self.pen.line(self.px(points), fill=float(stops), width=w, joint="curve")

    def oval(self, x, y, rx, ry, stops):
        box = self.px([(x - rx, y - ry), (x + rx, y + ry)])
        self.pen.ellipse([*box[0], *box[1]], fill=float(stops))

    def grid(self):
        """Coordinate maps (x, y) of every pixel, units."""
        y, x = np.mgrid[0 : self.h, 0 : self.w].astype(np.float32)
        return (x + 0.5) / self.h, (y + 0.5) / self.h

    def noise(self, power=1.6, longest=0.3):
        """Fractal noise over the canvas, unit deviation."""
        return fractal(self.rng, (self.h, self.w), power, longest * self.h)

    def mask(self, points):
        m = Image.new("L", (self.w, self.h), 0)
        ImageDraw.Draw(m).polygon(self.px(points), fill=255)
        return np.asarray(m) > 0

    def fill(self, where, stops):
        """Paint an array (or number) of stops where the boolean map says."""
        a = np.array(self.image)
        a[where] = np.broadcast_to(stops, a.shape)[where]
        self._put(a)

    def add(self, stops):
        """Add an array of stops to everything so far (light and shade)."""
        self._put(np.array(self.image) + stops)

    def _put(self, array):
        self.image = Image.fromarray(np.ascontiguousarray(array, dtype=np.float32))
        self.pen = ImageDraw.Draw(self.image)

    def leaf(self, x, y, size, angle, stops, slim=0.45):
        """A pointed leaf with a lit and a shaded half."""
        t = np.linspace(0.0, 1.0, 7)
        half = slim * size * np.sin(np.pi * t) ** 0.8 * (1.0 - 0.35 * t)
        c, s = np.cos(angle), np.sin(angle)
        up = [(x + c * size * a - s * b, y + s * size * a + c * b) for a, b in zip(t, half)]
        dn = [(x + c * size * a + s * b, y + s * size * a - c * b) for a, b in zip(t, half)]
        self.poly(up + dn[::-1], stops)
        self.poly(dn + [(x, y)], stops - 0.5)

    def leaves(self, count, place, size, stops, spread=0.8, slim=0.45):
        """Many leaves; place(rng) gives (x, y, depth 0..1), near ones last."""
        spots = sorted((place(self.rng) for _ in range(count)), key=lambda p: p[2])
        for x, y, depth in spots:
            tone = stops + spread * (depth - 0.5) * 2 + 0.35 * self.rng.standard_normal()
            s = size * (0.6 + 0.7 * self.rng.random())
            self.leaf(x, y, s, self.rng.uniform(0, 2 * np.pi), tone, slim)

    def light(self):
        """The finished picture as linear light (height, width)."""
        lin = np.exp2(np.asarray(self.image, dtype=np.float32))
        h, w = self.h // OVER, self.w // OVER
        lin = lin[: h * OVER, : w * OVER].reshape(h, OVER, w, OVER).mean(axis=(1, 3))
        return ndimage.gaussian_filter(lin, 0.4)
