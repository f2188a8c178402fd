#!/usr/bin/env python3
"""Exposure order of a series of one scene, from `milori measure --json` alone.

usage: test_series.py --milori BINARY
milori tells no exposure yet. It tells the unexposed paper's noise as a part of
the light tones' amount, so on like paper and one scanner its inverse is how
deep the picture is: it must grow with every step of series-02 .. series-60, and
while the dye is far from its most, by about as many stops as the light did
(print-out density grows in proportion to exposure while small: common practice,
no source; a third of a stop's tolerance a step is ours).
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

SHORT = 8  # minutes up to which the dye is far from its most
TOLERANCE = 1 / 3  # stops a step


def depth(milori, scan):
    run = subprocess.run([milori, "measure", "--json", scan], capture_output=True, text=True, check=True)
    (sheet,) = json.loads(run.stdout)["sheets"]
    return 1 / sheet["noise"]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--milori", required=True)
    milori = parser.parse_args().milori
    series = {s.sheets[0].minutes: s for name, s in recipes.named().items() if name.startswith("series-")}
    minutes = np.array(sorted(series))
    with tempfile.TemporaryDirectory() as folder:
        found = np.array([depth(milori, simulate.simulate(series[m], folder)) for m in minutes])
    light, seen = np.diff(np.log2(minutes)), np.diff(np.log2(found))
    print("minutes        stops more   seen")
    for m, more, here in zip(minutes[1:], light, seen):
        print(f"{m:7.0f} {more:17.2f} {here:6.2f}")
    good = len(minutes) >= 6 and bool((seen > 0).all())
    print(f"{'ok  ' if good else 'MISS'} order of {len(minutes)} exposures")
    short = minutes[1:] <= SHORT
    off = float(np.abs(seen - light)[short].max())
    print(f"{'ok  ' if off <= TOLERANCE else 'MISS'} steps up to {SHORT} minutes: off by {off:.2f} stops at most, "
          f"allowed {TOLERANCE:.2f}")
    return 0 if good and off <= TOLERANCE else 1


if __name__ == "__main__":
    sys.exit(main())
