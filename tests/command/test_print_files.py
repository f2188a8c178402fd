"""milori print: files, printers' profiles, test strips and contact sheets."""
import glob
import os
import re
import subprocess

import numpy as np
import tifffile
from PIL import Image

from print_bench import PrintBench, lightness
from program import MILORI, digest, main, milori


class PrintFiles(PrintBench):
    # ---- files

    def test_kinds_of_files(self):
        scan = self.scan("shed.tif")
        for name, kind in (("p.png", "PNG"), ("p.jpg", "JPEG"), ("p.tiff", "TIFF")):
            path = os.path.join(self.root, name)
            self.print(scan, to=path)
            with Image.open(path) as picture:
                self.assertEqual(picture.format, kind)
                self.assertEqual(picture.size, (1169, 827))  # A4 across at 100 dpi
                self.assertAlmostEqual(float(picture.info["dpi"][0]), 100, delta=0.02)
                self.assertIn("icc_profile", picture.info)
        path = os.path.join(self.root, "p.pdf")
        self.print(scan, to=path)
        info = subprocess.run(["pdfinfo", path], check=True, stdout=subprocess.PIPE,
                              encoding="utf-8").stdout
        width, height = map(float, re.search(r"Page size: +([0-9.]+) x ([0-9.]+)", info).groups())
        # 297 x 210 mm in points of 1/72 inch, to half a pixel of 100 dpi
        self.assertAlmostEqual(width, 297 / 25.4 * 72, delta=0.37)
        self.assertAlmostEqual(height, 210 / 25.4 * 72, delta=0.37)
        for arguments, words in ((["-o", "p.gif"], [".tif"]), (["-o", "p"], [".tif"]), ([], ["-o"]),
                                 (["-o", "p.jpg", "--depth", "16"], ["8 bits"])):
            self.check_one_line(milori("print", scan, *arguments, cwd=self.root), 2, *words)

    def test_8_bits_are_the_16_rounded(self):
        scan = self.scan("shed.tif")
        self.print(scan)
        deep = self.page()
        self.print(scan, "--depth", "8")
        shallow = self.page()
        self.assertEqual(shallow.dtype, np.uint8)
        self.assertTrue((np.abs(shallow * 257. - deep) <= 128.5).all())

    def test_nothing_is_written_over(self):
        scan = self.scan("shed.tif")
        self.print(scan)
        before = digest(self.file)
        self.check_one_line(milori("print", scan, "--stops", "1", "-o",
                                   self.file), 2, "print.tif")
        self.assertEqual(digest(self.file), before)
        with self.unchanged(scan):
            for option in ("-o", "--look"):
                self.check_one_line(milori("print", scan, "--replace", "-o", self.file, option,
                                           scan), 2, "name another")
        self.assertEqual(sorted(os.listdir(self.root)), ["print.tif", "scans"])

    def test_dry_run_and_quiet(self):
        scan = self.scan("shed.tif")
        result = self.check_well(milori("print", scan, "--dry-run"))
        self.assertIn("px at 360 dpi", result.stdout)
        self.assertFalse(os.path.exists(self.file))
        result = self.print(scan, "-q")
        self.assertEqual(result.stdout + result.stderr, "")

    def test_same_bits_for_any_number_of_threads(self):
        # threads follow the processors that the process may use
        scan = self.scan("shed.tif")
        self.print(scan, "--print-dpi", "200", "--sharpen", "0.2mm")
        before = digest(self.file)
        cpu = str(min(os.sched_getaffinity(0)))
        subprocess.run(["taskset", "-c", cpu, MILORI, "print",
                        scan, "-q", "--print-dpi", "200", "--sharpen", "0.2mm", "--replace", "-o",
                        self.file], check=True)
        self.assertEqual(digest(self.file), before)

    def test_several_sheets_and_several_pictures(self):
        scan = self.scan("beds.tif", sheets=2)
        self.check_one_line(milori("print", scan, "-o", self.file), 2, "2 sheets", "--sheet")
        self.check_one_line(milori("print", scan, "--sheet", "3", "-o", self.file), 2, "no sheet 3")
        self.print(scan, "--sheet", "2")
        second = self.page()
        self.print(scan, "--sheet", "1")
        self.assertFalse(np.array_equal(second, self.page()))
        self.check_one_line(milori("print", scan, self.scan("a.tif"), "-o", self.file, "--replace"),
                            2, "--contact-sheet")

    def test_like_an_earlier_positive(self):
        scan = self.scan("shed.tif")
        positive = self.positive(scan, "--stops", "0.7", "--palette", "amber")
        self.print(scan, "--like", positive)
        like = self.page()
        self.print(scan, "--stops", "0.7", "--palette", "amber")
        self.assertTrue(np.array_equal(like, self.page()))

    # ---- the printer

    def rag(self):
        """A profile of matt paper, made from FOGRA29 (uncoated), which Debian carries, by argyll."""
        if not os.path.exists(os.path.join(self.root, "rag.icc")):
            with open("/usr/share/color/icc/FOGRA29L.ti3", encoding="latin-1") as f, \
                    open(os.path.join(self.root, "rag.ti3"), "w", encoding="latin-1") as g:
                g.write(f.read())
            subprocess.run(["colprof", "-ql", "-b", "-D", "rag", "rag"], cwd=self.root, check=True,
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        return os.path.join(self.root, "rag.icc")

    def test_through_a_printer_s_profile(self):
        scan, rag, look = self.scan("shed.tif"), self.rag(), os.path.join(self.root, "look.png")
        palette = os.path.join(self.root, "electric.txt")
        with open(palette, "w", encoding="ascii") as f:
            f.write("0 20 40 -70\n0.5 50 10 -60\n1 100 0 0\n")
        result = self.print(scan, "--printer", rag, "--palette", palette, "--look", look)
        with tifffile.TiffFile(self.file) as file:
            page = file.pages[0]
            self.assertEqual((page.samplesperpixel, page.photometric.name), (4, "SEPARATED"))
            with open(rag, "rb") as f:
                self.assertEqual(bytes(page.tags[34675].value), f.read())
            codes = page.asarray()
        self.assertTrue((codes[:50] == 0).all(), "bare paper gets no ink")
        self.assertGreater(codes[codes.shape[0] // 2].max(), 30000)
        # so bright a blue is not to be had on uncoated paper, and that is said
        self.assertRegex(result.stdout, r"outside.*gamut|gamut.*outside")
        with Image.open(look) as seen:
            self.assertEqual(seen.size, (1169, 827))  # A4 across at 100 dpi
            corner = np.asarray(seen)[5, 5].astype(int)
        # FOGRA29's paper is L* 92, a little yellow or blue: no screen white, and no grey of its own
        self.assertTrue((corner < 250).all() and (corner > 200).all(), corner)

    def test_blue_stays_blue_on_matt_paper(self):
        """Chroma is lowered only where the printer lacks it, not where a table is coarse: what is
        printed for the blue palette is blue by argyll's own reading of the profile."""
        scan, rag = self.scan("shed.tif"), self.rag()
        self.print(scan, "--printer", rag, "--palette", "blue")
        page = self.page().reshape(-1, 4) / 65535
        some = page[page.sum(axis=1) > 0.3][::997]
        asked = "\n".join(" ".join(f"{v:.5f}" for v in code) for code in some)
        read = subprocess.run(["xicclu", "-ff", "-ir", "-pl", rag], input=asked + "\n", check=True,
                              stdout=subprocess.PIPE, encoding="utf-8").stdout
        lab = np.array([[float(v) for v in line.split("->")[-1].split()[:3]]
                        for line in read.splitlines() if "[Lab]" in line])
        self.assertEqual(len(lab), len(some))
        middle = lab[(lab[:, 0] > 45) & (lab[:, 0] < 75)]
        self.assertGreater(len(middle), 20)
        self.assertLess(np.median(middle[:, 2]), -15)

    def test_a_bad_profile_is_one_line(self):
        scan = self.scan("shed.tif")
        bad = self.junk("p.icc", b"no profile")
        self.check_one_line(milori("print", scan, "--printer", bad, "-o", self.file), 2, "p.icc")
        self.check_one_line(milori("print", scan, "--printer", "none.icc", "-o", self.file), 2,
                            "none.icc")

    # ---- pages to look at

    def test_strips(self):
        scan = self.scan("shed.tif")
        self.print(scan, "--test-strip", "stops=-2,0,2", "--size", "120mm", "--print-dpi", "127")
        L = lightness(self.page())
        self.assertEqual(L.shape, (1485, 1050))  # A4 at 127 dpi, 5 px a mm
        # 120 mm wide in the middle of the page, and three of them, each lighter than the last
        rows = np.flatnonzero((L[:, 250:260] < 99.9).all(axis=1))
        strips = np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1)
        strips = [s for s in strips if len(s) > 60]
        self.assertEqual(len(strips), 3)
        means = [L[s[0]:s[-1], 225:825].mean() for s in strips]
        self.assertEqual(means, sorted(means))
        inked = np.flatnonzero((L[strips[0][0]:strips[0][-1]] < 99.9).all(axis=0))
        self.assertAlmostEqual(len(inked), 600, delta=2)
        # the middle one is the middle of the print of that size
        self.print(scan, "--size", "120mm", "--print-dpi", "127")
        whole = lightness(self.picture()[0])
        middle = L[strips[1][0]:strips[1][-1] + 1, inked[0]:inked[-1] + 1]
        top = (whole.shape[0] - middle.shape[0]) // 2
        part = whole[top:top + middle.shape[0], :middle.shape[1]]
        self.assertLess(np.abs(part - middle).mean(), 2)
        for text in ("weed", "turn", "grade=", "stops=1,x", "curve"):
            self.check_one_line(milori("print", scan, "--test-strip", text, "-o", self.file,
                                       "--replace"), 2)

    def test_contact_sheet(self):
        for i in range(5):
            self.scan(f"bed {i}.tif", sheets=2 if i == 3 else 1)
        broken = self.junk("broken.tif", b"II*\0")
        result = milori("print", "--contact-sheet", self.scans, "-o", self.file, "--print-dpi",
                        "100")
        self.assertEqual(result.returncode, 1)
        self.assertIn("broken.tif", result.stderr)
        self.assertIn("6 pictures on the page, 1 failed", result.stdout)
        L = lightness(self.page())
        self.assertEqual(L.shape, (1169, 827))
        os.remove(broken)
        self.print("--contact-sheet", self.scans, to=self.file)
        # rows of pictures with a white band between, names below each
        dark = (lightness(self.page()) < 60).mean(axis=1)
        self.assertTrue((dark[:55] == 0).all())  # the margin
        bands = np.flatnonzero(np.diff((dark > 0.1).astype(int)) == 1)
        self.assertGreaterEqual(len(bands), 2)
        self.check_one_line(milori("print", "--contact-sheet", self.scans, "--paper", "30x30mm",
                                   "--margin", "5mm", "-o", self.file, "--replace"), 2, "too many")

    def test_leaves_no_temporaries(self):
        scan = self.scan("shed.tif")
        env = dict(os.environ, TMPDIR=os.path.join(self.root, "none"))
        result = milori("print", scan, "-o", self.file, env=env)
        self.check_one_line(result, 1, "TMPDIR")
        self.assertEqual(glob.glob(os.path.join(self.root, "*print*")), [])


if __name__ == "__main__":
    main()
