"""The glass: sheets placed on it, the lid behind, shadows, dust and hairs."""
import numpy as np
from PIL import Image, ImageDraw
from scipy import ndimage

import noise
from geometry import Layout
from noise import stream
from sheet import Sheet
from spectra import SheetColour

TOP = (3.2, 2.6, 1.4)  # largest dye, sensitiser and stain amounts in the table
NODES = (97, 49, 49)


class ColourTable:
    """Amounts -> device RGB through a table of log RGB, nodes quadratic.

    Stated error: RMS 2e-4 of white, worst 2e-3 on stained paper, 4e-3 on bare
    unstained paper (check.py measures it).
    """

    def __init__(self, spec, scanner, top=TOP):
        self.top = top
        axes = [top[0] * np.linspace(0, 1, NODES[0]) ** 2,
                top[1] * np.linspace(0, 1, NODES[1]) ** 2,
                top[2] * np.linspace(0, 1, NODES[2]) ** 2]
        colour = SheetColour(spec)
        grid = np.meshgrid(*axes, indexing="ij")
        self.colour, self.scanner = colour, scanner
        self.table = np.log(scanner.see(colour.reflectance(*grid))).astype(np.float32)

    def look_up(self, dye, sens, stain):
        at = [np.sqrt(np.clip(a / t, 0, 1)) * (n - 1) for a, t, n in zip((dye, sens, stain), self.top, NODES)]
        return np.stack([np.exp(ndimage.map_coordinates(self.table[..., c], at, order=1))
                         for c in range(3)], -1)


def arrange(scan):
    """Layouts of all sheets on the glass (rows of `columns`), and its size in mm."""
    layouts = [Layout(s, stream(s.seed, "cut square")) for s in scan.sheets]
    x = y = scan.room
    tall, wide = 0.0, 0.0
    for i, layout in enumerate(layouts):
        if i and i % scan.columns == 0:
            x, y, tall = scan.room, y + tall + scan.gap, 0.0
        low, high = layout.box()
        layout.place(np.array([x, y]) - low)
        x += high[0] - low[0] + scan.gap
        tall, wide = max(tall, high[1] - low[1]), max(wide, x - scan.gap)
    return layouts, (wide + scan.room, y + tall + scan.room)


def window(layout, px_per_mm, shape):
    """Slices of the bed that hold a sheet and 2 mm round it."""
    low, high = layout.box()
    lo = np.floor((low - 2.0) * px_per_mm).astype(int)
    hi = np.ceil((high + 2.0) * px_per_mm).astype(int)
    return (slice(max(lo[1], 0), min(hi[1], shape[0])), slice(max(lo[0], 0), min(hi[0], shape[1])))


class Bed:
    """`image` is device RGB before optics and noise; `sheets` hold the maps."""

    def __init__(self, scan, scanner):
        self.scan, self.ppm = scan, scan.dpi / 25.4
        layouts, size = arrange(scan)
        self.shape = tuple(int(round(s * self.ppm)) for s in size[::-1])
        self.image = self.lid(scanner)
        self.sheets, self.tables = [], []
        for spec, layout in zip(scan.sheets, layouts):
            sheet = Sheet(spec, layout, window(layout, self.ppm, self.shape), self.ppm)
            table = ColourTable(spec, scanner)
            self.lay(sheet, table.look_up(sheet.dye, sheet.sens, sheet.stain))
            self.sheets.append(sheet)
            self.tables.append(table)
        self.dirt()

    def lid(self, scanner):
        rng = stream(self.scan.seed, "lid")
        level = 0.88 if self.scan.lid == "white" else 0.025
        tone = scanner.see(level * np.ones((1, scanner.sight.shape[0])))[0]
        speck = 1 + 0.006 * noise.smooth(rng, self.shape, self.ppm, 15.0)
        return (tone * speck[..., None]).astype(np.float32)

    def shadow(self, sheet):
        """Shade on the lid beside a sheet, deeper on the side away from the lamp."""
        depth = self.scan.lift
        lamp = 1 - 0.5 * np.gradient(sheet.away, axis=0) * self.ppm
        return 1 - 0.3 * lamp * np.exp(-sheet.away / (0.15 + 2.5 * depth))

    def curl(self, sheet):
        """Edges that stand off the glass get less light, one side some gloss."""
        if not self.scan.curl:
            return 1.0
        lift = np.exp(-np.maximum(sheet.edge, 0) / 5.0)
        side = noise.smooth(stream(sheet.spec.seed, "curl"), lift.shape, self.ppm, 12.0)
        return 1 - self.scan.curl * lift * np.clip(0.7 + 0.5 * side, 0, 2)

    def lay(self, sheet, colour):
        part = self.image[sheet.rows, sheet.cols]
        shade = self.shadow(sheet) if self.scan.lid == "white" else np.ones_like(sheet.edge)
        thin = 1.0 if self.scan.lid == "white" else 0.975  # paper over black is darker
        sheet.factor = (sheet.texture * thin * self.curl(sheet)).astype(np.float32)
        lit = colour * sheet.factor[..., None]
        cover = sheet.cover[..., None]
        part[...] = part * shade[..., None] * (1 - cover) + lit * cover

    def dirt(self):
        """Dust and hairs on the glass: pale grey over dark, darker over pale."""
        scan, rng = self.scan, stream(self.scan.seed, "dirt")
        mask = Image.new("F", self.shape[::-1], 0.0)
        pen = ImageDraw.Draw(mask)
        for _ in range(scan.dust):
            x, y = rng.random(2) * self.shape[::-1]
            r = rng.uniform(0.03, 0.12) * self.ppm
            pen.ellipse([x - r, y - r, x + r, y + r], fill=float(rng.uniform(0.2, 0.7)))
        for _ in range(scan.hairs):
            p = rng.random(2) * self.shape[::-1]
            a, bend, path = rng.uniform(0, 2 * np.pi), rng.normal(0, 0.25), [tuple(p)]
            for k in range(14):
                p = p + 0.5 * self.ppm * np.array([np.cos(a + bend * k), np.sin(a + bend * k)])
                path.append(tuple(p))
            pen.line(path, fill=float(rng.uniform(0.3, 0.6)), width=max(1, int(0.05 * self.ppm)))
        m = ndimage.gaussian_filter(np.asarray(mask), 0.7)[..., None]
        self.image += m * (0.34 - self.image)
