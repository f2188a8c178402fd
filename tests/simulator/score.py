#!/usr/bin/env python3
"""Score positives of simulated scans against their scenes.

usage: score.py FOLDER [--milori BINARY] [--positives FOLDER] [--only NAME...]
       score.py FOLDER --ideal      (prove the scoring with ideal positives)
FOLDER holds scans with truth as simulate.py wrote them. With --milori the
scans are developed into a temporary folder (or --positives) and measured.
Columns: dB of milori, of inverted luminance, of the red channel's density and
of the true dye amount; tone error in stops, of every cell and of the curve
alone (tone_error.py); greatest corner error in mm over the corners that show;
tilt error in degrees; the part that the sun reversed; whether milori called
itself unsure.
"""
import argparse
import glob
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pictures  # noqa: E402
import tables  # noqa: E402
import tone_error  # noqa: E402
from baselines import Straightened  # noqa: E402
from fidelity import Target, lightness  # noqa: E402
from ideal import ideal_positive  # noqa: E402


def scans(folder, only):
    """(path, head, maps) of every scan with truth."""
    for path in sorted(glob.glob(os.path.join(folder, "*.truth.json"))):
        name = os.path.basename(path)[: -len(".truth.json")]
        if only and name not in only:
            continue
        with open(path, encoding="utf-8") as f:
            head = json.load(f)
        maps = dict(np.load(os.path.join(folder, name + ".truth.npz")))
        yield os.path.join(folder, head["file"]), name, head, maps


def upright(image, facts):
    """A positive as milori leaves it (mirror undone) -> the scene's orientation."""
    if not facts["mirrored"]:
        image = image[:, ::-1]  # milori undid a mirror that was not there
    return np.rot90(image, -facts["turn_deg"] // 90)


def measured(milori, scan):
    """milori's own account of a scan, a list of sheets; empty if it failed."""
    run = subprocess.run([milori, "measure", "--json", scan], capture_output=True, text=True)
    try:
        return json.loads(run.stdout)["sheets"]
    except (ValueError, KeyError):
        print(f"  measure failed: {run.stderr.strip().splitlines()[:1]}", file=sys.stderr)
        return []


def matched(sheets, facts):
    """The measured sheet whose frame's centre is nearest, and its number."""
    centre = np.mean(facts["frame_px"], axis=0)
    best, number = None, None
    for i, sheet in enumerate(sheets, 1):
        off = np.hypot(*(np.mean(sheet["frame"]["corners_px"], axis=0) - centre))
        if best is None or off < best[0]:
            best, number = (off, sheet), i
    limit = 0.5 * np.hypot(*(np.subtract(facts["frame_px"][0], facts["frame_px"][2])))
    return (best[1], number) if best and best[0] < limit else (None, None)


def corner_error(sheet, facts, dpi):
    """Greatest distance in mm over the corners that show (NaN if none does)."""
    found, true = np.array(sheet["frame"]["corners_px"]), np.array(facts["frame_px"])
    turns = [np.hypot(*(np.roll(found, k, axis=0) - true).T) for k in range(4)]
    off = min(turns, key=lambda d: d.sum()) * 25.4 / dpi
    shows = np.array(facts["corner_shows"])
    return float(off[shows].max()) if shows.any() else float("nan")


def unsure(sheet):
    notes = [str(n).lower() for n in sheet.get("notes", [])]
    return sheet["frame"]["sides_found"] < 4 or any(n.startswith("frame") for n in notes)


def positive_of(folder, name, number, count):
    """Path of the positive of a sheet, or None."""
    stem = name if count == 1 else f"{name}-{number}"
    path = os.path.join(folder, stem + ".tif")
    return path if os.path.exists(path) else None


def row_of(work, scan, name, head, maps, index):
    """One line of the table as a dict."""
    facts = head["sheets"][index]
    scene, dye, sun, outside = (maps[f"{k}_{index + 1}"] for k in ("scene", "dye", "sun", "outside"))
    scene, dye = scene.astype(float), dye.astype(float)
    target = Target(scene, sun | outside)
    row = {"name": name if len(head["sheets"]) == 1 else f"{name} #{index + 1}"}
    flat = Straightened(pictures.codes(scan), head, facts)
    row["luminance"] = target.score(flat.luminance_inverted())[0]
    row["red"] = target.score(flat.red_density())[0]
    row["true"], warp = target.score(dye)
    exposure = scene + facts["spec"]["veil"] * scene.mean()  # what the sheet received, leaks aside
    row["true_tone"] = tone_error.tone_error(dye, exposure, warp, target.use)[0]
    row["sun"], row["long_mm"] = facts["sun_fraction"], max(facts["size_mm"])
    if work.ideal:
        image = upright(ideal_positive(scene, facts, index), facts)
        row["milori"] = target.score(image, lightness)[0]
    elif work.milori:
        add_milori(work, row, target, exposure, name, head, facts)
    return row


def add_milori(work, row, target, exposure, name, head, facts):
    """Corner and tilt errors from `measure`, dB and tone from positives."""
    sheets = work.found
    sheet, number = matched(sheets, facts)
    if sheet is None:
        row["note"] = "sheet missed"
        return
    if len(sheets) != len(head["sheets"]):
        row["note"] = f"{len(sheets)} sheets found, {len(head['sheets'])} are there"
    row["corner"] = corner_error(sheet, facts, head["dpi"])
    row["tilt"] = abs(sheet["tilt_deg"] - facts["tilt_deg"])
    row["unsure"] = unsure(sheet)
    add_margin(row, sheet, head, facts)
    path, known = (positive_of(f, name, number, len(sheets)) for f in (work.positives, work.known_tone))
    if path is None or known is None:
        row["note"] = "no positive"
        return
    row["milori"], warp = target.score(upright(pictures.luminance(path), facts), lightness)
    light = tone_error.light_of(upright(pictures.luminance(known), facts))
    row["tone"], row["curve"] = tone_error.tone_error(light, exposure, warp, target.use)


def add_margin(row, sheet, head, facts):
    """Base and fog: red density's error on the margin, and errors over the
    standard deviations that milori gives, for their coverage."""
    if head["space"] == "LUT":
        return  # the truth is in the scanner's own channels, the profile's output is not
    off = np.subtract(sheet["base_density"], facts["base_fog_density"])
    row["base"] = abs(float(off[0]))
    row["base_sd"] = [abs(float(o)) / s for o, s in zip(off, sheet["base_density_sigma"]) if s]
    row["fog"] = abs(sheet["fog"] - facts["fog_margin"])
    row["fog_sd"], row["fog_found"] = row["fog"] / sheet["fog_sigma"], sheet["fog_origin"] == "found"


class Work:
    """What one scan's scoring needs, and the positives of it."""

    def __init__(self, milori, ideal, positives, scan, scratch):
        self.milori, self.ideal = milori, ideal
        self.positives = positives or os.path.join(scratch, "plain")
        self.known_tone = os.path.join(scratch, "known")
        if not milori:
            return
        palette = os.path.join(scratch, "palette.txt")
        with open(palette, "w", encoding="ascii") as f:
            f.write(tone_error.PALETTE)
        self.develop(scan, self.positives)
        self.develop(scan, self.known_tone, "--palette", palette, *tone_error.CHOICES)
        self.found = measured(milori, scan)

    def develop(self, scan, folder, *choices):
        """A run that fails leaves no positive, and the row says so."""
        run = subprocess.run([self.milori, "positive", "-q", "-j", "1", scan, "-o", folder, *choices],
                             capture_output=True, text=True)
        if run.returncode:
            print(f"  positive failed: {run.stderr.strip().splitlines()[:1]}", file=sys.stderr)


def rows_of(task):
    """The rows of one scan, for a worker."""
    milori, ideal, positives, (scan, name, head, maps) = task
    with tempfile.TemporaryDirectory() as scratch:
        work = Work(milori, ideal, positives, scan, scratch)
        return [row_of(work, scan, name, head, maps, i) for i in range(len(head["sheets"]))]


def score_folder(folder, milori=None, ideal=False, positives=None, only=(), jobs=1):
    """The rows of every sheet in a folder that simulate.py wrote."""
    tasks = ((milori, ideal, positives, scan) for scan in scans(folder, only))
    with multiprocessing.Pool(jobs) as pool:
        return [row for rows in pool.imap(rows_of, tasks) for row in rows]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder")
    parser.add_argument("--milori")
    parser.add_argument("--positives")
    parser.add_argument("--ideal", action="store_true")
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--json", help="also write the rows to this file")
    args = parser.parse_args()
    rows = score_folder(args.folder, args.milori, args.ideal, args.positives, args.only, args.jobs)
    if not rows:
        print(f"score.py: {args.folder}: no scans with truth: make some with simulate.py", file=sys.stderr)
        return 1
    tables.table(rows, "ideal" if args.ideal else "milori")
    tables.by_size(rows)
    if args.json:
        with open(args.json, "w", encoding="utf-8") as f:
            json.dump(rows, f, indent=1)
    return 0


if __name__ == "__main__":
    sys.exit(main())
