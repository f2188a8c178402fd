"""The tables that score.py prints."""
import numpy as np

COLUMNS = (("milori", ".2f", 7), ("luminance", ".2f", 7), ("red", ".2f", 7), ("true", ".2f", 7),
           ("tone", ".2f", 6), ("curve", ".2f", 6), ("corner", ".3f", 7), ("tilt", ".3f", 6), ("sun", ".3f", 6))
SHORT = {"luminance": "lumin."}
WRONG = 0.3  # mm by which a corner may be off
CLASSES = (("up to 40 mm", 0, 40), ("40 to 75 mm", 40, 75), ("over 75 mm", 75, 1e9))  # long side


def cell(row, key, form):
    value = row.get(key)
    return "-" if value is None else format(value, form)


def gains(rows):
    return [r["milori"] - r["red"] for r in rows if "milori" in r]


def values(rows, key):
    """A column without what is missing or no number."""
    return [r[key] for r in rows if r.get(key) is not None and np.isfinite(r[key])]


def wrong_and_sure(rows):
    return [r["name"] for r in rows if "corner" in r and not r["unsure"] and r["corner"] > WRONG]


def table(rows, own):
    """Print the rows and the summary."""
    heads = " ".join(f"{own if k == 'milori' else SHORT.get(k, k):>{w}s}" for k, _, w in COLUMNS)
    print(f"{'sheet':24s} {heads}  note")
    for r in rows:
        note = " ".join(filter(None, [r.get("note"), "unsure" if r.get("unsure") else ""]))
        print(f"{r['name']:24s} " + " ".join(f"{cell(r, k, form):>{w}s}" for k, form, w in COLUMNS) + f"  {note}")
    for title, take in (("mean", np.mean), ("median", np.median), ("worst", np.min)):
        found = [take(values(rows, k) or [np.nan]) for k in ("milori", "luminance", "red", "true")]
        print(f"{title:24s} " + " ".join(f"{v:7.2f}" for v in found))
    below = [r["name"] for r in rows if "milori" in r and r["milori"] < r["red"] - 0.3]
    print(f"{len(rows)} sheets, {sum('milori' not in r for r in rows)} without a positive, "
          f"{len(below)} more than 0.3 dB below red: {', '.join(below) or 'none'}")
    gain = gains(rows)
    if gain:
        print(f"gain over red: mean {np.mean(gain):.2f}, median {np.median(gain):.2f}, "
              f"worst tenth {np.percentile(gain, 10):.2f}, worst {min(gain):.2f} dB")
    tones(rows)
    frames(rows)
    margins(rows)


def tones(rows):
    """Summary of the tone error; the goal is 0.15."""
    for key, what in (("tone", "every cell"), ("curve", "the curve alone"), ("true_tone", "true amount, every cell")):
        off = values(rows, key)
        if off:
            print(f"tone error, {what}: mean {np.mean(off):.3f}, median {np.median(off):.3f}, "
                  f"worst {max(off):.3f} stops; {sum(v <= 0.15 for v in off)} of {len(off)} within 0.15")


def frames(rows):
    """Summary of geometry: found, unsure, confident and wrong."""
    seen = [r for r in rows if "corner" in r]
    if not seen:
        return
    wrong = wrong_and_sure(rows)
    sure = values([r for r in seen if not r["unsure"]], "corner")
    print(f"frames: {len(seen)} of {len(rows)} sheets found, {sum(r['unsure'] for r in seen)} unsure, "
          f"{len(wrong)} sure but over {WRONG} mm: {', '.join(wrong) or 'none'}; "
          f"worst sure corner {max(sure, default=float('nan')):.3f} mm")


def margins(rows):
    """Summary of base + fog; goals: within 0.01, and 90 % inside the 90 % interval."""
    off, apart = values(rows, "base"), [d for r in rows for d in r.get("base_sd", [])]
    if off:
        print(f"base + fog of the margin, red density: mean error {np.mean(off):.4f}, worst {max(off):.4f}, "
              f"{sum(v <= 0.01 for v in off)} of {len(off)} within 0.01; {within(apart)}")
    for origin, real in (("found", True), ("assumed", False)):
        some = [r for r in rows if r.get("fog_found") == real]
        if some:
            fog = values(some, "fog")
            print(f"fog of the margin, {origin}: {len(some)} sheets, mean error {np.mean(fog):.4f}, "
                  f"worst {max(fog):.4f}; {within(values(some, 'fog_sd'))}")


def within(apart):
    """Coverage of the interval that a normal error of the given size fills nine times in ten."""
    return f"{100 * np.mean(np.array(apart) <= 1.645):.0f} % inside the 90 % interval"


def by_size(rows):
    """The same by the frame's long side."""
    print(f"{'long side of the frame':24s} {'sheets':>7s} {'milori':>7s} {'red':>7s} {'gain':>7s} {'worst':>7s} "
          f"{'tone':>7s} {'corner':>7s} {'unsure':>7s}")
    for title, low, high in CLASSES:
        some = [r for r in rows if low < r["long_mm"] <= high]
        if not some:
            continue
        sure = [r for r in some if not r.get("unsure", True)]
        numbers = [np.mean(values(some, "milori") or [np.nan]), np.mean(values(some, "red")),
                   np.mean(gains(some) or [np.nan]), min(gains(some), default=np.nan),
                   np.mean(values(some, "tone") or [np.nan]), max(values(sure, "corner"), default=np.nan)]
        print(f"{title:24s} {len(some):7d} " + " ".join(f"{v:7.2f}" for v in numbers)
              + f" {sum(bool(r.get('unsure')) for r in some):7d}")
