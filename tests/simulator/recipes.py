"""Named sheets, and sheets drawn from a seed over the whole space."""
import copy
from dataclasses import replace

import numpy as np

import noise
import scenes
from specs import FileSpec, ScannerSpec, ScanSpec, SheetSpec

SLOW = {"finest"}  # a minute and 3 GB: made by name only
SIZES = ((24, 36), (36, 24), (56, 41.5), (56, 56), (56, 56), (56, 70), (84, 56), (63, 88))


def sheet_of(seed, **changes):
    """A sheet with small accidents from its seed; `changes` fix what matters."""
    rng = noise.stream(seed, "sheet")
    spec = SheetSpec(
        seed=seed,
        margins=tuple(round(float(m), 2) for m in rng.uniform(5, 11, 4)),
        frame_turn=float(rng.normal(0, 0.35)),
        skew=float(rng.uniform(0, 0.6)),
        tilt=float(rng.uniform(-2.5, 2.5)),
        warmth=float(rng.uniform(0.03, 0.10)),
        white=float(rng.uniform(0.84, 0.90)),
        dye_peak=float(rng.uniform(684, 712)),
        dye_width=float(rng.uniform(2050, 2500)),
        stain_power=float(rng.uniform(3.2, 5.0)),
        brush_deg=float(rng.choice([0.0, 90.0]) + rng.normal(0, 4)),
        turn=int(rng.choice([0, 0, 90, 180, 270])),
    )
    return replace(spec, **changes)


TARNISH = dict(age_hours=72.0, fog=0.05, fog_edges=0.16, fog_blotches=0.022, fog_reach=9.0,
               stain=0.16, stain_edges=0.12)
OLD = dict(age_hours=150.0, fog=0.10, fog_edges=0.30, fog_blotches=0.04, fog_reach=11.0,
           stain=0.28, stain_edges=0.22)
ROUGH = dict(coat_rough=0.24, coat_grain=0.09, rim=3.0)


def one(seed, note, sheet=None, scanner=None, file=None, **scan):
    """A bed with one sheet."""
    return ScanSpec(seed=seed, note=note, sheets=[sheet_of(seed, **(sheet or {}))],
                    scanner=ScannerSpec(**(scanner or {})), file=FileSpec(**(file or {})), **scan)


def several(seed, note, sheets, **scan):
    """A bed with more than one sheet; sheet seeds follow the bed's."""
    made = [sheet_of(seed * 10 + i, **s) for i, s in enumerate(sheets)]
    return ScanSpec(seed=seed, note=note, sheets=made, **scan)


def named():
    """All named recipes, by name."""
    r = {
        "normal": one(1, "a quarter of an hour, front-lit", dict(scene="glasshouse")),
        "faint": one(2, "short light, dim day", dict(scene="water butt", light=0.35)),
        "tarnished": one(3, "kept three days before use", dict(scene="scarecrow", **TARNISH)),
        "eight-bit": one(4, "ordinary JPEG", dict(scene="bean poles"), file=dict(kind="jpg", bits=8)),
        "silhouette": one(5, "against the light, ground unexposed",
                          dict(scene="silhouette", size=(56, 41.5), turn=0, veil=0.001)),
        "black-lid": one(6, "black lid", dict(scene="seed trays", rim=2.5), lid="black"),
        "half-without-light": one(7, "half of the frame got no light",
                                  dict(scene="camera", clearing=True)),
        "three-minutes": one(8, "three minutes", dict(scene="bean poles", minutes=3.0)),
        "burned-sun": one(9, "hours with the sun in the picture",
                          dict(scene="silhouette", sun=420.0, minutes=25.0, size=(84, 56), turn=0)),
        "several-on-bed": several(10, "three sheets, 3 mm apart", [
            dict(scene="glasshouse", size=(36, 24), turn=0),
            dict(scene="scarecrow", size=(24, 36), turn=0),
            dict(scene="water butt", size=(36, 24), turn=180, **TARNISH)]),
        "wide-space": one(11, "a wider colour space", dict(scene="coffee", minutes=30.0), file=dict(space="Adobe")),
        "widest-space": one(12, "a very wide colour space", dict(scene="astronaut", minutes=20.0),
                            dict(kind="CCFL"), dict(space="ProPhoto")),
        "lut-profile": one(13, "the scanner's own colours and a LUT profile", dict(scene="glasshouse"),
                           dict(kind="CCFL"), dict(space="LUT")),
        "round-frame": one(14, "a round home-made frame", dict(scene="scarecrow", shape="round", size=(70, 70))),
        "light-leak": one(15, "light came in beside the gate", dict(scene="chelsea", leak=0.3, size=(84, 56))),
        "curled": one(16, "edges off the glass", dict(scene="motorcycle", size=(84, 56)), curl=0.18, lift=0.8),
        "grey": one(17, "scanned in grey", dict(scene="water butt"), file=dict(space="grey")),
        "rough-brush": one(18, "streaks, puddles, bare rim", dict(scene="bean poles", **ROUGH)),
        "no-profile": one(19, "no profile, no resolution", dict(scene="coins"),
                          file=dict(space="none", kind="png", tagged_dpi=False)),
        "automatics": one(20, "scanner's levels and sharpening left on", dict(scene="rocket", size=(84, 56)),
                          dict(auto_levels=True, sharpen=0.7), dict(kind="jpg", bits=8)),
    }
    r.update(more())
    r.update(series())
    for name, spec in r.items():
        spec.name = name
    return r


def more():
    """The rest of the named recipes: sizes, resolutions, accidents."""
    return {
        "large-sheet": one(21, "4x5 inch holder", dict(scene="glasshouse", size=(120, 95), turn=90), dpi=240),
        "tiny-fine": one(22, "35 mm at 1200 dpi", dict(scene="seed trays", size=(36, 24)), dpi=1200),
        "steep": one(23, "laid down crooked", dict(scene="grass", tilt=7.4)),
        "old-and-rough": one(24, "a week old, badly brushed", dict(scene="glasshouse", **{**OLD, **ROUGH})),
        "veiled": one(25, "flare inside the frame", dict(scene="scarecrow", veil=0.25)),
        "mirror-camera": one(26, "a mirror in the camera", dict(scene="bean poles", mirrored=False)),
        "passer-by": one(27, "someone stood there for a while", dict(scene="brick", moving=0.5)),
        "rgb-led": one(28, "coloured lamps", dict(scene="water butt"), dict(kind="RGB LED")),
        "coarse": one(29, "150 dpi", dict(scene="seed trays", size=(84, 56)), dpi=150),
        "corner-of-glass": one(31, "pushed into the corner of the glass",
                               dict(scene="seed trays", size=(56, 41.5), tilt=0.2), room=0.0),
        "finest": one(32, "half frame at 2400 dpi",
                      dict(scene="glasshouse", size=(24, 18), margins=(5, 4, 5, 4), turn=0), dpi=2400, room=2.0),
        "sharpened": one(33, "sharpened by the scanner, 8-bit TIFF", dict(scene="motorcycle", size=(70, 56)),
                         dict(sharpen=0.9), dict(bits=8)),
        "grey-jpeg": one(34, "grey JPEG, no profile wanted", dict(scene="scarecrow"),
                         file=dict(space="grey", kind="jpg", bits=8)),
        "tarnished-silhouette": one(35, "sides missing and fogged edges",
                                    dict(scene="silhouette", size=(56, 41.5), turn=0, **TARNISH)),
        "long": one(30, "an hour and a half: the dye saturates", dict(scene="camera", minutes=90.0)),
    }


def series():
    """One scene at growing exposure, and one at growing age."""
    r = {}
    for minutes in (2, 4, 8, 15, 30, 60):
        sheet = dict(scene="scarecrow", minutes=float(minutes))
        r[f"series-{minutes:02d}"] = one(40, "a series of one scene", sheet)
    for hours, look in ((1, {}), (72, TARNISH), (150, OLD)):
        sheet = {"scene": "glasshouse", **look, "age_hours": float(hours)}
        r[f"aged-{hours:03d}"] = one(41, "a series of one age", sheet)
    return r


def drawn(number):
    """The sheet of a seed: everything is drawn, so no two are alike."""
    rng = noise.stream(number, "draw")
    count = int(rng.choice([1, 1, 1, 1, 1, 2, 3]))
    small = count > 1
    scan = ScanSpec(
        name=f"draw-{number:04d}", seed=number, note="drawn from a seed",
        dpi=int(rng.choice([200, 300, 300, 300, 300, 400] if not small else [200, 300])),
        lid=str(rng.choice(["white", "white", "black"])),
        room=float(rng.uniform(3, 12) if rng.random() < 0.92 else 0.0), gap=float(rng.uniform(3, 12)),
        lift=float(rng.uniform(0.1, 0.7)), curl=float(max(0, rng.normal(-0.03, 0.08))),
        dust=int(rng.integers(4, 40)), hairs=int(rng.integers(0, 5)), columns=int(rng.choice([1, 2, 3])),
        scanner=drawn_scanner(rng), file=drawn_file(rng),
        sheets=[drawn_sheet(rng, number * 10 + i, small) for i in range(count)])
    return scan


def drawn_scanner(rng):
    return ScannerSpec(
        kind=str(rng.choice(["white LED", "CCFL", "RGB LED"])), white=float(rng.uniform(0.90, 1.0)),
        psf=float(rng.uniform(0.45, 0.9)), flare=float(rng.uniform(0.002, 0.025)),
        shot=float(rng.uniform(0.0012, 0.004)), read=float(rng.uniform(0.0002, 0.0008)),
        pattern=float(rng.uniform(0, 0.0012)), sharpen=float(max(0, rng.normal(-0.4, 0.5))),
        auto_levels=bool(rng.random() < 0.05), lamp_falloff=float(rng.uniform(0, 0.012)))


def drawn_file(rng):
    kind = str(rng.choice(["tif", "tif", "tif", "png", "jpg"]))
    space = str(rng.choice(["sRGB", "sRGB", "sRGB", "Adobe", "ProPhoto", "none", "grey"],
                           p=[0.2, 0.2, 0.15, 0.2, 0.1, 0.1, 0.05]))
    bits = 8 if kind == "jpg" else int(rng.choice([8, 16, 16]))
    return FileSpec(kind=kind, bits=bits, space=space, quality=int(rng.integers(80, 96)))


def drawn_sheet(rng, seed, small):
    """One sheet of a draw: scene, camera, brush and age."""
    scene = str(rng.choice(scenes.NAMES))
    size = SIZES[rng.integers(3 if small else len(SIZES))]
    light = float(2 ** rng.normal(-0.3, 0.5))  # the time is chosen for it, roughly
    minutes = float(15 * 2 ** np.clip(rng.normal(0, 1.1), -2.6, 2.2) / light)
    brush = rng.choice([0.0, 90.0]) + rng.normal(0, 5) if rng.random() < 0.85 else rng.uniform(0, 180)
    margins = tuple(map(float, rng.uniform(4, 12, 4)))
    against = scene == "silhouette"
    age = float(rng.choice([rng.uniform(1, 12), rng.uniform(12, 60), rng.uniform(60, 110)], p=[0.5, 0.3, 0.2]))
    worn = age / 72.0
    return sheet_of(
        seed, scene=scene, size=size, minutes=minutes, range_stops=float(rng.uniform(4, 8)),
        light=light, lens_blur=float(rng.uniform(0.02, 0.12)),
        vignette=float(rng.uniform(0, 1.2)), veil=float(rng.choice([0.0, 0.01, 0.03, 0.1])),
        moving=float(rng.choice([0, 0, 0, 0.5])), leak=float(rng.choice([0] * 9 + [0.3])),
        sun=float(rng.uniform(100, 700)) if against and rng.random() < 0.6 else 0.0,
        shape="round" if rng.random() < 0.06 else "rectangle",
        corner_radius=float(rng.choice([0.1, 0.3, 1.0, 2.0])), rough=float(rng.uniform(0.01, 0.06)),
        penumbra=float(rng.uniform(0.03, 0.15)), margins=margins,
        tilt=float(rng.normal(0, 1.6) if rng.random() < 0.9 else rng.uniform(-8, 8)),
        tooth=float(rng.uniform(0.006, 0.02)), relief=float(rng.uniform(0.004, 0.02)),
        fibres=int(rng.integers(0, 160)), coat_rough=float(0.04 + 0.2 * rng.beta(1.5, 2.5)),
        coat_grain=float(rng.uniform(0.02, 0.08)), brush_deg=float(brush),
        rim=float(min(rng.choice([0, 0, 1.5, 3.0]), 0.45 * min(margins))), sensitiser=float(rng.uniform(0.6, 1.4)),
        dye_max=float(rng.uniform(1.0, 1.7)), e_sat=float(rng.uniform(1.3, 3.5)),
        induction=float(rng.choice([0, 0, 0.02])), reversal=float(rng.uniform(35, 90)),
        screening=float(rng.uniform(0.3, 1.2)), dye_tail=float(rng.uniform(0.03, 0.09)),
        age_hours=age, fog=float(0.004 + 0.06 * worn * rng.uniform(0.4, 1.2)),
        fog_edges=float(0.01 + 0.16 * worn * rng.uniform(0.2, 1.5)), fog_reach=float(rng.uniform(4, 12)),
        fog_blotches=float(0.002 + 0.02 * worn * rng.uniform(0.2, 1.4)),
        stain=float(0.03 + 0.12 * worn * rng.uniform(0.3, 1.3)),
        stain_edges=float(0.01 + 0.1 * worn * rng.uniform(0.2, 1.3)))


def find(name):
    """The recipe of a name, a bundled name, or a drawn number (draw-0007)."""
    from bundled import bundled

    every = {**named(), **bundled()}
    if name in every:
        return copy.deepcopy(every[name])
    if name.startswith("draw-") and name[5:].isdigit():
        return drawn(int(name[5:]))
    raise ValueError(f"no recipe called {name}: see --list")
