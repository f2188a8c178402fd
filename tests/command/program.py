"""Running the real program, and small scans drawn for it."""
import contextlib
import hashlib
import os
import subprocess
import tempfile
import unittest

from PIL import Image, ImageDraw, ImageFilter

MILORI = os.environ.get("MILORI", "build/milori")
SOURCE = os.environ.get("MILORI_SOURCE", os.path.join(os.path.dirname(__file__), "..", ".."))


def milori(*arguments, cwd=None, env=None):
    """Result of one run; text as bytes-safe strings. No run may take a minute or more."""
    return subprocess.run([MILORI, *arguments], cwd=cwd, env=env, timeout=300,
                          stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                          encoding="utf-8", errors="surrogateescape", check=False)


def draw_sheet(width=520, height=400, seed=1):
    """A 35 mm frame on brushed yellow paper at 300 dpi, as a picture of the paper."""
    paper = Image.new("RGB", (width, height), (232, 226, 205))
    pen = ImageDraw.Draw(paper)
    pen.rectangle((12, 12, width - 13, height - 13), fill=(214, 200, 120))
    left, top = (width - 425) // 2, (height - 283) // 2
    for x in range(425):
        # a glasshouse wall in eight steps of dye, with a bean pole across
        step = (x * 8) // 425
        part = 1 - 0.09 * step
        colour = (int(205 * part), int(196 * (part + 1) / 2), int(122 * (2.5 - part) / 1.5))
        pen.line((left + x, top, left + x, top + 282), fill=colour)
    pen.rectangle((left + 100 + 20 * seed, top + 40, left + 112 + 20 * seed, top + 240),
                  fill=(60, 90, 130))
    return paper.filter(ImageFilter.GaussianBlur(0.7))


def draw_scan(sheets=1, bed=(250, 250, 250)):
    """That many sheets side by side on the glass."""
    scan = Image.new("RGB", (40 + 560 * sheets, 480), bed)
    for i in range(sheets):
        scan.paste(draw_sheet(seed=i + 1), (40 + 560 * i, 40))
    # paper texture, the same every time
    noise = Image.frombytes("L", scan.size, hashlib.shake_128(b"tooth").digest(
        scan.size[0] * scan.size[1])).point(lambda v: v // 43)
    return Image.blend(scan, Image.merge("RGB", (noise,) * 3), 0.02)


def save(picture, path, **more):
    picture.save(path, dpi=(300, 300), **more)


class Bench(unittest.TestCase):
    """A fresh folder with scans/ in it, and checks that every test shares."""

    def setUp(self):
        place = tempfile.TemporaryDirectory(prefix="milori test ")
        self.addCleanup(place.cleanup)
        self.root = place.name
        self.scans = os.path.join(self.root, "scans")
        self.out = os.path.join(self.root, "positives")
        os.mkdir(self.scans)

    def scan(self, name, sheets=1, **more):
        path = os.path.join(self.scans, name)
        save(draw_scan(sheets), path, **more)
        return path

    def junk(self, name, content):
        path = os.path.join(self.scans, name)
        with open(path, "wb") as f:
            f.write(content)
        return path

    def made(self, folder=None):
        """Everything in the output folder, hidden names too."""
        folder = folder or self.out
        return sorted(os.listdir(folder)) if os.path.isdir(folder) else []

    def check_well(self, result):
        self.assertEqual(result.returncode, 0, result.stderr)
        return result

    def check_one_line(self, result, status, *words):
        """One line of error that says these words, and that exit status."""
        self.assertEqual(result.returncode, status, result.stdout + result.stderr)
        lines = [line for line in result.stderr.splitlines() if line.startswith("milori: ")]
        self.assertEqual(len(lines), 1, result.stderr)
        for word in words:
            self.assertIn(word, lines[0])
        self.assertTrue(all(ord(c) >= 32 for c in lines[0]), lines[0])
        return lines[0]

    @contextlib.contextmanager
    def unchanged(self, *paths):
        """The files keep their bytes and their times."""
        def state():
            return [(p, digest(p), os.stat(p).st_mtime_ns) for p in paths]
        before = state()
        yield
        self.assertEqual(before, state())


def digest(path):
    with open(path, "rb") as f:
        return hashlib.sha256(f.read()).hexdigest()


def main():
    unittest.main(verbosity=2)
