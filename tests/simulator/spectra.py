"""Spectra: what each matter on the sheet absorbs, and what a reflectance is.

Wavelengths are 400..730 nm in 5 nm steps. Reflectance follows Kubelka and
Munk over wavelengths, with Saunderson's surface correction. Nothing here is
shared with milori, which sees three channels only.
"""
import numpy as np

WL = np.arange(400.0, 731.0, 5.0)  # nm


def gauss(x, centre, sigma):
    """Unit Gaussian in x."""
    return np.exp(-0.5 * ((x - centre) / sigma) ** 2)


def dye(peak_nm=695.0, width_cm=2400.0, tail=0.05):
    """Prussian blue as printed out: K/S per unit amount, 1 at its peak.

    The band is Gaussian in wavenumber (charge transfer near 700 nm); the tail
    stands for scattering and the ultraviolet band.
    """
    nu = 1e7 / WL
    band = gauss(nu, 1e7 / peak_nm, width_cm)
    return band + tail * (0.5 + np.exp(-(WL - 400.0) / 45.0))


def sensitiser(peak_nm=420.0):
    """Unused sensitiser: ferricyanide near 420 nm and the iron citrate's tail."""
    return gauss(WL, peak_nm, 26.0) + 0.7 * np.exp(-(WL - 400.0) / 32.0)


def stain(power=4.0):
    """Yellow-brown stain: a power law, 1 at 450 nm."""
    return (WL / 450.0) ** -power


def paper(white=0.88, warmth=0.06):
    """Measured reflectance of the bare sheet: rag paper, a little warm."""
    blue_end = np.exp(-(WL - 400.0) / 70.0)
    return white * (1.0 - warmth * blue_end - 0.01 * gauss(WL, 560.0, 60.0))


def km_reflectance(ks):
    """Reflectance of an opaque layer from K/S (Kubelka and Munk 1931)."""
    return 1.0 + ks - np.sqrt(ks * ks + 2.0 * ks)


def km_ratio(reflectance):
    """K/S from the reflectance of an opaque layer."""
    return (1.0 - reflectance) ** 2 / (2.0 * reflectance)


def surface(inner, k1, k2, seen):
    """Saunderson 1942: outside reflectance; `seen` is the part of the gloss
    that reaches the scanner's eye (0 for an ideal 45/0 geometry)."""
    return seen * k1 + (1.0 - k1) * (1.0 - k2) * inner / (1.0 - k2 * inner)


def under_surface(outer, k1, k2, seen):
    """Inverse of `surface`."""
    diffuse = (outer - seen * k1) / ((1.0 - k1) * (1.0 - k2))
    return diffuse / (1.0 + k2 * diffuse)


def colour_matching():
    """CIE 1931 2 degree functions, the multi-lobe fit of Wyman, Sloan and
    Shirley 2013 (from memory; within 1 % of the table, see check.py)."""

    def lobe(centre, low, high):
        return gauss(WL, centre, np.where(WL < centre, low, high))

    x = 1.056 * lobe(599.8, 37.9, 31.0) + 0.362 * lobe(442.0, 16.0, 26.7)
    x -= 0.065 * lobe(501.1, 20.4, 26.2)
    y = 0.821 * lobe(568.8, 46.9, 40.5) + 0.286 * lobe(530.9, 16.3, 31.1)
    z = 1.217 * lobe(437.0, 11.8, 36.0) + 0.681 * lobe(459.0, 26.0, 13.8)
    return np.stack([x, y, z])


D50 = np.array([0.9642, 1.0, 0.8249])


def planck(kelvin):
    """Relative radiance of a black body."""
    m = WL * 1e-9
    return m**-5.0 / np.expm1(1.4388e-2 / (m * kelvin))


def xyz(reflectance):
    """XYZ (D50 = .9642 1 .8249) of reflectances (..., wavelengths).

    The light is a black body of 5003 K, scaled so that white lands on D50.
    """
    weights = colour_matching() * planck(5003.0)
    weights *= (D50 / weights.sum(axis=1))[:, None]
    return reflectance @ weights.T


def lab(xyz_values):
    """CIE 1976 L*a*b* against D50."""
    t = np.maximum(np.asarray(xyz_values) / D50, 0.0)
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack(
        [
            116 * f[..., 1] - 16,
            500 * (f[..., 0] - f[..., 1]),
            200 * (f[..., 1] - f[..., 2]),
        ],
        axis=-1,
    )


class SheetColour:
    """Reflectance of one sheet's paper under amounts of its three colours."""

    def __init__(self, spec):
        self.spec = spec
        self.k_dye = dye(spec.dye_peak, spec.dye_width, spec.dye_tail)
        self.k_sens = sensitiser()
        self.k_stain = stain(spec.stain_power)
        bare = paper(spec.white, spec.warmth)
        inner = under_surface(bare, spec.k1, spec.k2, spec.gloss_seen)
        self.ks_paper = km_ratio(inner)

    def reflectance(self, dye_amount, sens_amount, stain_amount):
        """Arrays of amounts (any one shape) -> reflectance (shape, wavelengths).

        Dye particles scatter a little: S grows by `dye_scatter` per amount.
        """
        s = self.spec
        d, y, t = (np.asarray(v)[..., None] for v in
                   (dye_amount, sens_amount, stain_amount))
        k = self.ks_paper + d * self.k_dye + y * self.k_sens + t * self.k_stain
        inner = km_reflectance(k / (1.0 + s.dye_scatter * d))
        return surface(inner, s.k1, s.k2, s.gloss_seen)
