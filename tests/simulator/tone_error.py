"""Tone error: how far a positive's light is from the scene's, in stops.

A monotone fit hides tone, so the score alone would let a wrong curve pass. A
positive is made on purpose with a tone that can be undone: grade 0, nothing
softened, a palette of our own that runs evenly from L* 0 to 100, and no veil
taken off, so that exposure has the camera's veil in it. Then L* / 100 is the
logistic of stops that milori documents, 4 to 96 % of the palette over grade 0's
log exposure range (middle of ANSI PH2.2-1966's 1.40 to 1.70, from memory);
where its middle lies is the one factor that the fit takes. What milori thinks
of the dye's saturation is part of what is judged.
"""
import numpy as np

from fidelity import averaged, lightness, reduced

PALETTE = "# evenly dark to light\n0% 0 0 0\n100% 100 0 0\n"
CHOICES = ["--grade", "0", "--veil", "0", "--soften-shadows", "0", "--soften-lights", "0"]
LOG_RANGE, ENDS = 1.55, 0.04
MIDDLE = (10, 90)  # per cent of the scene's exposure that count


def logit(t):
    return np.log(t / (1 - t))


STEEP = 2 * logit(1 - ENDS) / LOG_RANGE * np.log10(2)  # of the logistic, per stop


def light_of(luminance):
    """Relative light of the scene from the luminance of such a positive."""
    t = np.clip(lightness(luminance) / 100, 1e-4, 1 - 1e-4)
    return 2 ** (logit(t) / STEEP)


def tone_error(light, exposure, warp, use):
    """(all, curve): RMS over the middle of the range, in stops, of light against
    exposure, one factor fitted. `all` counts every cell, so coat,
    fog and grain as well; `curve` only the median of each of 16 groups of equal
    exposure: the curve alone. `warp` and `use` as Target.score and Target have them.
    """
    exposure = averaged(exposure)
    low, high = np.percentile(exposure[use], MIDDLE)
    keep = use & (exposure > max(low, 1e-6)) & (exposure < high)
    off = np.log2(np.maximum(averaged(reduced(light), warp)[keep], 1e-6) / exposure[keep])
    groups = np.array_split(np.argsort(exposure[keep], kind="stable"), 16)
    curve = np.array([np.median(off[g]) for g in groups])
    return float(off.std()), float(curve.std())
