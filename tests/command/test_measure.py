"""milori measure: a table for people, JSON for programs."""
import json
import os

from program import SOURCE, Bench, main, milori

KEYS = {"file", "sheet", "bits", "profile", "dpi", "frame", "tilt_deg", "base_density", "fog",
        "stain", "range", "noise", "sun_fraction", "notes", "tarnish", "coat_uneven", "tones",
        "strength", "strength_most", "exposure", "next_stops"}


class Measure(Bench):
    def test_json_has_the_keys_of_the_man_page(self):
        scan = self.scan("shed.tif")
        two = self.scan("beds.png", sheets=2)
        with self.unchanged(scan, two):
            result = self.check_well(milori("measure", "--json", self.scans))
        sheets = json.loads(result.stdout)["sheets"]
        self.assertEqual([s["sheet"] for s in sheets], [1, 2, 1])
        for sheet in sheets:
            self.assertLessEqual(KEYS, set(sheet))
            self.assertEqual(len(sheet["base_density"]), 3)
            self.assertEqual(len(sheet["frame"]["corners_px"]), 4)
            self.assertEqual(len(sheet["frame"]["size_mm"]), 2)
            self.assertIn(sheet["frame"]["sides_found"], range(5))
            self.assertEqual(sheet["bits"], 8)
            # PNG counts whole pixels a metre
            self.assertAlmostEqual(sheet["dpi"], 300, delta=0.01)
            self.assertIsInstance(sheet["notes"], list)
        self.assertEqual(sorted(os.listdir(self.root)), ["scans"], "nothing is written")

    def test_every_key_is_in_the_man_page(self):
        sheet = json.loads(milori("measure", "--json", self.scan("shed.tif")).stdout)["sheets"][0]
        with open(os.path.join(SOURCE, "man", "milori-measure.1"), encoding="utf-8") as f:
            page = f.read()
        keys = list(sheet) + list(sheet["frame"])
        for key in keys:
            for tail in ("_sigma", "_origin"):
                if key.endswith(tail) and key[:-len(tail)] in keys:
                    key = key[:-len(tail)]
            self.assertIn(f".TP\n.B {key}\n", page)

    def test_frame_is_where_it_was_drawn(self):
        # Drawn at 40 + (520 - 425) / 2 and 40 + (400 - 283) / 2, 425 x 283 px at 300 dpi.
        sheet = json.loads(milori("measure", "--json", self.scan("shed.tif")).stdout)["sheets"][0]
        drawn = [(87, 98), (512, 98), (512, 381), (87, 381)]
        for found, true in zip(sheet["frame"]["corners_px"], drawn):
            for a, b in zip(found, true):
                self.assertAlmostEqual(a, b, delta=0.3 / 25.4 * 300 + 1)

    def test_a_frame_size_that_is_not_seen_is_said(self):
        scan = self.scan("shed.tif")
        for size, seen in (("35mm", True), ("24x36", True), ("6X9", False), ("60x90", False)):
            result = self.check_well(milori("measure", "--json", "--frame", size, scan))
            notes = json.loads(result.stdout)["sheets"][0]["notes"]
            self.assertEqual(any(note.startswith("frame-size: no frame of ") for note in notes),
                             not seen, notes)

    def test_given_corners_are_kept(self):
        scan = self.scan("shed.tif")
        sheet = json.loads(milori("measure", "--json", "--corners=100,110 500,110 500,370 100,370",
                                  scan).stdout)["sheets"][0]
        for found, true in zip(sheet["frame"]["corners_px"],
                               [(100, 110), (500, 110), (500, 370), (100, 370)]):
            for a, b in zip(found, true):
                self.assertAlmostEqual(a, b, delta=0.5)

    def test_a_bad_scan_has_its_line_and_the_rest_go_on(self):
        self.scan("a.tif")
        self.junk("b.tif", b"no picture")
        self.scan("c.tif")
        result = milori("measure", "--json", self.scans)
        self.check_one_line(result, 1, "b.tif")
        self.assertEqual(len(json.loads(result.stdout)["sheets"]), 2)

    def test_nothing_to_measure_is_still_json(self):
        result = milori("measure", "--json", self.junk("b.tif", b"no picture"))
        self.assertEqual(json.loads(result.stdout), {"sheets": []})
        self.assertEqual(result.returncode, 1)

    def test_table_fits_a_terminal(self):
        result = self.check_well(milori("measure", self.scan("shed.tif"), self.scan("beds.png", 2)))
        rows = result.stdout.splitlines()
        sheets = [row for row in rows if row[:5].strip().isdigit()]
        self.assertEqual(len(sheets), 3)
        self.assertEqual(rows[0].split(), "sheet frame, mm size sides tilt fog stain range grade "
                         "noise sun".split())
        said = milori("measure", "--json", os.path.join(self.scans, "shed.tif")).stdout
        grade = json.loads(said)["sheets"][0]["grade"]
        self.assertEqual(float(sheets[0].split()[-3]), round(grade, 1))
        self.assertLessEqual(max(map(len, rows[:1] + sheets)), 80)

    def test_corners_written_as_json_make_the_same_positive(self):
        scan = self.scan("shed.tif")
        sheet = json.loads(milori("measure", "--json", scan).stdout)["sheets"][0]
        text = " ".join(f"{x},{y}" for x, y in sheet["frame"]["corners_px"])
        self.check_well(milori("positive", "--corners", text, scan, "-o", self.out))
        self.assertEqual(self.made(), ["shed.tif"])


if __name__ == "__main__":
    main()
