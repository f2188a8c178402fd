"""milori measure: what sheets tell their maker, alone and with notes."""
import glob
import json
import math
import os
import resource
import shutil
import subprocess
import xml.etree.ElementTree

from PIL import Image

from program import MILORI, SOURCE, Bench, main, milori, save

DATA = os.path.join(SOURCE, "testdata")
SVG = "{http://www.w3.org/2000/svg}"
PLOTS = ["depth-and-minutes.svg", "fog-and-age.svg", "range-and-minutes.svg"]


def bundled():
    """(as milori tells, as it is) of every sheet in testdata/, by name and number."""
    scans = sorted(p for p in glob.glob(os.path.join(DATA, "*.*")) if not p.endswith((".md", ".csv")))
    told = json.loads(milori("measure", "--json", *scans).stdout)["sheets"]
    sheets = {}
    for sheet in told:
        name = os.path.splitext(os.path.basename(sheet["file"]))[0]
        with open(os.path.join(DATA, "truth", name + ".truth.json"), encoding="utf-8") as f:
            sheets[name, sheet["sheet"]] = sheet, json.load(f)["sheets"][sheet["sheet"] - 1]
    return sheets


class Told(Bench):
    """On the bundled scans, whose age and minutes the simulator knows."""

    @classmethod
    def setUpClass(cls):
        cls.sheets = bundled()

    def test_old_sheets_are_fogged_and_fresh_ones_are_not(self):
        # A sheet kept for three days is clearly fogged: common practice, no source.
        self.assertGreater(len(self.sheets), 7)
        for name, (told, true) in self.sheets.items():
            want = "fresh" if true["age_hours"] <= 12 else "clearly fogged"
            self.assertEqual(told["tarnish"], want, name)

    def test_the_season_s_notes_fit_its_scans(self):
        scans = [p for p in glob.glob(os.path.join(DATA, "*.*")) if not p.endswith((".md", ".csv"))]
        result = self.check_well(milori("measure", "--json", *scans, "--notes", os.path.join(DATA, "season.csv")))
        self.assertEqual(result.stderr, "")
        series = json.loads(result.stdout)["series"]
        for sheet in series["sheets"]:
            name = os.path.splitext(os.path.basename(sheet["file"]))[0]
            true = self.sheets[name, sheet["sheet"]][1]
            self.assertEqual((sheet["minutes"], sheet["hours"]), (true["minutes"], true["age_hours"]))
        (front,) = [light for light in series["lights"] if light["light"] == "front-lit"]
        # Scenes differ, the light does not: each sheet's stops within half a stop of its minutes', one factor for all.
        together = [s for s in series["sheets"] if s["light"] == "front-lit"]
        self.assertEqual(len(together), front["sheets"])
        off = [sheet["apart"] - math.log2(sheet["minutes"]) for sheet in together]
        for sheet, here in zip(together, off):
            self.assertAlmostEqual(here, sum(off) / len(off), delta=0.5, msg=sheet["file"])

    def test_three_minutes_against_a_quarter_of_an_hour(self):
        # 2.3 stops in the same light: common practice, no source. Half a stop is the issue's.
        short, true_short = self.sheets["before-rain", 1]
        full, true_full = self.sheets["bean-poles", 1]
        self.assertEqual((true_short["minutes"], true_full["minutes"]), (3, 15))
        self.assertEqual((short["exposure"], full["exposure"]), ("short", "right"))
        self.assertAlmostEqual(short["next_stops"] - full["next_stops"], 2.32, delta=0.5)

    def test_coats_are_as_uneven_as_they_were_made(self):
        for name, (told, true) in self.sheets.items():
            off = 100 * true["coat_deviation"] - told["coat_uneven"]
            self.assertLess(abs(off), 2.6 * told["coat_uneven_sigma"], f"{name}: {off}")
            self.assertLess(told["coat_uneven_sigma"], 4)
            self.assertGreater(told["tones"], 1)

    def test_words_stand_below_the_line(self):
        result = self.check_well(milori("measure", os.path.join(DATA, "before-rain.jpg")))
        words = " ".join(result.stdout.split())
        self.assertRegex(words, "Fresh. The exposure was short: about [0-9 /]+ stops more next time in the "
                         "same light, give or take (half )?a stop. About [0-9]+ tones stand apart from "
                         "the grain. The coat is uneven by [0-9]+ %, give or take [0-9]+.")
        self.assertNotIn("will", words)
        self.assertLessEqual(max(map(len, result.stdout.splitlines()[2:])), 80)
        quiet = self.check_well(milori("measure", "--quiet", os.path.join(DATA, "before-rain.jpg")))
        self.assertNotIn("tones", quiet.stdout)


class Untold(Bench):
    """What a scan cannot tell is null, and no words are made of it."""

    def told(self, scan, *options):
        run = self.check_well(milori("measure", "--json", scan, *options))
        (sheet,) = json.loads(run.stdout)["sheets"]
        return sheet

    def test_a_grey_scan(self):
        with Image.open(os.path.join(DATA, "bean-poles.jpg")) as picture:
            save(picture.convert("L"), os.path.join(self.scans, "grey.png"), icc_profile=None)
        sheet = self.told(os.path.join(self.scans, "grey.png"))
        for key in ("tarnish", "exposure", "next_stops", "coat_uneven", "strength_most"):
            self.assertIsNone(sheet[key], key)
        self.assertGreater(sheet["tones"], 1)
        words = milori("measure", os.path.join(self.scans, "grey.png")).stdout
        self.assertIn("\n      About ", words)
        self.assertNotIn("exposure was", words)

    def test_stretched_levels(self):
        sheet = self.told(self.scan("shed.tif"))
        self.assertTrue(any(note.startswith("levels: ") for note in sheet["notes"]))
        for key in ("tarnish", "exposure", "next_stops", "coat_uneven", "strength"):
            self.assertIsNone(sheet[key], key)

    def test_a_scan_without_margin_has_no_age(self):
        with Image.open(os.path.join(DATA, "bean-poles.jpg")) as picture:
            box = (picture.width // 2 - 200, picture.height // 2 - 200)
            save(picture.crop((*box, box[0] + 400, box[1] + 400)), os.path.join(self.scans, "crop.png"))
        sheet = self.told(os.path.join(self.scans, "crop.png"), "--corners=0,0 400,0 400,400 0,400")
        self.assertTrue(any(note.startswith("margin: ") for note in sheet["notes"]), sheet["notes"])
        self.assertIsNone(sheet["tarnish"])


class Notes(Bench):
    def setUp(self):
        super().setUp()
        self.first = os.path.join(self.scans, "bed 1.tif")
        shutil.copy(os.path.join(DATA, "evening.tif"), self.first)
        shutil.copy(os.path.join(DATA, "seed-trays.tif"), os.path.join(self.scans, "bed 2.tif"))
        self.plots = os.path.join(self.root, "plots")

    def notes(self, text, name="notes.csv"):
        path = os.path.join(self.root, name)
        with open(path, "wb") as f:
            f.write(text.encode() if isinstance(text, str) else text)
        return path

    GOOD = ("file;minutes;light;hours;UV\n\"bed 1\";3,5;\"sun; high\";2;4,5\n"
            "bed 2-1.tif;15;\"SUN; high\";30;\ngone;1;;;\n")

    def test_table_and_lines_of_what_does_not_fit(self):
        notes = self.notes(self.GOOD)
        with self.unchanged(self.first, notes):
            result = self.check_well(milori("measure", self.scans, "--notes", notes))
        table = result.stdout[result.stdout.index("\nsheet  "):].splitlines()[1:]
        self.assertIn("UV", table[0])
        self.assertEqual(table[1].split()[:3], ["bed", "1.tif", "3.5"])
        self.assertEqual(table[1].split()[-1], "4,5")
        self.assertTrue(table[2].startswith("bed 2-1.tif"))
        self.assertIn("sun; high: 2 sheets, 3.5 to 15 minutes", result.stdout)
        self.assertIn("notes.csv: line 4: no scan called gone is here\n", result.stderr)
        self.assertIn("notes.csv: bed 2-2.tif: has no notes\n", result.stderr)
        self.assertNotIn("milori: ", result.stderr)
        self.assertEqual(sorted(os.listdir(self.root)), ["notes.csv", "scans"], "nothing is written")
        quiet = milori("measure", "--quiet", self.scans, "--notes", notes)
        self.assertEqual(quiet.stderr, "")

    def test_json(self):
        result = self.check_well(milori("measure", "--json", self.scans, "--notes", self.notes(self.GOOD)))
        told = json.loads(result.stdout)
        self.assertEqual(set(told), {"sheets", "series"})
        one, two, three = told["series"]["sheets"]
        self.assertEqual((one["minutes"], one["hours"], one["light"]), (3.5, 2, "sun; high"))
        self.assertEqual(one["more"], {"UV": "4,5"})
        self.assertEqual((two["sheet"], two["minutes"], three["minutes"]), (1, 15, None))
        self.assertEqual([s["file"] for s in told["series"]["sheets"]], [s["file"] for s in told["sheets"]])
        (light,) = told["series"]["lights"]
        self.assertEqual((light["sheets"], light["shortest"], light["longest"]), (2, 3.5, 15))
        with open(os.path.join(SOURCE, "man", "milori-measure.1"), encoding="utf-8") as f:
            page = f.read()
        for key in list(one) + list(light):
            self.assertRegex(page, rf"\.BR? {key}\b", "not in the man page")

    def test_plots(self):
        notes = self.notes(self.GOOD)
        result = self.check_well(milori("measure", self.scans, "--notes", notes, "--plots", self.plots))
        self.assertNotIn("milori: ", result.stderr)
        self.assertEqual(self.made(self.plots), PLOTS)
        for name in PLOTS:
            root = xml.etree.ElementTree.parse(os.path.join(self.plots, name)).getroot()
            self.assertTrue(root.find(SVG + "title").text)
            titles = [g.find(SVG + "title").text for g in root.iter(SVG + "g") if g.get("role")]
            self.assertEqual(len(titles), 2, titles)
            self.assertTrue(titles[0].startswith("bed 1.tif: "), titles)

    def test_plots_are_replaced_only_when_asked(self):
        notes = self.notes(self.GOOD)
        os.mkdir(self.plots)
        kept = os.path.join(self.plots, PLOTS[2])
        with open(kept, "w", encoding="utf-8") as f:
            f.write("mine")
        with self.unchanged(kept):
            result = milori("measure", self.scans, "--notes", notes, "--plots", self.plots)
            self.check_one_line(result, 2, "range-and-minutes.svg", "--replace")
        self.assertEqual(self.made(self.plots), [PLOTS[2]])
        self.check_well(milori("measure", self.scans, "--notes", notes, "--plots", self.plots, "--replace"))
        self.assertEqual(self.made(self.plots), PLOTS)
        with open(kept, encoding="utf-8") as f:
            self.assertIn("<svg", f.read())

    def test_bad_notes_are_refused_before_any_work(self):
        for text, words in (("file,minutes\nbed 1,3 min\n", ["line 2", "3 min", "7.5"]),
                            ("minutes\n3\n", ["line 1", "file"]),
                            ("file,minutes\n\"bed 1,3\n", ["line 2", "quote"]),
                            (b"file,minutes\nbed\xff,-\n", ["line 2", "minutes"]),
                            ("file\nbed\x1b[31m 1\nbed\x1b[31m 1\n", ["line 3", "\\x1b"])):
            with self.subTest(text):
                notes = self.notes(text)
                result = milori("measure", self.scans, "--notes", notes, "--plots", self.plots)
                self.check_one_line(result, 2, "notes.csv", *words)
                self.assertEqual(result.stdout, "")
        self.assertFalse(os.path.exists(self.plots))
        self.check_one_line(milori("measure", self.scans, "--notes", "no such.csv"), 2, "no such.csv")

    def test_options_that_need_each_other(self):
        self.check_one_line(milori("measure", self.scans, "--plots", self.plots), 2, "--plots", "--notes")
        self.check_one_line(milori("measure", self.scans, "--replace"), 2, "--replace", "--plots")
        self.check_one_line(milori("measure", self.scans, "--notes", self.notes("file\n"), "--plots="), 2, "--plots")

    def test_a_bad_scan_does_not_stop_the_series(self):
        self.junk("bed 0.tif", b"no picture")
        result = milori("measure", self.scans, "--notes", self.notes("file,minutes\nbed 1,3\nbed 0,4\n"))
        self.check_one_line(result, 1, "bed 0.tif")
        self.assertIn("bed 1.tif ", result.stdout)
        self.assertIn("line 3: no scan called bed 0", result.stderr)

    def test_a_plot_that_cannot_be_written_leaves_nothing(self):
        # A limit of a file's size stands for a full disk.
        run = subprocess.run([MILORI, "measure", "-q", self.first, "--notes", self.notes(self.GOOD),
                              "--plots", self.plots], capture_output=True, encoding="utf-8", check=False,
                             preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (500, 500)))
        self.check_one_line(run, 1, ".svg", "cannot be written")
        self.assertEqual(self.made(self.plots), [])

    def test_folders_that_cannot_be(self):
        # A file where the folder should be, and a folder that cannot be made.
        for place in (self.first, os.path.join(self.root, "no", "such")):
            result = milori("measure", self.scans, "--notes", self.notes(self.GOOD), "--plots", place)
            self.check_one_line(result, 2)
        self.assertEqual(sorted(os.listdir(self.root)), ["notes.csv", "scans"])

    def test_the_same_for_any_number_of_jobs(self):
        notes = self.notes(self.GOOD)
        said = {milori("measure", self.scans, "--notes", notes, "--jobs", n).stdout for n in ("1", "2", "4")}
        self.assertEqual(len(said), 1)


if __name__ == "__main__":
    main()
