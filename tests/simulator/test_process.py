"""The user's process, measured by milori and judged by the independent model.

For each of 36 processes: a tone target on a coat, read as a list of patches; the curve
milori makes of it; a second target printed with that curve on a fresh coat; and then a
scale of even tones on yet another coat, with either curve. The error is that print's L*
against the even tones that the curve promised. Beside it stands the same print made with
the process's true curve: what is left there is how coats differ, which no measuring takes
away, and the error against the print's own ends, which leaves the depth of the coat out.

Fails if after two rounds the mean error is not below 1 L* or the worst tone of all is not
below 2.5 L*; if a target exposed two stops too short passes; or if the stated spreads do
not hold.
"""
import argparse
import json
import os
import subprocess
import sys
import tempfile

import numpy as np

from process_model import Noise, Process, even_curve, lightness

TONES, PLACES = 33, 8
LEVELS, REPEATS = 26, 4
LEFT_UNEVEN = 0.3  # of what is smooth over the sheet, after the chart's reader took it off


class Tool:
    def __init__(self, path, folder):
        self.path, self.folder = path, folder

    def fit(self, rows, name, printed=None):
        """What the fit said, or the words of its refusal."""
        text = "\n".join(" ".join(f"{v:.9g}" for v in row) for row in rows)
        arguments = [self.path, "fit", self.file(name)] + ([self.file(printed)] if printed else [])
        run = subprocess.run(arguments, input=text, capture_output=True, encoding="utf-8",
                             timeout=120, check=False)
        if run.returncode not in (0, 1):
            raise RuntimeError(run.stderr)
        return json.loads(run.stdout) if run.returncode == 0 else run.stderr.strip()

    def file(self, name):
        return os.path.join(self.folder, name + ".json")

    def ask(self, what, name, count):
        run = subprocess.run([self.path, what, self.file(name), str(count)], capture_output=True,
                             encoding="utf-8", timeout=120, check=True)
        return np.array([float(line) for line in run.stdout.split()])


def places(rng, count):
    return rng.uniform(-1, 1, (count, 2))


def target(rng, process, coat, noise, curve=None):
    """Rows of a target's patches: even tones through curve, or even inks; shuffled."""
    tones = np.repeat(np.linspace(0, 1, LEVELS), REPEATS)
    ink = tones if curve is None else np.interp(tones, np.linspace(0, 1, len(curve)), curve)
    xy = places(rng, len(ink))
    L = process.print_patches(rng, coat, ink, xy, noise, LEFT_UNEVEN)
    blue = np.clip((95 - L) / 70, 0, 1)
    return np.column_stack([ink, L, -4 * blue, -38 * blue, np.full(len(ink), 0.05),
                            100 + 90 * xy])


def scale_print(rng, process, coat, noise, ink):
    """L* of a scale of tones, each the mean of several places of the print."""
    clean = Noise(**{**vars(noise), "spoiled": 0.0})
    L = process.print_patches(rng, coat, np.repeat(ink, PLACES), places(rng, TONES * PLACES), clean)
    return L.reshape(TONES, PLACES).mean(1)


def off(L, dark, light):
    """Mean and worst distance from even tones between dark and light."""
    error = np.abs(L - np.linspace(dark, light, len(L)))
    return np.array([error.mean(), error.max()])


def judge(tool, seed, noise):
    """One process: rows of (mean, worst) and what the fits said."""
    process = Process(seed)
    rng = np.random.default_rng(100000 + seed)
    said = [tool.fit(target(rng, process, process.coat(rng, noise), noise), "one")]
    if isinstance(said[0], str):
        return process, said, None
    curve = tool.ask("ink", "one", 1025)
    said.append(tool.fit(target(rng, process, process.coat(rng, noise), noise, curve), "two", "one"))
    if isinstance(said[1], str):
        return process, said, None
    fresh = process.coat(rng, noise)
    state = rng.bit_generator.state
    result = {}
    inks, Ls = process.truth()
    for name in ("none", "one", "two", "true"):
        rng.bit_generator.state = state
        if name == "none":
            ink, promised = np.linspace(0, 1, TONES), Ls
        elif name == "true":
            ink, promised = even_curve(inks, Ls)(np.linspace(0, 1, TONES)), Ls
        else:
            ink, promised = tool.ask("ink", name, TONES), tool.ask("lightness", name, 2)
        L = scale_print(rng, process, fresh, noise, ink)
        result[name] = np.concatenate([off(L, promised[0], promised[-1]), off(L, L[0], L[-1])])
    got = tool.ask("lightness", "two", 257) - Ls
    result["curve"] = np.array([np.abs(got).mean(), np.abs(got).max()])
    return process, said, result


def short_exposures(tool, seeds, noise):
    """How many targets are refused as exposed too short, by stops short."""
    counts = {}
    for stops in (0, 1, 2, 3):
        refused = noted = 0
        for seed in seeds:
            process = Process(seed, stops)
            rng = np.random.default_rng(200000 + seed)
            said = tool.fit(target(rng, process, process.coat(rng, noise), noise), "short")
            refused += isinstance(said, str) and "too short" in said
            noted += not isinstance(said, str) and "exposure" in said["notes"]
        counts[stops] = (refused, noted, len(seeds))
    return counts


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tool", required=True)
    parser.add_argument("--seeds", type=int, default=36)
    parser.add_argument("--first", type=int, default=1)
    args = parser.parse_args()
    noise = Noise()
    print("noise (standard deviations): " + ", ".join(f"{k} {v:g}" for k, v in vars(noise).items()))
    print(f"{LEVELS} inks x {REPEATS} patches; {LEFT_UNEVEN:.0%} of the unevenness left in them")
    print("seed family   film     scale dmax | no curve    | round 1     | round 2     | true curve "
          " | own ends, 2 | curve")
    rows, failed = [], False
    with tempfile.TemporaryDirectory(prefix="milori process ") as folder:
        tool = Tool(args.tool, folder)
        for seed in range(args.first, args.first + args.seeds):
            process, said, result = judge(tool, seed, noise)
            head = (f"{seed:4d} {process.family:8s} {process.film:8s} {process.scale:5.2f} "
                    f"{process.dmax:4.2f}")
            if result is None:
                print(head, "REFUSED", said[-1])
                failed = True
                continue
            rows.append(np.concatenate([result["none"][:2], result["one"][:2], result["two"][:2],
                                        result["true"][:2], result["two"][2:], result["curve"]]))
            print(head + "".join(f" | {a:5.2f} {b:5.2f}" for a, b in rows[-1].reshape(-1, 2)))
        rows = np.array(rows)
        print("mean of means, worst of all" + "".join(
            f" | {rows[:, i].mean():5.2f} {rows[:, i + 1].max():5.2f}"
            for i in range(0, rows.shape[1], 2)))
        print("median, 90 % of the worsts " + "".join(
            f" | {np.median(rows[:, i]):5.2f} {np.quantile(rows[:, i + 1], .9):5.2f}"
            for i in range(0, rows.shape[1], 2)))
        short = short_exposures(tool, range(args.first, args.first + args.seeds), noise)
        for stops, (refused, noted, of) in short.items():
            print(f"exposed {stops} stops short: {refused} of {of} refused, {noted} with a note")
    failed = failed or rows[:, 4].mean() >= 1 or rows[:, 5].max() >= 2.5
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
