#!/usr/bin/env python3
"""What sheets tell their maker, on simulated series, from `milori measure` alone.

usage: test_series.py --milori BINARY [--folder SIMULATED]
series-02 .. series-60 are one scene in one light; print-out density grows in
proportion to exposure while small (common practice, no source), then the dye is
used up, as the simulator has it. aged-001 .. aged-150 are one scene at three
ages; a sheet kept for three days is clearly fogged, a fresh one is not (common
practice, no source). Tolerances: half a stop and the words are the issue's, the
others ours. Without --folder the scans are made in a temporary one.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile

import numpy as np

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import recipes  # noqa: E402
import simulate  # noqa: E402

STOPS = 0.5  # by which stops between sheets may be off
COAT = 2.6  # standard uncertainties by which the coat's deviation may be off: one time in a hundred
FRESH = 12  # hours up to which simulated sheets are fresh
OTHERS = ("normal", "faint", "eight-bit", "silhouette", "three-minutes", "rough-brush", "tarnished",
          "tarnished-silhouette", "old-and-rough", "several-on-bed", "curled")
good = True


def check(well, words):
    global good
    good = good and well
    print(f"{'ok  ' if well else 'MISS'} {words}")


def measured(milori, folder, names, *options):
    """Name to (sheets as milori tells them, sheets as they are), and the series' JSON."""
    scans = {name: os.path.join(folder, f"{name}.{recipes.find(name).file.kind}") for name in names}
    for name, path in scans.items():
        if not os.path.exists(path):
            simulate.simulate(recipes.find(name), folder)
    run = subprocess.run([milori, "measure", "--json", *options, *scans.values()], capture_output=True,
                         text=True, check=True)
    told = json.loads(run.stdout)
    found = {}
    for name, path in scans.items():
        with open(os.path.join(folder, name + ".truth.json"), encoding="utf-8") as f:
            truth = json.load(f)["sheets"]
        found[name] = ([s for s in told["sheets"] if s["file"] == path], truth)
    return found, told.get("series")


def exposures(milori, folder):
    """Each sheet alone, then together with its notes."""
    names = [n for n in recipes.named() if n.startswith("series-")]
    minutes = np.array([recipes.find(n).sheets[0].minutes for n in names])
    notes = os.path.join(folder, "notes.csv")
    with open(notes, "w", encoding="utf-8") as f:
        f.write("file,minutes,light\n" + "".join(f"{n},{m:g},sun\n" for n, m in zip(names, minutes)))
    found, series = measured(milori, folder, names, "--notes", notes)
    alone = np.array([-found[n][0][0]["next_stops"] for n in names])
    deep = np.array([found[n][0][0]["strength"] for n in names])
    apart = np.array([s["apart"] for s in series["sheets"]])
    print("minutes   light   alone  apart  verdict")
    light = np.log2(minutes)
    for n, m, a, b in zip(names, minutes, alone - alone[0], apart):
        print(f"{m:7.0f} {np.log2(m / minutes[0]):7.2f} {a:7.2f} {b:6.2f}  {found[n][0][0]['exposure']}")
    check(len(names) >= 6 and (np.diff(deep) > 0).all(), f"order of {len(names)} exposures")
    worst = max(abs((alone[i] - alone[k]) - (light[i] - light[k])) for i in range(len(names)) for k in range(i))
    check(worst <= STOPS, f"stops between any two sheets, each alone: off by {worst:.2f} at most, allowed {STOPS}")
    worst = np.abs((apart[:, None] - apart) - (light[:, None] - light)).max()
    check(worst <= STOPS, f"the same taken together: off by {worst:.2f} at most, allowed {STOPS}")
    words = [found[n][0][0]["exposure"] for n in names]
    check(words == sorted(words, key=("short", "right", "long").index) and len(set(words)) == 3,
          "short, then right, then long")
    right = series["lights"][0]["right_minutes"]
    check(abs(np.log2(right / (right_minutes(names[0], folder)))) <= 1,
          f"right at {right:.1f} minutes, by the dye's own saturation {right_minutes(names[0], folder):.1f}: "
          "a stop's difference allowed")


def right_minutes(name, folder):
    """Minutes that bring the picture's light tones (a hundredth is lighter) to a third of the dye's most."""
    sheet = recipes.find(name).sheets[0]
    with np.load(os.path.join(folder, name + ".truth.npz")) as maps:
        stops = maps["stops_1"].astype(float)[~maps["outside_1"] & ~maps["sun_1"]]
    return sheet.minutes * np.log(1.5) * sheet.e_sat / 2 ** np.percentile(stops, 99)


def quarter_of_an_hour(milori, folder):
    """Three minutes are 2.3 stops short of a quarter of an hour in the same light (common practice, no source)."""
    for scene in ("scarecrow", "bean poles"):
        next_stops = []
        for minutes in (3, 15):
            spec = recipes.one(42, "three minutes and a quarter of an hour", dict(scene=scene, minutes=float(minutes)))
            spec.name = f"{scene.replace(' ', '-')}-{minutes:02d}"
            path = os.path.join(folder, spec.name + ".tif")
            if not os.path.exists(path):
                simulate.simulate(spec, folder)
            run = subprocess.run([milori, "measure", "--json", path], capture_output=True, text=True, check=True)
            next_stops.append(json.loads(run.stdout)["sheets"][0]["next_stops"])
        short = next_stops[0] - next_stops[1]
        check(abs(short - np.log2(5)) <= STOPS, f"three minutes of {scene}: {short:.2f} stops short of a quarter of "
              f"an hour, {np.log2(5):.2f} are true")


def ages_and_coats(milori, folder):
    names = [n for n in recipes.named() if n.startswith("aged-")] + list(OTHERS)
    wrong, off = [], []
    for name, (sheets, truth) in measured(milori, folder, names)[0].items():
        for told, true in zip(sheets, truth):
            age = true["age_hours"]
            want = "fresh" if age <= FRESH else "clearly fogged"
            if told["tarnish"] != want:
                wrong.append(f"{name} {told['sheet']}: {told['tarnish']} at {age:g} hours")
            with np.load(os.path.join(folder, name + ".truth.npz")) as maps:
                coat = maps[f"coat_{told['sheet']}"].astype(float)[~maps[f"outside_{told['sheet']}"]]
            low, high = np.percentile(np.log(np.maximum(coat, 0.05)), (16, 84))
            off.append((100 * (high - low) / 2 - told["coat_uneven"]) / told["coat_uneven_sigma"])
    check(not wrong, f"fresh up to {FRESH} hours, clearly fogged from 72: {', '.join(wrong) or f'{len(off)} sheets'}")
    check(max(map(abs, off)) <= COAT, f"coats: off by {max(map(abs, off)):.1f} standard uncertainties at most, "
          f"{sum(abs(o) <= 1.645 for o in off)} of {len(off)} within the 90 % interval")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--milori", required=True)
    parser.add_argument("--folder")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as own:
        folder = args.folder or own
        exposures(args.milori, folder)
        quarter_of_an_hour(args.milori, folder)
        ages_and_coats(args.milori, folder)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
