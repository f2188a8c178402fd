"""What coat, light and age make of the sheet: maps of the three amounts."""
import numpy as np

import noise


def coat_map(spec, rng, u, v, edge, px_per_mm):
    """Thickness of the brushed coat, about 1; 0 where the brush did not come.

    u, v: frame coordinates; edge: distance inside the cut, all in mm.
    """
    a = np.radians(spec.brush_deg)
    along = u * np.cos(a) + v * np.sin(a)
    across = -u * np.sin(a) + v * np.cos(a)
    bristles = noise.streaks(rng, along, across, 18.0, 0.35)
    strokes = noise.streaks(rng, along, across, 60.0, 5.0)
    puddles = noise.smooth(rng, u.shape, px_per_mm, 7.0)
    grain = noise.band(rng, u.shape, px_per_mm, 0.04, 0.35)
    uneven = 0.55 * bristles + 0.55 * strokes + 0.6 * puddles
    coat = np.exp(spec.coat_rough * uneven + spec.coat_grain * grain)
    if spec.rim:
        ends = noise.streaks(rng, along, across, 9.0, 0.5) + noise.streaks(rng, along, across, 30.0, 4.0)
        reach = edge - spec.rim - 0.27 * spec.rim * ends
        reach = reach - 0.12 * spec.rim * np.minimum(bristles, 1.5)
        dry = 0.25 + 0.08 * np.maximum(bristles, -2)
        coat = coat * np.clip(0.5 + reach / dry, 0, 1)
        coat *= 1.0 + 0.5 * spec.coat_rough * np.exp(-np.maximum(reach, 0) / 0.8)
    return coat.astype(np.float32)


def fog_map(spec, rng, edge, px_per_mm):
    """Prussian blue that grew without light, per unit of coat."""
    blotch = noise.smooth(rng, edge.shape, px_per_mm, 6.0)
    uneven = noise.smooth(rng, edge.shape, px_per_mm, 12.0)
    reach = spec.fog_reach * np.exp(0.35 * uneven)
    inner = np.maximum(edge, 0)
    fog = spec.fog + spec.fog_edges * np.exp(-inner / reach)
    return np.maximum(fog + spec.fog_blotches * blotch, 0.0).astype(np.float32)


def stain_map(spec, rng, edge, px_per_mm):
    """Yellow-brown colour: even, in slow blotches, and from the edges."""
    blotch = noise.smooth(rng, edge.shape, px_per_mm, 10.0)
    even = spec.stain * np.exp(0.22 * blotch)
    return (even + spec.stain_edges * np.exp(-np.maximum(edge, 0) / 5.0)).astype(np.float32)


def picture_dye(spec, exposure, coat):
    """Dye printed out by an exposure on a coat.

    Grows in proportion at first (after an optional induction), saturates as
    the coat is used up, pales at extreme exposure. A thick coat screens itself.
    """
    e = exposure
    if spec.induction:
        e = e - spec.induction * (1 - np.exp(-e / spec.induction))
    q = spec.screening
    caught = (1 - np.exp(-q * coat)) / (1 - np.exp(-q)) if q else coat
    grown = spec.dye_max * caught * (1 - np.exp(-e / spec.e_sat))
    over = np.clip(np.log2(np.maximum(exposure, 1e-9) / spec.reversal) / 2.5, 0, 1)
    pale = 0.93 * over * over * (3 - 2 * over)
    return grown.astype(np.float32), (grown * (1 - pale)).astype(np.float32)


def amounts(spec, exposure, coat, fog):
    """(dye in all, sensitiser left, picture dye, fog dye) from maps."""
    grown, shown = picture_dye(spec, exposure, coat)
    grey = fog * coat
    used = np.clip((grown + 0.6 * grey) / np.maximum(spec.dye_max * coat, 1e-6), 0, 1)
    left = spec.sensitiser * coat * (1 - 0.92 * used)
    return shown + grey, left, shown, grey
