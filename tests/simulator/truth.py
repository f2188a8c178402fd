"""What is true of a simulated scan: geometry, base, fog, scene.

Pixel coordinates: (0, 0) is the outer corner of the top left pixel, so its
centre is (0.5, 0.5). Corners go clockwise from the one nearest the top left;
"frame_top_left_first" begins at the frame's own top left as it lies in the
scan, whatever its tilt. The scene comes of the cut frame so: undo the mirror
(if "mirrored"), then turn by "turn_deg" clockwise. Tilt is clockwise positive.
Densities are -log10 of the linear values that the file decodes to.
"""
from dataclasses import asdict

import numpy as np
from scipy import ndimage

from geometry import from_top_left, turned
from sheet import REVERSED

LONG = 512  # pixels on the long side of the truth pictures
SHOWS = 0.012  # red density by which a frame's side must differ from the margin


class SheetTruth:
    def __init__(self, sheet, table, encoding):
        self.sheet, self.table, self.encoding = sheet, table, encoding
        self.ppm = sheet.px_per_mm
        sens = sheet.spec.sensitiser * sheet.coat
        zero = np.zeros_like(sens)
        fogged = np.clip(sens - 0.92 * 0.6 * sheet.fog_dye * sheet.spec.sensitiser / sheet.spec.dye_max, 0, None)
        self.base = self.seen(zero, sens)
        self.fogged = self.seen(sheet.fog_dye, fogged)
        self.whole = self.seen(sheet.dye, sheet.sens)

    def seen(self, dye, sens):
        """Linear values in the file's space, without texture, optics or noise."""
        return self.encoding.linear(self.table.look_up(dye, sens, self.sheet.stain))

    def margin(self):
        """Coated, unexposed, 1 mm from the cut and from the frame."""
        s = self.sheet
        return (s.coat > 0.55) & (s.edge > 1.0) & (s.gate < -1.0) & (s.cover > 0.99)

    def bed_px(self, u, v):
        """Frame coordinates (mm) -> pixel coordinates on the bed."""
        lay = self.sheet.layout
        d = turned(np.stack([u - lay.w / 2, v - lay.h / 2], -1), lay.angle) + lay.centre
        return d * self.ppm

    def sample(self, image, u, v, blur_mm):
        soft = ndimage.gaussian_filter(image, blur_mm * self.ppm)
        at = self.bed_px(u, v) - 0.5
        grid = (at[..., 1] - self.sheet.rows.start, at[..., 0] - self.sheet.cols.start)
        return ndimage.map_coordinates(soft, grid, order=1, mode="nearest")

    def picture_density(self):
        red = np.log10(np.maximum(self.fogged[..., 0], 1e-4) / np.maximum(self.whole[..., 0], 1e-4))
        return red.astype(np.float32)

    def sides(self):
        """Share of each side (top right bottom left of the scan) that shows."""
        lay, t, inset = self.sheet.layout, np.linspace(0.03, 0.97, 200), 0.6
        density = self.picture_density()
        if self.sheet.spec.shape == "round":
            return [self.arc(density, quarter) for quarter in (-90, 0, 90, 180)]
        lines = ((t * lay.w, 0 * t + inset), (0 * t + lay.w - inset, t * lay.h),
                 ((1 - t) * lay.w, 0 * t + lay.h - inset), (0 * t + inset, (1 - t) * lay.h))
        return [float((self.sample(density, u, v, 0.2) > SHOWS).mean()) for u, v in lines]

    def arc(self, density, middle_deg):
        """Share of a quarter of a round frame's rim that shows."""
        lay = self.sheet.layout
        a = np.radians(middle_deg + np.linspace(-45, 45, 200))
        u = lay.w / 2 + (lay.w / 2 - 0.6) * np.cos(a)
        v = lay.h / 2 + (lay.h / 2 - 0.6) * np.sin(a)
        return float((self.sample(density, u, v, 0.2) > SHOWS).mean())

    def scene_grid(self):
        """Frame coordinates (mm) of the truth pictures' pixels, scene upright."""
        spec = self.sheet.spec
        w, h = spec.size
        n = [max(1, int(round(LONG * s / max(w, h)))) for s in (h, w)]
        sv, su = np.meshgrid((np.arange(n[0]) + 0.5) * h / n[0], (np.arange(n[1]) + 0.5) * w / n[1], indexing="ij")
        back = {0: (su, sv), 90: (sv, w - su), 180: (w - su, h - sv), 270: (h - sv, su)}
        u, v = back[spec.turn]
        return (self.sheet.layout.w - u if spec.mirrored else u), v

    def pictures(self):
        """Maps for NAME.truth.npz, upright and reading right."""
        s, (u, v) = self.sheet, self.scene_grid()
        light = s.light
        shape = u.shape
        scene = area(light.image, shape)
        mask = ndimage.maximum_filter(light.image, 5) > REVERSED * s.spec.reversal
        sun = area(mask.astype(np.float32), shape) > 0.02
        outside = s.layout.inside_frame(u, v) < 0.2
        blur = 0.4 * max(s.spec.size) / LONG
        white = np.percentile(scene[~sun & ~outside], 99.5)
        maps = {"scene": (scene / white).astype(np.float32), "sun": sun, "outside": outside,
                "stops": np.log2(np.maximum(scene, 1e-6)).astype(np.float16)}
        for name, image in (("dye", s.picture), ("fog_amount", s.fog_dye), ("coat", s.coat), ("stain", s.stain)):
            maps[name] = self.sample(image, u, v, blur).astype(np.float16)
        base, fogged = (np.log10(np.maximum(a[..., 0], 1e-4)) for a in (self.base, self.fogged))
        maps["fog_density"] = self.sample((base - fogged).astype(np.float32), u, v, blur).astype(np.float16)
        return maps

    def facts(self, maps):
        """One entry of "sheets" in NAME.truth.json."""
        s, lay, margin = self.sheet, self.sheet.layout, self.margin()
        if not margin.any():
            margin = (s.coat > 0.3) & (s.gate < -0.5) & (s.edge > 0.3)
        base, fogged = (self.mean(a, margin) for a in (self.base, self.fogged))
        share = self.sides()
        round_frame = s.spec.shape == "round"
        missing = [n for n, v in zip(("top", "right", "bottom", "left"), share) if v < 0.25]
        seen = [v >= 0.25 for v in share]
        corners = lay.frame * self.ppm
        first = int(np.argmin(corners.sum(axis=1)))
        shows = np.roll([seen[3] and seen[0], seen[0] and seen[1], seen[1] and seen[2], seen[2] and seen[3]], -first)
        inside = ~maps["outside"]
        return {
            "outline_px": (from_top_left(lay.outline * self.ppm)).round(3).tolist(),
            "frame_px": from_top_left(corners).round(3).tolist(),
            "frame_top_left_first": corners.round(3).tolist(),
            "corner_shows": [bool(v) and not round_frame for v in shows],
            "size_mm": [lay.w, lay.h], "shape": s.spec.shape,
            "tilt_deg": round(lay.angle, 4), "mirrored": s.spec.mirrored, "turn_deg": s.spec.turn,
            "base_density": (-np.log10(np.maximum(base, 1e-5))).round(4).tolist(),
            "base_fog_density": (-np.log10(np.maximum(fogged, 1e-5))).round(4).tolist(),
            "fog_margin": round(float(np.log10(base[0] / max(fogged[0], 1e-5))), 4),
            "fog_inside": round(float(maps["fog_density"][inside].astype(float).mean()), 4),
            "coat_deviation": round(float((maps["coat"][inside].astype(float)).std()), 4),
            "missing_sides": missing, "side_shows": [round(v, 2) for v in share],
            "sun_fraction": round(float(maps["sun"][inside].mean()), 5),
            "exposure_stops": round(float(np.log2(s.spec.minutes * s.spec.light / 15.0)), 3),
            "minutes": s.spec.minutes, "age_hours": s.spec.age_hours, "spec": asdict(s.spec),
        }

    def mean(self, image, where):
        factor = self.sheet.factor[where][:, None]
        return (image[where] * factor).mean(axis=0)


def area(image, shape):
    """Average an image down (or smoothly enlarge it) to a shape."""
    sigma = [max(0.0, 0.45 * (n / m - 0.5)) for n, m in zip(image.shape, shape)]
    soft = ndimage.gaussian_filter(image, sigma)
    grid = np.meshgrid(*[(np.arange(m) + 0.5) * n / m - 0.5 for n, m in zip(image.shape, shape)], indexing="ij")
    return ndimage.map_coordinates(soft, grid, order=1, mode="nearest")
