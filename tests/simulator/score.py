#!/usr/bin/env python3
"""Score positives of simulated scans against their scenes.

usage: score.py FOLDER [--milori BINARY] [--positives FOLDER] [--only NAME...]
       score.py FOLDER --ideal      (prove the scoring with ideal positives)
FOLDER holds scans with truth as simulate.py wrote them. With --milori the
scans are developed into a temporary folder (or --positives) and measured.
Columns: dB of milori, of inverted luminance, of the red channel's density and
of the true dye amount; greatest corner error in mm over the corners that
show; tilt error in degrees; whether milori called itself unsure.
"""
import argparse
import glob
import json
import os
import subprocess
import sys
import tempfile

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import pictures  # noqa: E402
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
        maps = np.load(os.path.join(folder, name + ".truth.npz"))
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


def row_of(args, scan, name, head, maps, index):
    """One line of the table as a dict."""
    facts = head["sheets"][index]
    scene, dye, sun, outside = (maps[f"{k}_{index + 1}"] for k in ("scene", "dye", "sun", "outside"))
    target = Target(scene.astype(float), sun | outside)
    row = {"name": name if len(head["sheets"]) == 1 else f"{name} #{index + 1}"}
    flat = Straightened(pictures.codes(scan), head, facts)
    row["luminance"] = target.score(flat.luminance_inverted())[0]
    row["red"] = target.score(flat.red_density())[0]
    row["true"] = target.score(dye.astype(float))[0]
    row["sun"] = facts["sun_fraction"]
    if args.ideal:
        image = upright(ideal_positive(scene, facts, index), facts)
        row["milori"] = target.score(image, lightness)[0]
    elif args.milori:
        add_milori(args, row, target, name, head, facts)
    return row


def add_milori(args, row, target, name, head, facts):
    """Corner and tilt errors from `measure`, dB from the positive."""
    sheets = args.found[name]
    sheet, number = matched(sheets, facts)
    if sheet is None:
        row["note"] = "sheet missed"
        return
    row["corner"] = corner_error(sheet, facts, head["dpi"])
    row["tilt"] = abs(sheet["tilt_deg"] - facts["tilt_deg"])
    row["unsure"] = unsure(sheet)
    path = positive_of(args.positives, name, number, len(sheets))
    if path is None:
        row["note"] = "no positive"
        return
    row["milori"] = target.score(upright(pictures.luminance(path), facts), lightness)[0]


def cell(row, key, form):
    value = row.get(key)
    return "-" if value is None else format(value, form)


def table(rows, own):
    """Print the rows and the summary."""
    heads = f"{own:>7s} {'lumin.':>7s} {'red':>7s} {'true':>7s} {'corner':>7s} {'tilt':>6s} {'sun':>6s}"
    print(f"{'sheet':24s} {heads}  note")
    for r in rows:
        note = " ".join(filter(None, [r.get("note"), "unsure" if r.get("unsure") else ""]))
        plain = f"{r['luminance']:7.2f} {r['red']:7.2f} {r['true']:7.2f}"
        print(f"{r['name']:24s} {cell(r, 'milori', '.2f'):>7s} {plain} {cell(r, 'corner', '.3f'):>7s} "
              f"{cell(r, 'tilt', '.3f'):>6s} {r['sun']:6.3f}  {note}")
    for title, take in (("mean", np.mean), ("median", np.median), ("worst", np.min)):
        values = [take([r[k] for r in rows if k in r] or [np.nan]) for k in ("milori", "luminance", "red", "true")]
        print(f"{title:24s} " + " ".join(f"{v:7.2f}" for v in values))
    own_rows = [r for r in rows if "milori" in r]
    below = [r["name"] for r in own_rows if r["milori"] < r["red"] - 0.3]
    print(f"{len(rows)} sheets, {len(rows) - len(own_rows)} without a positive, "
          f"{len(below)} more than 0.3 dB below red: {', '.join(below) or 'none'}")
    gain = [r["milori"] - r["red"] for r in own_rows]
    if gain:
        print(f"gain over red: mean {np.mean(gain):.2f}, median {np.median(gain):.2f}, "
              f"worst tenth {np.percentile(gain, 10):.2f}, worst {min(gain):.2f} dB")
    frames(rows)


def frames(rows):
    """Summary of geometry: found, unsure, confident and wrong."""
    seen = [r for r in rows if "corner" in r]
    if not seen:
        return
    wrong = [r["name"] for r in seen if not r["unsure"] and r["corner"] > 0.3]
    sure = [r["corner"] for r in seen if not r["unsure"]]
    print(f"frames: {len(seen)} of {len(rows)} sheets found, {sum(r['unsure'] for r in seen)} unsure, "
          f"{len(wrong)} sure but over 0.3 mm: {', '.join(wrong) or 'none'}; "
          f"worst sure corner {max(sure, default=float('nan')):.3f} mm")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder")
    parser.add_argument("--milori")
    parser.add_argument("--positives")
    parser.add_argument("--ideal", action="store_true")
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--json", help="also write the rows to this file")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        args.positives = args.positives or scratch
        args.found = {}
        rows = []
        for scan, name, head, maps in scans(args.folder, args.only):
            if args.milori:
                subprocess.run([args.milori, "positive", scan, "-o", args.positives],
                               stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
                args.found[name] = measured(args.milori, scan)
            rows += [row_of(args, scan, name, head, maps, i) for i in range(len(head["sheets"]))]
    if not rows:
        print(f"score.py: {args.folder}: no scans with truth: make some with simulate.py", file=sys.stderr)
        return 1
    table(rows, "ideal" if args.ideal else "milori")
    if args.json:
        with open(args.json, "w", encoding="utf-8") as f:
            json.dump(rows, f, indent=1)
    return 0


if __name__ == "__main__":
    sys.exit(main())
