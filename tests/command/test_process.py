"""milori tablet read: simulated prints of step tablets, from the independent model of processes."""
import json
import os
import sys
import xml.etree.ElementTree

import numpy as np
from PIL import Image

from program import SOURCE, Bench, main, milori

sys.path.insert(0, os.path.join(SOURCE, "tests", "simulator"))
from process_model import Process  # noqa: E402
from tablet_print import TabletPrint  # noqa: E402

DPI = 150


class Tablet(Bench):
    def tablet(self, name, seed=3, **more):
        """A scan of a tablet's print and what drew it."""
        print_ = TabletPrint(Process(seed), np.random.default_rng(seed), dpi=DPI,
                             **{"step_mm": 5, "wide_mm": 12, **more})
        path = os.path.join(self.scans, name)
        Image.fromarray((print_.picture >> 8).astype(np.uint8)).save(path, dpi=(DPI, DPI))
        return path, print_

    def read(self, *arguments):
        return json.loads(self.check_well(milori("tablet", "read", "--json", *arguments)).stdout)[
            "tablets"]

    def check_read(self, got, true):
        """Places to a millimetre, densities of the steps to the coat's own unevenness."""
        for i, step in enumerate(got["steps"]):
            x, y = true.middle(i)
            self.assertLess(np.hypot(step["x_px"] - x, step["y_px"] - y) * 25.4 / DPI, 1.0)
            self.assertAlmostEqual(step["tablet"], true.densities[i], delta=1e-6)
        off = [s["density"] - d for s, d in zip(got["steps"], true.density_at(true.densities))]
        self.assertLess(np.abs(off).max(), 0.06)
        self.assertLess(np.abs(off).mean(), 0.015)
        least, most, scale = true.truth()
        curve = got["visual"]
        self.assertAlmostEqual(curve["least"], least, delta=0.01)
        self.assertAlmostEqual(curve["most"], most, delta=0.05)
        # Unevenness of the coat (2 % over the sheet) moves S by some 0.05.
        self.assertAlmostEqual(curve["scale"], scale, delta=0.06)
        self.assertEqual(curve["iso_range"], 10 * round(10 * curve["scale"]))

    def test_steps_are_found_however_they_lie(self):
        for seed, (turn, surround, lid, count, apart) in enumerate(
                ((4, "blue", "white", 21, 0.15), (97, "masked", "black", 31, 0.1),
                 (176, "film", "white", 11, 0.3), (-86, "blue", "black", 21, 0.15)), 3):
            with self.subTest(turn=turn, surround=surround):
                scan, true = self.tablet(f"{seed}.png", seed, turn=turn, surround=surround,
                                         lid=lid, count=count, apart=apart)
                with self.unchanged(scan):
                    got, = self.read("--densities", f"{count}x{apart}", scan)
                self.check_read(got, true)

    def test_ends_can_be_given(self):
        scan, true = self.tablet("tablet.png", 5, turn=30, digits=False)
        first, last = true.middle(0), true.middle(20)
        for a, b in ((first, last), (last, first)):  # either way about
            got, = self.read("--ends", f"{a[0]:.1f},{a[1]:.1f} {b[0]:.1f},{b[1]:.1f}", scan)
            self.check_read(got, true)

    def test_densities_of_a_calibrated_tablet(self):
        scan, true = self.tablet("tablet.png", 6)
        certificate = os.path.join(self.root, "tablet.txt")
        with open(certificate, "w", encoding="utf-8") as f:
            f.write("# by the bench\n" + "\n".join(f"{d:.2f}" for d in true.densities))
        got, = self.read("--densities", certificate, scan)
        self.check_read(got, true)
        listed, = self.read("--densities", ",".join(f"{d:.2f}" for d in true.densities), scan)
        self.assertEqual(listed, got)

    def test_orientation_tag_is_applied(self):
        scan, true = self.tablet("tablet.png", 4)
        turned = os.path.join(self.scans, "turned.tif")
        # Stored a quarter to the left: tag 6 says "turn a quarter to the right to see it".
        with Image.open(scan) as picture:
            picture.transpose(Image.Transpose.ROTATE_90).save(turned, dpi=(DPI, DPI),
                                                              tiffinfo={274: 6})
        self.check_read(self.read(turned)[0], true)

    def test_grey_scan_has_no_red(self):
        scan, _ = self.tablet("tablet.png", 7)
        grey = os.path.join(self.scans, "grey.png")
        with Image.open(scan) as picture:
            picture.convert("L").save(grey, dpi=(DPI, DPI))
        got, = self.read(grey)
        self.assertIsNone(got["red"])
        self.assertEqual({s["red_density"] for s in got["steps"]}, {None})

    def test_words_and_plot(self):
        scan, _ = self.tablet("tablet.png", 3)
        plot = os.path.join(self.root, "tablet.svg")
        said = self.check_well(milori("tablet", "read", "--plot", plot, scan)).stdout
        got, = self.read(scan)
        self.assertIn(f"exposure scale {got['visual']['scale']:.2f} +-", said)
        self.assertIn(f"R {got['visual']['iso_range']} ", said)
        self.assertLessEqual(max(map(len, said.splitlines()[:22])), 80)
        xml.etree.ElementTree.parse(plot)
        self.check_one_line(milori("tablet", "read", "--plot", plot, scan), 1, "tablet.svg")
        self.check_well(milori("tablet", "read", "--replace", "--plot", plot, scan))

    def test_every_key_is_in_the_man_page(self):
        scan, _ = self.tablet("tablet.png", 3)
        got, = self.read(scan)
        with open(os.path.join(SOURCE, "man", "milori-tablet.1"), encoding="utf-8") as f:
            page = f.read()
        for key in [*got, *got["steps"][0], *got["visual"], *got["visual"]["T"]]:
            self.assertRegex(page, rf"(?m)^\.BR? (.*[ ,])?{key}\b")

    def test_exposed_too_short_is_refused(self):
        scan, _ = self.tablet("tablet.png", 3, overshoot=-0.9, surround="masked", digits=False)
        self.check_one_line(milori("tablet", "read", scan), 1, "tablet.png", "too short",
                            "expose longer")

    def test_what_is_no_tablet_is_refused(self):
        self.check_one_line(milori("tablet", "read", self.scan("sheet.png")), 1, "sheet.png",
                            "--ends")
        blank = os.path.join(self.scans, "blank.png")
        Image.new("RGB", (600, 400), (240, 240, 240)).save(blank)
        self.check_one_line(milori("tablet", "read", blank), 1, "blank.png", "--ends")
        self.check_one_line(milori("tablet", "read", "--ends", "50,50 550,60", blank), 1,
                            "blank.png", "changes by")
        self.check_one_line(milori("tablet", "read", "--ends", "50,50 900,60", blank), 1,
                            "outside the scan")
        self.check_one_line(milori("tablet", "read", "--ends", "50,50 60,60", blank), 1, "fit")

    def test_a_bad_scan_does_not_stop_the_rest(self):
        scan, _ = self.tablet("tablet.png", 3)
        result = milori("tablet", "read", "--json", self.junk("b.tif", b"no picture"), scan)
        self.check_one_line(result, 1, "b.tif")
        self.assertEqual(len(json.loads(result.stdout)["tablets"]), 1)

    def test_wrong_use(self):
        for arguments, words in ((["tablet"], ["tablet"]), (["tablet", "x.tif"], ["read"]),
                                 (["tablet", "read"], ["read"]),
                                 (["tablet", "read", "--densities", "3x0.15", "x"], ["3x0.15"]),
                                 (["tablet", "read", "--densities", "0.1,0.2", "x"], ["5 dens"]),
                                 (["tablet", "read", "--ends", "1,2 3", "x"], ["--ends"]),
                                 (["tablet", "read", "--ends", "1,2 3,4 5", "x"], ["--ends"]),
                                 (["tablet", "read", "--ends", "1,2 3,4", "x", "y"], ["one"]),
                                 (["tablet", "read", "--palette", "blue", "x"], ["--palette"])):
            with self.subTest(arguments):
                self.check_one_line(milori(*arguments, cwd=self.root), 2, *words)


if __name__ == "__main__":
    main()
