"""The bundled scans: frames where the simulator put them, and pictures that match what it drew."""
import glob
import json
import math
import os
import tempfile
import unittest

import numpy as np
from PIL import Image

from program import SOURCE, milori

TESTDATA = os.path.join(SOURCE, "testdata")
MOST_MM = 0.3  # issue's goal for every corner that shows


def truths():
    for path in sorted(glob.glob(os.path.join(TESTDATA, "truth", "*.truth.json"))):
        with open(path, encoding="utf-8") as file:
            yield json.load(file)


def measured(name):
    run = milori("measure", "--json", os.path.join(TESTDATA, name))
    return json.loads(run.stdout)["sheets"]


class Bundled(unittest.TestCase):
    def test_corners_and_tilt(self):
        count = 0
        for truth in truths():
            sheets = measured(truth["file"])
            self.assertEqual(len(sheets), len(truth["sheets"]), truth["file"])
            for sheet, true in zip(sheets, truth["sheets"]):
                mm = 25.4 / truth["dpi"]
                for found, real, shows in zip(sheet["frame"]["corners_px"], true["frame_px"],
                                              true["corner_shows"]):
                    if shows:
                        count += 1
                        self.assertLess(math.dist(found, real) * mm, MOST_MM, truth["file"])
                self.assertLess(abs(sheet["tilt_deg"] - true["tilt_deg"]), 0.3, truth["file"])
                for side, want in zip(sheet["frame"]["size_mm"], true["size_mm"]):
                    self.assertAlmostEqual(side, want, delta=0.4, msg=truth["file"])
        self.assertGreater(count, 30)

    def test_base_density_is_the_margins(self):
        """Within 0.05 of the simulator's mean over the margin, fog included; milori gives the
        margin's middle value."""
        for truth in truths():
            for sheet, true in zip(measured(truth["file"]), truth["sheets"]):
                for found, real in zip(sheet["base_density"], true["base_fog_density"]):
                    self.assertAlmostEqual(found, real, delta=0.05, msg=truth["file"])

    def test_neutral_positives_are_neutral_and_full(self):
        with tempfile.TemporaryDirectory() as folder:
            run = milori("positive", "--quiet", "--format", "png", "--depth", "8", TESTDATA, "-o",
                         folder)
            self.assertEqual(run.returncode, 0, run.stderr)
            names = sorted(os.listdir(folder))
            self.assertEqual(len(names), 9)
            for name in names:
                codes = np.asarray(Image.open(os.path.join(folder, name)).convert("RGB")).astype(int)
                self.assertEqual(int(np.ptp(codes, axis=2).max()), 0, name)
                low, high = np.percentile(codes, (2, 98))
                self.assertLess(low, 90, name)
                self.assertGreater(high, 170, name)


if __name__ == "__main__":
    unittest.main()
