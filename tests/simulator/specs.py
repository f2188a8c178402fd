"""What can be set on a sheet, a bed, a scanner and its file. Lengths in mm."""
from dataclasses import dataclass, field


@dataclass
class SheetSpec:
    seed: int = 0
    # the picture
    scene: str = "glasshouse"
    range_stops: float = 6.0  # photographs only: 1st to 99th percentile
    minutes: float = 15.0
    light: float = 1.0  # 1 = full sky in full sun at 15 minutes
    lens_blur: float = 0.03  # Gaussian radius on the sheet
    vignette: float = 0.5  # stops lost in the corners
    veil: float = 0.01  # evenly spread light, part of the mean
    moving: float = 0.0  # part of the time a passer-by stood in the picture
    sun: float = 0.0  # exposure along the sun's track; 0 = no sun
    leak: float = 0.0  # strength of a light leak at one side
    clearing: bool = False  # half of the frame got no light
    # the frame and the cut
    size: tuple = (56.0, 56.0)  # in scene orientation before `turn`
    shape: str = "rectangle"  # or "round"
    corner_radius: float = 0.3
    rough: float = 0.03  # of the frame's edge
    penumbra: float = 0.06
    margins: tuple = (8.0, 8.0, 8.0, 8.0)  # left top right bottom
    frame_turn: float = 0.0  # degrees on the sheet
    skew: float = 0.0  # degrees by which the cut is out of square
    cut_rough: float = 0.015  # of the cut edge
    tilt: float = 0.0  # degrees of the sheet on the glass
    turn: int = 0  # quarter turns clockwise that set the positive upright
    mirrored: bool = True
    # paper and coat
    white: float = 0.88
    warmth: float = 0.06
    k1: float = 0.04
    k2: float = 0.4
    gloss_seen: float = 0.15
    tooth: float = 0.014  # multiplicative
    relief: float = 0.016
    fibres: int = 60
    coat_rough: float = 0.10  # relative deviation of the coat's thickness
    coat_grain: float = 0.05
    brush_deg: float = 90.0
    rim: float = 0.0  # how far from the edge the brush stopped; 0 = everywhere
    # chemistry
    sensitiser: float = 0.85
    dye_max: float = 1.4
    e_sat: float = 1.8  # exposure that gives 63 % of the most dye
    induction: float = 0.0
    reversal: float = 60.0  # exposure at which the image starts to pale
    screening: float = 0.7
    dye_peak: float = 695.0
    dye_width: float = 2250.0
    dye_tail: float = 0.04
    dye_scatter: float = 0.1
    stain: float = 0.06
    stain_edges: float = 0.03
    stain_power: float = 4.0
    age_hours: float = 6.0
    fog: float = 0.008
    fog_edges: float = 0.02
    fog_reach: float = 6.0
    fog_blotches: float = 0.004


@dataclass
class ScannerSpec:
    kind: str = "white LED"  # or "CCFL", "RGB LED"
    white: float = 0.95  # reflectance that becomes 1
    psf: float = 0.6  # pixels
    optics: float = 0.012  # mm
    flare: float = 0.012
    shot: float = 0.0022  # at white, 300 dpi
    read: float = 0.0004
    pattern: float = 0.0006
    sharpen: float = 0.0
    auto_levels: bool = False
    lamp_falloff: float = 0.004


@dataclass
class FileSpec:
    kind: str = "tif"  # tif, png, jpg
    bits: int = 16
    space: str = "sRGB"  # sRGB, Adobe, ProPhoto, none, LUT, grey
    quality: int = 88
    tagged_dpi: bool = True


@dataclass
class ScanSpec:
    name: str = ""
    seed: int = 0
    note: str = ""
    dpi: int = 300
    lid: str = "white"
    room: float = 6.0  # glass round the sheets
    gap: float = 3.0
    lift: float = 0.25  # how far the lid is from the glass
    curl: float = 0.0
    dust: int = 12
    hairs: int = 2
    columns: int = 2
    scanner: ScannerSpec = field(default_factory=ScannerSpec)
    file: FileSpec = field(default_factory=FileSpec)
    sheets: list = field(default_factory=list)
