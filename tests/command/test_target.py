"""milori target: films of charts, their simulated blue prints, and what is read of them.

The prints are made by tests/simulator/contact*.py, which read the film as any printer
would and share no formula with milori; what is true of a patch (its ink, and the
lightness that the process gives under it) comes from there and from the film's own codes.
"""
import json
import os
import sys
import unittest

import numpy as np
import tifffile
from PIL import Image

from program import SOURCE, Bench, milori

sys.path.insert(0, os.path.join(SOURCE, "tests", "simulator"))
import bundled_print  # noqa: E402
import contact_scan  # noqa: E402
import process_model  # noqa: E402
from contact import PrintSpec  # noqa: E402
from contact_scan import GlassSpec  # noqa: E402
from specs import FileSpec  # noqa: E402

JPEG = dict(dpi=150, file=FileSpec(kind="jpg", bits=8, quality=90))


class Films(Bench):
    def film(self, name="film.tif", *options):
        path = os.path.join(self.root, name)
        result = milori("target", "make", "-o", path, "--paper", "4x5in", "--print-dpi", "240", *options)
        self.assertEqual(result.returncode, 0, result.stderr)
        return path

    def printed(self, film, spec=None, **glass):
        """A scan of the film's print, and what is true of it."""
        path = os.path.join(self.scans, f"print{len(os.listdir(self.scans))}.jpg")
        return path, contact_scan.scan(film, path, spec or PrintSpec(), GlassSpec(**{**JPEG, **glass}))

    def read(self, scan, *options):
        result = milori("target", "read", scan, "--json", *options)
        self.assertEqual(result.returncode, 0, result.stderr)
        return json.loads(result.stdout)

    def refused(self, scan, word, *options, status=1):
        result = milori("target", "read", scan, *options)
        self.assertEqual(result.returncode, status, result.stdout)
        self.assertIn(word, result.stderr)
        self.assertEqual(len(result.stderr.strip().splitlines()), 1, result.stderr)


class Making(Films):
    def test_sizes_and_codes_by_other_readers(self):
        film = self.film()
        with tifffile.TiffFile(film) as file:
            page = file.pages[0]
            self.assertEqual(page.shape, (1200, 960, 3))  # 5 x 4 in at 240 dpi
            self.assertEqual(page.tags["XResolution"].value[0] / page.tags["XResolution"].value[1], 240)
            self.assertNotIn("InterColorProfile", page.tags)  # colour management off
            codes = page.asarray()
        self.assertEqual(codes.dtype, np.uint16)
        self.assertTrue((codes[0] == 65535).all())  # clear film round the chart
        picture = Image.open(self.film("film.png", "--ink", "#0a4"))
        self.assertEqual(picture.size, (960, 1200))
        self.assertAlmostEqual(picture.info["dpi"][0], 240, delta=0.02)
        self.assertNotIn("icc_profile", picture.info)
        self.assertEqual(np.asarray(picture.convert("RGB")).reshape(-1, 3).min(axis=0).tolist(), [0, 170, 68])

    def test_the_bar_is_as_long_as_it_says(self):
        codes = tifffile.imread(self.film())[..., 0]
        runs = []  # of full ink in the rows below the chart
        for row in codes[960:1100]:
            dark = np.flatnonzero(row < 1000)
            runs.append(dark[-1] - dark[0] + 1 if len(dark) and np.diff(dark).max(initial=1) == 1 else 0)
        self.assertLessEqual(abs(max(runs) - 50 / 25.4 * 240), 1)

    def test_refusals(self):
        path = os.path.join(self.root, "x.tif")
        for options, word in ((["--kind", "grey"], "--kind"), (["--ink", "#12"], "--ink"),
                              (["--paper", "60x60mm"], "too small"), (["--noise", "0"], "--noise"),
                              (["--shuffle", "9"], "--shuffle"), (["--ink", "#fff"], "no ink")):
            result = milori("target", "make", "-o", path, *options)
            self.assertEqual(result.returncode, 2, options)
            self.assertIn(word, result.stderr)
            self.assertFalse(os.path.exists(path))
        self.assertEqual(milori("target", "make", "-o", os.path.join(self.root, "x.gif")).returncode, 2)
        self.assertEqual(milori("target", "make").returncode, 2)
        film = self.film()
        self.assertIn("already", milori("target", "make", "-o", film).stderr)


class Tones(Films):
    def check_tones(self, read, truth, least):
        """Every patch that was used has the tone of the ink at its place on the film."""
        used = [p for p in read["patches"] if p["used"]]
        self.assertGreaterEqual(len(used), least)
        ink, L = np.array([p["ink"] for p in used]), np.array([p["L"] for p in used])
        error = L - truth.lightness(ink)
        self.assertLess(np.abs(error).max(), 3.5)
        means = [error[ink == level].mean() for level in np.unique(ink)]
        self.assertLess(np.abs(means).mean(), 0.8)
        codes = tifffile.imread(self.film_path)[:, ::-1, 0] / 65535  # as the print reads
        left = (codes.shape[1] / 240 * 25.4 - 10 * read["columns"]) / 2
        top = (codes.shape[0] / 240 * 25.4 - 10 * read["rows"]) / 2
        for p in used:
            at = [int((o + v) / 25.4 * 240) for o, v in ((top, p["y_mm"]), (left, p["x_mm"]))]
            self.assertAlmostEqual(1 - codes[at[0], at[1]], p["ink"], delta=1e-4)

    def setUp(self):
        super().setUp()
        self.film_path = self.film()

    def test_a_good_print(self):
        scan, truth = self.printed(self.film_path, tilt=2)
        read = self.read(scan)
        self.check_tones(read, truth, 60)
        self.assertEqual((read["kind"], read["mirrored"], read["ink"]), ("tone", False, "#000"))
        self.assertLess(read["repeat_sigma"], 1)

    def test_tilted_torn_curled_stained_unbrushed_and_dusty(self):
        spec = PrintSpec(seed=5, process=8, stains=((40, 40, 9, 0.8),), light=(0.06, 0.04), rim=6, border=6,
                         gap=(70, 70, 80, 60, 5))
        scan, truth = self.printed(self.film_path, spec, tilt=-20, turn=90, curl=2.5, torn=(1, 50, 55), dust=60,
                                   hairs=6)
        read = self.read(scan)
        self.check_tones(read, truth, 40)
        self.assertGreater(read["spoiled"], 4)
        self.assertTrue(any("spoiled" in note for note in read["notes"]))

    def test_every_quarter_turn_and_the_glyph(self):
        for turn in (0, 180, 270):
            scan, truth = self.printed(self.film_path, turn=turn, dpi=100)
            self.check_tones(self.read(scan), truth, 50)
            picture = np.rot90(np.asarray(Image.open(scan))[..., 0], turn // 90).astype(float)
            # The pennant stands left above the chart and points right, as on the page: on the
            # film it points left. Paper of 14 mm round the film, 5 mm of glass round that.
            x, y = 19 + (101.6 - 70) / 2, 19 + (127 - 90) / 2 - 10.8
            square = picture[int((y - 1) / 0.254):int((y + 8) / 0.254), int((x - 5) / 0.254):int((x + 5) / 0.254)]
            left, right = square[:, :19].mean(), square[:, 19:].mean()
            self.assertGreater(right, left + 20)

    def test_a_mirrored_print_is_read_and_said(self):
        scan, truth = self.printed(self.film_path, PrintSpec(film_mirrored_again=True), turn=90)
        read = self.read(scan)
        self.check_tones(read, truth, 50)
        self.assertTrue(read["mirrored"])
        self.assertIn("mirrored", " ".join(read["notes"]))

    def test_curve_and_the_next_round(self):
        scan, _ = self.printed(self.film_path)
        curve, plot = (os.path.join(self.root, n) for n in ("curve.json", "curve.svg"))
        result = milori("target", "read", scan, "-o", curve, "--plot", plot, "--name", "rag, own coat")
        self.assertEqual(result.returncode, 0, result.stderr)
        with open(plot, encoding="utf-8") as f:
            self.assertIn("<svg", f.read(2000))
        with open(curve, encoding="utf-8") as f:
            self.assertIn("rag, own coat", f.read())
        self.assertIn("already", milori("target", "read", scan, "-o", curve).stderr)
        second = self.film("second.tif", "--process", curve)
        scan2, truth = self.printed(second, PrintSpec(seed=2))
        self.refused(scan2, "--process", status=2)
        self.refused(scan, "leave --process out", "--process", curve, status=2)
        read = self.read(scan2, "--process", curve)
        used = [p for p in read["patches"] if p["used"]]
        error = np.array([p["L"] for p in used]) - truth.lightness([p["ink"] for p in used])
        self.assertLess(np.abs(error).max(), 3.5)
        self.assertLess(read["answer"]["missed_mean"], 1.5)  # the first print's was above 5

    def test_prints_that_cannot_be_trusted(self):
        scan, _ = self.printed(self.film_path, PrintSpec(stops_short=3))
        self.refused(scan, "expose")
        scan, _ = self.printed(self.film_path, PrintSpec(reversal=0.35))
        self.refused(scan, "reversed")
        self.refused(self.film_path, "film")
        self.refused(os.path.join(SOURCE, "testdata", "bean-poles.jpg"), "no chart found")
        scan, _ = self.printed(self.film_path)
        picture = Image.open(scan)
        hard = picture.point(lambda v: max(0, min(255, int((v - 128) * 2.5 + 100))))
        clipped = os.path.join(self.root, "clipped.png")
        hard.save(clipped, dpi=(150, 150))
        self.refused(clipped, "clipped")
        with open(scan, "rb") as f:
            half = f.read()
        self.refused(self.junk("half.jpg", half[: len(half) // 2]), "half.jpg")


class Bundled(Films):
    def test_the_print_in_testdata(self):
        scan = os.path.join(SOURCE, "testdata", "prints", "target-print.jpg")
        self.assertLess(os.path.getsize(scan), 400000)
        read = self.read(scan)
        self.assertEqual((read["columns"], read["rows"], read["mirrored"]), (12, 17, False))
        used = [p for p in read["patches"] if p["used"]]
        self.assertGreater(len(used), 195)
        self.assertGreater(read["spoiled"], 0)  # it has a stain
        process = process_model.Process(bundled_print.PROCESS)
        true = process_model.lightness(process.density(process.PERFECT, np.array([p["ink"] for p in used])))
        # The scanner's colours are near, not exact (tests/simulator/scanner.py).
        self.assertLess(np.abs(np.array([p["L"] for p in used]) - true).max(), 4)


class Answers(Films):
    def strips(self, read_rows, stops, middle):
        """Of a print whose strip number middle got the time that the process was made for."""
        top = (127 - 90) / 2
        return [(-99 if i == 0 else top + 10 * i, 0.30103 * stops * (i - middle)) for i in range(read_rows)]

    def test_time(self):
        film = self.film("time.tif", "--kind", "time", "--strip-stops", "1")
        spec = PrintSpec(process=6, strips=self.strips(9, 1, 6), side=(25, 77), light=(0.01, 0.01))
        scan, truth = self.printed(film, spec, tilt=3)
        read = self.read(scan)
        self.assertEqual(read["kind"], "time")
        answer = read["answer"]
        L = [strip["L"] for strip in answer["strips"]]
        # By the process itself: the first strip that the deepest is darker than by less than just.
        process = truth.made.process
        true = process_model.lightness(process.density(
            process.PERFECT, 0.0, np.array([e for _, e in spec.strips])))
        np.testing.assert_allclose(L, true, atol=2.0)
        first = next(i for i in range(9) if true[i] - true[i:].min() <= answer["just"])
        self.assertLessEqual(abs(answer["strip"] - 1 - first), 1)
        self.assertFalse(answer["turned"])
        self.assertIn("leave -o out", milori("target", "read", scan, "-o", self.out).stderr)

    def test_time_too_short(self):
        film = self.film("time.tif", "--kind", "time")
        scan, _ = self.printed(film, PrintSpec(process=6, strips=self.strips(9, 0.5, 13), side=(25, 77)))
        self.refused(scan, "too short")

    def test_ink(self):
        film = self.film("ink.tif", "--kind", "ink")
        scan, _ = self.printed(film, PrintSpec(process=6, hues=True), tilt=-4)
        read = self.read(scan)
        ramps = {r["ink"]: r for r in read["answer"]["ramps"]}
        self.assertEqual(len(ramps), 7)
        # The simulated dyes: black stops all, red (yellow and magenta) nearly, cyan hardly.
        self.assertTrue(ramps["#000"]["covers"] and ramps["#f00"]["covers"])
        self.assertGreater(ramps["#f00"]["needed"], ramps["#000"]["needed"])
        self.assertEqual(read["answer"]["best"], "#f00")
        self.assertFalse(ramps["#0ff"]["covers"])
        self.assertLess(ramps["#0ff"]["light_L"], 50)


if __name__ == "__main__":
    unittest.main()
