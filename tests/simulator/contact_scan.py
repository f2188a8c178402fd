#!/usr/bin/env python3
"""Scans of blue prints made through a film: turned, tilted, curled, torn, dusty.

usage: contact_scan.py FILM SCAN [--seed N] [--tilt DEGREES] [--turn 0|90|180|270] ...
"""
import argparse
import os
import sys
from dataclasses import dataclass, field

import numpy as np
from scipy import ndimage

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import files  # noqa: E402
import noise  # noqa: E402
from bed import Bed, ColourTable  # noqa: E402
from contact import DEEPEST, Print, PrintSpec  # noqa: E402
from encode import Encoding  # noqa: E402
from noise import stream  # noqa: E402
from scanner import Scanner  # noqa: E402
from specs import FileSpec, ScannerSpec  # noqa: E402


@dataclass
class GlassSpec:
    seed: int = 1
    dpi: int = 200
    lid: str = "white"
    room: float = 5.0
    tilt: float = 0.0  # degrees clockwise
    turn: int = 0  # quarter turns clockwise of the print on the glass
    flipped: bool = False  # the scan was mirrored by a program
    curl: float = 0.0  # mm that the middle of two edges stands off the glass
    torn: tuple = ()  # corner 0..3 clockwise from the left top, mm along each side
    dust: int = 12
    hairs: int = 2
    scanner: ScannerSpec = field(default_factory=ScannerSpec)
    file: FileSpec = field(default_factory=FileSpec)


class Glass(Bed):
    """A print on the glass; the lid and the dirt are the other beds' own."""

    def __init__(self, spec, print_, scanner):
        self.scan, self.ppm, self.print = spec, spec.dpi / 25.4, print_
        w, h = print_.size
        a = np.radians(spec.tilt + spec.turn)
        self.cos, self.sin = np.cos(a), np.sin(a)
        wide = abs(w * self.cos) + abs(h * self.sin) + 2 * spec.room
        high = abs(w * self.sin) + abs(h * self.cos) + 2 * spec.room
        self.middle = (wide / 2, high / 2)
        self.shape = tuple(int(round(s * self.ppm)) for s in (high, wide))
        self.table = ColourTable(print_.spec.sheet, scanner, (DEEPEST, 1e-6, 1.4))
        self.image = self.lid(scanner)
        self.lay_print()
        self.dirt()

    def lay_print(self):
        y, x = (np.mgrid[: self.shape[0], : self.shape[1]].astype(np.float32) + 0.5) / self.ppm
        lift = self.lift(x, y)
        # A lifted place is seen from the middle of the bed, slantwise: optics of reduction.
        x = x - lift * (x - self.middle[0]) / 250
        y = y + 0.1 * lift
        dx, dy = x - self.middle[0], y - self.middle[1]
        u = dx * self.cos + dy * self.sin + self.print.size[0] / 2
        v = -dx * self.sin + dy * self.cos + self.print.size[1] / 2
        at = (v * self.print.ppm - 0.5, u * self.print.ppm - 0.5)
        dye, stain, texture = (ndimage.map_coordinates(m, at, order=1, mode="nearest") for m in
                               (self.print.dye, self.print.stain, self.print.texture))
        colour = self.table.look_up(dye, np.zeros_like(dye), stain)
        colour *= (texture * (1 - 0.03 * lift))[..., None]
        cover = np.clip(0.5 + self.inside(u, v) * self.ppm, 0, 1)[..., None]
        self.image = (self.image * (1 - cover) + colour * cover).astype(np.float32)

    def lift(self, x, y):
        if not self.scan.curl:
            return np.zeros_like(x)
        along = (y - self.middle[1]) / self.middle[1]
        wave = noise.smooth(stream(self.scan.seed, "curl"), x.shape, self.ppm, 40.0)
        return self.scan.curl * np.clip(along * along + 0.15 * wave, 0, 2)

    def inside(self, u, v):
        w, h = self.print.size
        edge = np.minimum(np.minimum(u, w - u), np.minimum(v, h - v))
        if self.scan.torn:
            corner, along, down = self.scan.torn
            a = w - u if corner in (1, 2) else u
            b = h - v if corner in (2, 3) else v
            ragged = noise.smooth(stream(self.scan.seed, "torn"), u.shape, self.ppm, 3.0)
            edge = np.minimum(edge, (a / along + b / down - 1) * min(along, down) + 0.7 * ragged)
        return edge


def scan(film, path, print_spec, glass_spec):
    """Prints the film, scans the print to path; what is true of both."""
    scanner = Scanner(glass_spec.scanner)
    encoding = Encoding(scanner, glass_spec.file)
    made = Print(print_spec, film, glass_spec.dpi / 25.4)
    bed = Glass(glass_spec, made, scanner)
    device = scanner.noise(scanner.blur(bed.image, glass_spec.dpi), glass_spec.dpi, glass_spec.seed)
    if glass_spec.flipped:
        device = device[:, ::-1]
    pixels = files.quantise(encoding.codes(device), glass_spec.file.bits)
    files.write(path, pixels, glass_spec.file, glass_spec.dpi, encoding.profile)
    return Truth(made, bed, encoding)


class Truth:
    """What a perfect reader of that scan's colours would say of even ink."""

    def __init__(self, made, bed, encoding):
        self.made, self.bed, self.encoding = made, bed, encoding

    def lightness(self, ink):
        """L* under ink as the scan's profile shows it, on an even coat in even light."""
        dye = self.made.dye_of(self.made.lightness_of(np.asarray(ink, float)))
        device = self.bed.table.look_up(dye, 0 * dye, 0 * dye + self.made.spec.sheet.stain)
        linear = self.encoding.linear(device)
        matrix = np.array([[0.22249, 0.71687, 0.06061]])  # sRGB's Y, D50
        y = (linear @ matrix.T)[..., 0]
        return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("film")
    parser.add_argument("scan")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--process", type=int, default=7)
    parser.add_argument("--dpi", type=int, default=200)
    parser.add_argument("--tilt", type=float, default=0.0)
    parser.add_argument("--turn", type=int, default=0)
    parser.add_argument("--curl", type=float, default=0.0)
    parser.add_argument("--again", action="store_true", help="the driver mirrored once more")
    parser.add_argument("--hues", action="store_true", help="inks of different colours stop light differently")
    args = parser.parse_args()
    kind = os.path.splitext(args.scan)[1][1:]
    bits = 8 if kind == "jpg" else 16
    scan(args.film, args.scan,
         PrintSpec(seed=args.seed, process=args.process, film_mirrored_again=args.again, hues=args.hues),
         GlassSpec(seed=args.seed, dpi=args.dpi, tilt=args.tilt, turn=args.turn, curl=args.curl,
                   file=FileSpec(kind=kind, bits=bits)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
