#!/usr/bin/env python3
"""Make simulated flatbed scans of camera-exposed cyanotype sheets, with truth.

usage: simulate.py --list
       simulate.py NAME... -o FOLDER [--jobs N]
       simulate.py --all | --bundled | --draw FIRST..LAST  -o FOLDER
Beside each scan stand NAME.truth.json and NAME.truth.npz (see truth.py).
"""
import argparse
import json
import multiprocessing
import os
import sys

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import bundled  # noqa: E402
import files  # noqa: E402
import recipes  # noqa: E402
from bed import Bed  # noqa: E402
from encode import Encoding  # noqa: E402
from scanner import Scanner  # noqa: E402
from truth import SheetTruth  # noqa: E402


def simulate(scan, folder):
    """Make one scan and its truth; returns the scan's path."""
    scanner = Scanner(scan.scanner)
    encoding = Encoding(scanner, scan.file)
    bed = Bed(scan, scanner)
    device = scanner.noise(scanner.blur(bed.image, scan.dpi), scan.dpi, scan.seed)
    pixels = files.quantise(encoding.codes(device), scan.file.bits)
    path = os.path.join(folder, f"{scan.name}.{scan.file.kind}")
    files.write(path, pixels, scan.file, scan.dpi, encoding.profile)
    facts, maps = [], {}
    for i, (sheet, table) in enumerate(zip(bed.sheets, bed.tables), 1):
        truth = SheetTruth(sheet, table, encoding)
        pictures = truth.pictures()
        facts.append(truth.facts(pictures))
        maps.update({f"{name}_{i}": array for name, array in pictures.items()})
    np.savez_compressed(os.path.join(folder, scan.name + ".truth.npz"), **maps)
    head = {"file": os.path.basename(path), "note": scan.note, "seed": scan.seed, "dpi": scan.dpi,
            "lid": scan.lid, "bits": scan.file.bits, "space": scan.file.space,
            "dpi_tagged": scan.file.tagged_dpi, "scanner": scan.scanner.kind, "curl": scan.curl,
            "auto_levels": scan.scanner.auto_levels, "sharpened": scan.scanner.sharpen > 0,
            "px_origin": "outer corner of the top left pixel", "sheets": facts}
    with open(os.path.join(folder, scan.name + ".truth.json"), "w", encoding="utf-8") as f:
        json.dump(head, f, indent=1)
    return path


def job(task):
    """One recipe in a worker; an error is a line, not a traceback."""
    name, folder = task
    try:
        return f"wrote {simulate(recipes.find(name), folder)}", True
    except (RuntimeError, ValueError, OSError) as error:
        return f"simulate.py: {name}: {error}", False


def numbers(text):
    """'3..7' -> 3, 4, 5, 6, 7; '3' -> 3."""
    first, _, last = text.partition("..")
    return range(int(first), int(last or first) + 1)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*")
    parser.add_argument("-o", "--output", default=".")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--all", action="store_true")
    parser.add_argument("--bundled", action="store_true")
    parser.add_argument("--draw", type=numbers, default=())
    parser.add_argument("--jobs", type=int, default=1)
    args = parser.parse_args()
    if args.list:
        for name, scan in {**recipes.named(), **bundled.bundled()}.items():
            print(f"{name:20s} {scan.note}")
        return 0
    names = args.names + ([n for n in recipes.named() if n not in recipes.SLOW] if args.all else [])
    names += (list(bundled.bundled()) if args.bundled else []) + [f"draw-{n:04d}" for n in args.draw]
    if not names:
        parser.error("name a recipe, or --all, --bundled, --draw FIRST..LAST; --list shows them")
    os.makedirs(args.output, exist_ok=True)
    good = True
    with multiprocessing.Pool(args.jobs) as pool:
        for line, fine in pool.imap(job, [(n, args.output) for n in names]):
            print(line, flush=True)
            good = good and fine
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
