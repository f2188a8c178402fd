#!/usr/bin/env python3
"""Prove the scoring on small sheets made on the fly; exits 1 on a miss.

Expectations are computed from what the score is: an ideal positive (a curve and
a crop slightly off, nothing else) loses nearly nothing, beats the true amount
of dye, which still holds the coat, and loses most of it when it is the wrong
way round.
"""
import os
import sys
import tempfile

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import score  # noqa: E402
import simulate  # noqa: E402
import tables  # noqa: E402
from fidelity import Target, lightness  # noqa: E402
from ideal import ideal_positive  # noqa: E402
from recipes import ROUGH, one, several  # noqa: E402

SMALL = dict(dpi=150, room=2.0)
SHEETS = [
    ("mirror", one(901, "", dict(scene="scarecrow", size=(36, 24), turn=90, mirrored=False, **ROUGH), **SMALL)),
    ("pair", several(902, "", [dict(scene="seed trays", size=(24, 36), turn=270),
                               dict(scene="bean poles", size=(36, 24), turn=180)], **SMALL)),
]
MISSES = []


def expect(what, good):
    print(f"{'ok  ' if good else 'MISS'} {what}")
    if not good:
        MISSES.append(what)


def wrong_way(folder):
    """Score of an ideal positive left mirrored: the scoring must not forgive it."""
    for _, name, head, maps in score.scans(folder, ["mirror"]):
        scene = maps["scene_1"].astype(float)
        target = Target(scene, maps["sun_1"] | maps["outside_1"])
        image = score.upright(ideal_positive(scene, head["sheets"][0], 0), head["sheets"][0])
        return target.score(image[:, ::-1], lightness)[0]


def main():
    with tempfile.TemporaryDirectory() as folder:
        for name, scan in SHEETS:
            scan.name = name
            simulate.simulate(scan, folder)
        rows = score.score_folder(folder, ideal=True)
        tables.table(rows, "ideal")
        expect(f"3 sheets on 2 scans: {len(rows)}", len(rows) == 3)
        for r in rows:
            expect(f"{r['name']}: ideal {r['milori']:.1f} dB, at least 30", r["milori"] >= 30)
            expect(f"{r['name']}: ideal above the true amount's {r['true']:.1f} dB", r["milori"] > r["true"])
            expect(f"{r['name']}: true amount above red's {r['red']:.1f} dB", r["true"] > r["red"])
            expect(f"{r['name']}: red above luminance's {r['luminance']:.1f} dB", r["red"] > r["luminance"])
        wrong = wrong_way(folder)
        right = next(r["milori"] for r in rows if r["name"] == "mirror")
        # Not near 0: sky stays above ground whichever way round.
        expect(f"the wrong way round: {wrong:.1f} dB, 20 less at least", wrong < right - 20)
    return 1 if MISSES else 0


if __name__ == "__main__":
    sys.exit(main())
