"""Blue-print processes: coat, light, film and paper, from ink on a film to lightness.

Nothing here is shared with milori: no formula, no table. A process is a characteristic
curve of one of three families (asymmetric logistic; Poisson-like, as a photochemical
yield saturates; skew normal), the density of a film's ink in the light that exposes,
and what differs from coat to coat, over a sheet and from patch to patch.

Sizes: exposure scales 0.9 to 2.0 and Dmax 1.0 to 1.7 are the span round the washed
classic print's 1.2-1.6 and 1.2-1.4 (from memory) and the newer formula's 1.7 (Ware,
Simple Cyanotype, 2022). How much coats and sheets vary is an assumption, stated where
it is set: nothing published was found.
"""
import dataclasses

import numpy as np
from scipy import optimize, special, stats


def lightness(density):
    """L* of a density relative to the perfect diffuser (ISO 5-4, ISO/CIE 11664-4)."""
    y = 10.0 ** -np.asarray(density, float)
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


@dataclasses.dataclass
class Noise:
    """Standard deviations; assumptions, see the module's text. Those of a careful maker:
    coats measured out, light counted rather than timed."""
    coat_speed: float = 0.007    # log10 exposure, from coat to coat: 1.6 per cent
    coat_gain: float = 0.006     # of the dye's density, from coat to coat
    coat_contrast: float = 0.006  # of the exposure scale, from coat to coat
    coat_base: float = 0.002     # density of the cleared paper
    light: float = 0.02          # log10 exposure, centre to corner, uneven light
    brush: float = 0.02          # of the dye's density, slow over the sheet
    patch_speed: float = 0.008   # log10 exposure, patch to patch
    patch_gain: float = 0.006    # of the dye's density, patch to patch
    ink: float = 0.004           # of the ink range, patch to patch
    banding: float = 0.003       # of the ink range, along the film
    tooth: float = 0.15          # L*, paper and scanner, a patch's mean
    spoiled: float = 0.03        # share of patches with a stain, a bubble or a hair


# Twice as much from coat to coat: brushed by eye, timed by the clock.
EASY_GOING = Noise(coat_speed=0.014, coat_gain=0.012, coat_contrast=0.012, coat_base=0.004)


@dataclasses.dataclass
class Coat:
    speed: float
    gain: float
    contrast: float
    base: float
    tilt: np.ndarray   # of light
    bowl: float
    brush: np.ndarray  # of the coat
    phase: float


class Process:
    """One maker's paper, coating, lamp, film and ink."""

    def __init__(self, seed, stops_short=0.0):
        rng = np.random.default_rng(seed)
        self.family = ("logistic", "poisson", "skew")[seed % 3]
        self.film = ("linear", "concave", "convex", "s", "halftone")[seed % 5]
        self.shape = rng.uniform(0, 1)
        self.base = rng.uniform(0.05, 0.16)
        self.dmax = rng.uniform(1.0, 1.7)
        self.scale = rng.uniform(0.9, 2.0)
        self.stretch = 1.0
        # Scaled so that the ISO 6846 points lie a scale apart.
        low, high = 0.04 / (self.dmax - self.base), self._share_of(0.9 * self.dmax)
        self.stretch = self.scale / (self._log_of(high) - self._log_of(low))
        # The shortest time that gives the deepest blue, as near as an eye tells.
        self.clear = self._log_of(rng.uniform(0.97, 0.992)) - 0.30103 * stops_short
        # Ink that just covers the scale, or somewhat more.
        self.film_most = self.clear + 0.30103 * stops_short - self._log_of(low) + rng.uniform(0, 0.5)
        self.bend = rng.uniform(0, 1)
        self.rng = rng

    def _share_of(self, density):
        return (density - self.base) / (self.dmax - self.base)

    def _share(self, log_exposure):
        """Of the full dye, 0..1."""
        x = np.asarray(log_exposure, float) / self.stretch
        if self.family == "logistic":
            nu = 0.5 + 1.5 * self.shape
            return (1 + np.exp(-4 * x)) ** -nu
        if self.family == "poisson":
            power = 0.9 + 0.9 * self.shape
            return (-np.expm1(-(10.0 ** x))) ** power
        return stats.skewnorm.cdf(x, 3 * (self.shape - 0.5), scale=0.5)

    def _log_of(self, share):
        return optimize.brentq(lambda h: float(self._share(h)) - share, -60 * self.stretch,
                               60 * self.stretch, xtol=1e-10)

    def film_density(self, ink):
        """Of the film in the light that exposes, above clear film."""
        ink = np.clip(ink, 0, 1)
        if self.film == "linear":
            part = ink
        elif self.film == "concave":
            part = ink ** (0.95 - 0.25 * self.bend)
        elif self.film == "convex":
            part = ink ** (1.1 + 0.4 * self.bend)
        elif self.film == "s":
            part = special.betainc(1.2 + 0.5 * self.bend, 1.3, ink)
        else:  # dots of solid ink that spread, seen through a diffusing layer (n 2)
            area = ink + 0.15 * np.sin(np.pi * ink)
            clear, full = 1.0, 10.0 ** (-self.film_most / 2)
            return -2 * np.log10(clear - area * (clear - full))
        return part * self.film_most

    def coat(self, rng, noise):
        """A fresh coat, exposed as the others were meant to be."""
        return Coat(rng.normal(0, noise.coat_speed), 1 + rng.normal(0, noise.coat_gain),
                    1 + rng.normal(0, noise.coat_contrast), rng.normal(0, noise.coat_base),
                    rng.normal(0, noise.light / 2, 2), -abs(rng.normal(0, noise.light)),
                    rng.normal(0, noise.brush / 2, 2), rng.uniform(0, 6.28))

    PERFECT = Coat(0, 1, 1, 0, np.zeros(2), 0, np.zeros(2), 0)

    def density(self, coat, ink, log_exposure=0.0, gain=1.0):
        """Of the dry print under ink; log_exposure and gain: what a place adds."""
        middle = self._log_of(0.5) if not hasattr(self, "_middle") else self._middle
        self._middle = middle
        h = self.clear - self.film_density(ink) + coat.speed + log_exposure
        h = middle + (h - middle) / coat.contrast
        share = self._share(h)
        return self.base + coat.base + (self.dmax - self.base) * share * coat.gain * gain

    def print_patches(self, rng, coat, ink, xy, noise, uneven=1.0):
        """L* of patches of ink at xy (-1..1 over the sheet). uneven: the part of what is
        smooth over the sheet that is left after it was taken off."""
        n = len(ink)
        r2 = (xy ** 2).sum(1)
        light = uneven * (xy @ coat.tilt + coat.bowl * (r2 - 2 / 3)) + rng.normal(
            0, noise.patch_speed, n)
        gain = 1 + uneven * (xy @ coat.brush) + rng.normal(0, noise.patch_gain, n)
        laid = ink + np.where(ink > 0, 1, 0) * (
            rng.normal(0, noise.ink, n) + noise.banding * np.sin(40 * xy[:, 1] + coat.phase))
        L = lightness(self.density(coat, np.clip(laid, 0, 1), light, gain))
        L = L + rng.normal(0, noise.tooth, n)
        bad = rng.uniform(size=n) < noise.spoiled
        return L + bad * rng.choice([-1, 1], n) * rng.uniform(3, 20, n)

    def truth(self, count=257):
        """Ink and L* of the process itself: the mean coat, no noise."""
        ink = np.linspace(0, 1, count)
        return ink, lightness(self.density(self.PERFECT, ink))


def even_curve(ink, L):
    """Ink of an even tone by a known curve: the best that any measuring could do."""
    def at(tone):
        return np.interp(L[0] + tone * (L[-1] - L[0]), L, ink)
    return at
