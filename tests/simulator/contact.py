"""A film laid on a fresh coat in the sun: the blue print, washed and dried, as maps.

Spectra, coat, grain and scanner are the sheets' own (spectra.py, chemistry.py ...);
what light does to the coat is process_model.py's. Nothing is shared with milori:
the film is read as any printer would print it, code by code.
"""
from dataclasses import dataclass, field

import numpy as np
import tifffile
from PIL import Image
from scipy import ndimage

import chemistry
import noise
import process_model
import spectra
from noise import stream
from specs import SheetSpec


DEEPEST = 60.0  # most dye: a washed print holds far more than one that was printed out


@dataclass
class PrintSpec:
    seed: int = 1
    process: int = 7  # process_model.Process of that seed
    stops_short: float = 0.0
    border: float = 14.0  # mm of coated paper round the film
    film_mirrored_again: bool = False  # the printer driver mirrored once more
    film_loss: float = 0.05  # density of clear film in the light that exposes
    spread: float = 0.07  # mm: film not quite flat on the coat
    light: tuple = (0.03, -0.02)  # log10 exposure from the middle to the right, to the bottom
    vignette: float = 0.02  # log10 exposure lost in the corners
    coat_rough: float = 0.05
    coat_grain: float = 0.05
    rim: float = 3.0  # mm from the cut where the brush stopped
    gap: tuple = ()  # (x, y, angle, length, width) mm of a stroke that missed, on the film
    stains: tuple = ()  # (x, y, radius mm, strength) yellow-brown, on the film
    reversal: float = 0.0  # part of the density that bare film loses: overexposed, not yet darkened
    hues: bool = False  # the printer's inks differ in how much light they stop
    strips: tuple = ()  # time sheets: (top mm on the film, log10 exposure) of each strip
    side: tuple = (0.0, 1e9)  # mm on the film between which the strips were covered
    sheet: SheetSpec = field(default_factory=lambda: SheetSpec(
        sensitiser=0.0, stain=0.01, stain_edges=0.0, dye_tail=0.08, dye_width=3000.0, dye_scatter=0.01))


def load(path):
    """Codes 0..1 (rows, columns, 3) of a film file and its px a mm."""
    if path.endswith((".tif", ".tiff")):
        with tifffile.TiffFile(path) as file:
            page = file.pages[0]
            top, foot = page.tags["XResolution"].value
            codes = page.asarray()
        dpi = top / foot
    else:
        from skimage import io
        codes, dpi = io.imread(path), Image.open(path).info["dpi"][0]
    return codes / np.iinfo(codes.dtype).max, dpi / 25.4


def ink_amount(codes, hues):
    """Share of the light-stopping power 0..1 from encoded RGB: black is 1. With hues the
    yellow stops most and the cyan least, as dyes do: an assumption."""
    less = 1 - codes
    if not hues:
        return less.max(axis=-1)
    black = less.min(axis=-1)
    colour = less - black[..., None]
    return np.clip(black + colour @ np.array([0.22, 0.36, 0.62]), 0, 1)


class Print:
    """Maps over the coated paper at px_per_mm: dye, stain and texture, and `bare` where no
    coat is. (0, 0) is the paper's left top as the print reads; the film's is `border` in."""

    def __init__(self, spec, film, px_per_mm):
        self.spec, self.ppm = spec, px_per_mm
        self.process = process_model.Process(spec.process, spec.stops_short)
        codes, film_ppm = load(film)
        # The film's ink lies on the coat: seen from above, through the film, left is right.
        laid = codes if spec.film_mirrored_again else codes[:, ::-1]
        self.film_mm = (codes.shape[1] / film_ppm, codes.shape[0] / film_ppm)
        self.size = tuple(s + 2 * spec.border for s in self.film_mm)
        shape = tuple(int(round(s * px_per_mm)) for s in self.size[::-1])
        y, x = (np.mgrid[: shape[0], : shape[1]].astype(np.float32) + 0.5) / px_per_mm
        self.x, self.y = x - spec.border, y - spec.border  # mm on the film
        passed = self.through(laid, film_ppm)
        exposure = np.log10(passed) + self.sunlight()
        edge = np.minimum(np.minimum(x, self.size[0] - x), np.minimum(y, self.size[1] - y))
        coat = self.coating(x, y, edge)
        gain = np.clip(coat, 0, None) ** 0.5
        density = self.process.density(self.process.PERFECT, 0.0, exposure, gain)
        density *= 1 - spec.reversal * np.clip(1 + exposure / 0.12, 0, 1)
        self.dye = self.dye_of(process_model.lightness(density))
        self.stain = self.stains(shape)
        self.texture = self.tooth(shape)

    def through(self, laid, film_ppm):
        """Share of the light that passes film and ink; 1 beside the film."""
        ink = ink_amount(laid, self.spec.hues)
        passed = 10.0 ** -(self.process.film_density(ink) + self.spec.film_loss)
        passed = ndimage.gaussian_filter(passed, np.hypot(self.spec.spread * film_ppm, 0.4 * film_ppm / self.ppm))
        at = (self.y * film_ppm - 0.5, self.x * film_ppm - 0.5)
        return ndimage.map_coordinates(passed, at, order=1, mode="constant", cval=1.0)

    def sunlight(self):
        """log10 exposure: uneven light, and strips uncovered one after another."""
        spec = self.spec
        u, v = 2 * self.x / self.film_mm[0] - 1, 2 * self.y / self.film_mm[1] - 1
        light = spec.light[0] * u + spec.light[1] * v - spec.vignette * (u * u + v * v)
        within = (self.x >= spec.side[0]) & (self.x < spec.side[1])
        for top, log_exposure in spec.strips:
            light = np.where(within & (self.y >= top), log_exposure + 0 * light, light)
        return light + spec.film_loss

    def coating(self, x, y, edge):
        spec = self.spec
        self.spec.sheet.coat_rough, self.spec.sheet.coat_grain = spec.coat_rough, spec.coat_grain
        self.spec.sheet.rim = spec.rim
        coat = chemistry.coat_map(spec.sheet, stream(spec.seed, "coat"), x, y, edge, self.ppm)
        if spec.gap:
            cx, cy, angle, length, width = spec.gap
            a = np.radians(angle)
            along = (self.x - cx) * np.cos(a) + (self.y - cy) * np.sin(a)
            across = -(self.x - cx) * np.sin(a) + (self.y - cy) * np.cos(a)
            ragged = 0.6 * noise.smooth(stream(spec.seed, "gap"), coat.shape, self.ppm, 1.5)
            inside = np.minimum(length / 2 - np.abs(along), width / 2 - np.abs(across)) + ragged
            coat = coat * np.clip(0.5 - inside / 0.3, 0, 1)
        return coat

    def dye_of(self, lightness):
        """Amount of dye that prints with a lightness, by the sheet's own spectra."""
        amount = np.concatenate([[0], np.geomspace(1e-4, DEEPEST, 600)])
        zero = np.zeros_like(amount)
        colour = spectra.SheetColour(self.spec.sheet)
        at = spectra.lab(spectra.xyz(colour.reflectance(amount, zero, zero)))[:, 0]
        return np.interp(-lightness, -at, amount).astype(np.float32)

    def stains(self, shape):
        stain = np.full(shape, self.spec.sheet.stain, np.float32)
        ragged = noise.smooth(stream(self.spec.seed, "stains"), shape, self.ppm, 4.0)
        for x, y, radius, strength in self.spec.stains:
            reach = np.hypot(self.x - x, self.y - y) - radius * (1 + 0.15 * ragged)
            stain += strength * np.clip(0.5 - reach / 1.0, 0, 1)
        return stain

    def tooth(self, shape):
        rng, sheet = stream(self.spec.seed, "paper"), self.spec.sheet
        fine = noise.band(rng, shape, self.ppm, 0.03, 0.25)
        height = noise.band(rng, shape, self.ppm, 0.1, 0.8)
        return (1 + sheet.tooth * (0.7 * fine + 0.7 * height)).astype(np.float32)

    def lightness_of(self, ink):
        """L* that the process itself gives under ink, even light and coat: the truth."""
        return process_model.lightness(self.process.density(self.process.PERFECT, ink))
