"""One sheet on the glass: maps of amounts, texture and truth, pixel by pixel."""
import numpy as np
from scipy import ndimage
from scipy.special import erf

import chemistry
import noise
from camera import Exposure
from noise import stream

REVERSED = 0.35  # of the reversal exposure: from here on the sun mask counts


class Sheet:
    """Maps over a window of the bed (slices `rows`, `cols`)."""

    def __init__(self, spec, layout, window, px_per_mm):
        self.spec, self.layout, self.px_per_mm = spec, layout, px_per_mm
        self.rows, self.cols = window
        y, x = np.mgrid[self.rows, self.cols].astype(np.float32)
        x, y = (x + 0.5) / px_per_mm, (y + 0.5) / px_per_mm
        self.edge, self.away = layout.inside_outline(x, y)
        self.edge += spec.cut_rough * noise.band(stream(spec.seed, "cut"), x.shape, px_per_mm, 0.1, 1.0)
        self.cover = np.clip(0.5 + self.edge * px_per_mm, 0, 1)
        self.u, self.v = layout.frame_coordinates(x, y)
        self.expose()
        self.coat = chemistry.coat_map(spec, stream(spec.seed, "coat"), self.u, self.v,
                                       self.edge, px_per_mm)
        self.fog = chemistry.fog_map(spec, stream(spec.seed, "fog"), self.edge, px_per_mm)
        self.stain = chemistry.stain_map(spec, stream(spec.seed, "stain"), self.edge, px_per_mm)
        self.stain *= 0.35 + 0.65 * np.clip(self.coat, 0, 1)
        self.dye, self.sens, self.picture, self.fog_dye = chemistry.amounts(
            spec, self.exposure, self.coat, self.fog)
        self.texture = self.paper_texture()

    def expose(self):
        """Bring the camera's exposure onto the sheet through the gate."""
        spec, ppm = self.spec, self.px_per_mm
        self.light = Exposure(spec, ppm)
        su, sv = self.layout.upright(self.u, self.v)
        grid = (sv * self.light.px_per_mm - 0.5, su * self.light.px_per_mm - 0.5)
        taken = [ndimage.map_coordinates(m, grid, order=1, mode="nearest")
                 for m in (self.light.image, self.light.extra)]
        gate = self.layout.inside_frame(self.u, self.v)
        if spec.rough:
            gate = gate + spec.rough * noise.band(stream(spec.seed, "gate"), gate.shape, ppm, 0.08, 0.8)
        self.gate = gate
        self.opening = (0.5 + 0.5 * erf(gate / (spec.penumbra * 1.4142))).astype(np.float32)
        self.exposure = (taken[0] + taken[1]) * self.opening

    def paper_texture(self):
        """Tooth, relief lit by the lamp along the scan, and fibres: a factor."""
        spec, shape, ppm = self.spec, self.u.shape, self.px_per_mm
        rng = stream(spec.seed, "paper")
        height = 0.8 * noise.band(rng, shape, ppm, 0.05, 0.3) + 0.6 * noise.band(rng, shape, ppm, 0.2, 1.2)
        slope = np.gradient(height, axis=0)
        slope /= max(slope.std(), 1e-9)
        fine = noise.band(rng, shape, ppm, 0.03, 0.25)
        factor = 1.0 + spec.tooth * (0.7 * fine + 0.7 * height) + spec.relief * slope
        return (factor * fibre_map(spec, rng, shape, ppm)).astype(np.float32)


def fibre_map(spec, rng, shape, ppm):
    """Thin curved fibres, a few per cent lighter or darker."""
    from PIL import Image, ImageDraw

    image = Image.new("F", (shape[1], shape[0]), 1.0)
    pen = ImageDraw.Draw(image)
    for _ in range(spec.fibres):
        p = rng.random(2) * [shape[1], shape[0]]
        a, bend = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.35)
        length = rng.uniform(0.5, 2.5) * ppm / 8
        path = [tuple(p)]
        for k in range(8):
            p = p + length * np.array([np.cos(a + bend * k), np.sin(a + bend * k)])
            path.append(tuple(p))
        pen.line(path, fill=float(1 + rng.choice([-0.05, 0.04])), width=max(1, int(0.03 * ppm)))
    return ndimage.gaussian_filter(np.asarray(image), 0.5)
