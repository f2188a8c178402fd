"""milori print: sizes to the pixel, orientation from scene to print, tones, the brush's edge."""
import os
import re
import subprocess

import numpy as np
import tifffile
from PIL import Image, ImageDraw, ImageFilter

from print_bench import PrintBench, lightness
from program import SOURCE, draw_scan, main, milori

TESTDATA = os.path.join(SOURCE, "testdata")


def scene():
    """An F, bright on dark ground: no turn or mirror of it looks like another."""
    picture = Image.new("L", (425, 283), 0)
    pen = ImageDraw.Draw(picture)
    for box in ((120, 40, 160, 243), (120, 40, 300, 75), (120, 120, 250, 155)):
        pen.rectangle(box, fill=255)
    return picture


def glyph_scan(path, orientation=1):
    """The scene as the sheet shows it on the glass: dye where it was bright, laterally reversed,
    since a paper negative is seen from its emulsion side (geometry). The file is stored turned, and
    its orientation tag turns it back."""
    scan = draw_scan()
    dyed = Image.new("RGB", (425, 283), (84, 132, 132))
    bare = Image.new("RGB", (425, 283), (205, 192, 120))
    mirrored = scene().transpose(Image.FLIP_LEFT_RIGHT).filter(ImageFilter.GaussianBlur(1))
    frame = Image.composite(dyed, bare, mirrored)
    scan.paste(frame, (40 + (520 - 425) // 2, 40 + (400 - 283) // 2))
    noise = np.random.default_rng(4).integers(-2, 3, (*scan.size[::-1], 1))
    scan = np.clip(np.asarray(scan) + noise, 0, 255).astype(np.uint8)
    if orientation == 6:  # TIFF 6.0: the stored picture is to be turned clockwise
        scan = np.rot90(scan)
    tifffile.imwrite(path, scan, photometric="rgb", resolution=(300, 300), resolutionunit=2,
                     extratags=[(274, "H", 1, orientation, True)])


def how_it_lies(picture):
    """Which of the eight turns and mirrors of the scene a picture shows: (quarters clockwise,
    mirrored before), by correlation."""
    small = Image.fromarray(picture.astype(np.float32)).resize((64, 64), Image.BOX)
    small = np.asarray(small)
    found = {}
    for mirrored in (False, True):
        for quarters in range(4):
            model = np.asarray(scene())
            model = np.rot90(model[:, ::-1] if mirrored else model, -quarters).astype(np.float32)
            model = np.asarray(Image.fromarray(model).resize((64, 64), Image.BOX))
            found[quarters, mirrored] = np.corrcoef(small.ravel(), model.ravel())[0, 1]
    best = max(found, key=found.get)
    others = [v for k, v in found.items() if k != best]
    assert found[best] > 0.9 and max(others) < 0.8, found
    return best


class Print(PrintBench):
    # ---- sizes

    def test_size_on_the_default_page(self):
        scan = self.scan("shed.tif")
        with self.unchanged(scan):
            result = self.check_well(milori("print", scan, "-o", self.file))
        with tifffile.TiffFile(self.file) as file:
            page = file.pages[0]
            # A4 across, 297 x 210 mm (ISO 216), at 360 dpi
            self.assertEqual((page.imagewidth, page.imagelength), (4209, 2976))
            self.assertEqual(page.tags["XResolution"].value, (360, 1))
            self.assertEqual((page.bitspersample, page.samplesperpixel), (16, 3))
            self.assertIn(34675, page.tags)
        _, (left, top, width, height) = self.picture()
        # as large as 15 mm of margin let it be: 267 mm wide or 180 mm high
        positive = tifffile.imread(self.positive(scan))
        scale = min(267 / positive.shape[1], 180 / positive.shape[0])
        self.assertEqual(width, round(positive.shape[1] * scale / 25.4 * 360))
        self.assertEqual(height, round(positive.shape[0] * scale / 25.4 * 360))
        self.assertAlmostEqual(left, (4209 - width) / 2, delta=1)
        self.assertAlmostEqual(top, (2976 - height) / 2, delta=1)
        self.assertIn(f"{width} x {height} px at 360 dpi", result.stdout)

    def test_sizes_are_right_to_the_pixel(self):
        scan = self.scan("shed.tif")
        for size, dpi, side, px in (("100mm", 300, 0, 1181), ("4in", 600, 0, 2400),
                                    ("height=5cm", 254, 1, 500), ("short=60mm", 127, 1, 300)):
            with self.subTest(size):
                self.print(scan, "--size", size, "--print-dpi", str(dpi))
                self.assertEqual(self.picture()[1][2 + side], px)
                described = subprocess.run(["exiftool", "-s3", "-XResolution", self.file],
                                           check=True, stdout=subprocess.PIPE).stdout
                self.assertEqual(float(described), dpi)

    def test_margins_and_place(self):
        self.print(self.scan("shed.tif"), "--size", "100mm", "--print-dpi", "254", "--margin",
                   "10mm,20mm,30mm,40mm", "--place", "bottom-right", "--paper", "a4-upright")
        _, (left, top, width, height) = self.picture()
        self.assertEqual((left + width, top + height), (1900, 2670))
        self.print(os.path.join(self.scans, "shed.tif"), "--size", "100mm", "--print-dpi", "254",
                   "--place", "3mm,200mm", "--paper", "a4-upright")
        self.assertEqual(self.picture()[1][:2], (30, 2000))

    def test_the_picture_alone(self):
        self.print(self.scan("shed.tif"), "--paper", "none", "--size", "width=6in", "--print-dpi",
                   "300")
        self.assertEqual(self.page().shape[1], 1800)
        self.check_one_line(milori("print", os.path.join(self.scans, "shed.tif"), "--paper", "none",
                                   "-o", self.file, "--replace"), 2, "--size")

    def test_own_pixels(self):
        scan = self.scan("shed.tif")
        self.print(scan, "--size", "pixels", "--paper", "none")
        positive = tifffile.imread(self.positive(scan))
        self.assertEqual(self.page().shape, positive.shape)
        # nothing was resampled, so only tables stand between the two
        self.assertLess(np.abs(lightness(self.page()) - lightness(positive)).max(), 0.1)

    def test_too_large_is_refused_with_what_fits(self):
        scan = self.scan("shed.tif")
        said = self.check_one_line(milori("print", scan, "--size", "380mm", "-o", self.file), 2,
                                   "does not fit", "--paper a3")
        fits = re.search(r"--size (\d+)mm", said).group(1)
        self.print(scan, "--size", fits + "mm")
        self.check_one_line(milori("print", scan, "--size", str(int(fits) + 1) + "mm", "-o",
                                   self.file, "--replace"), 2, "does not fit")

    def test_few_pixels_are_said(self):
        scan = self.scan("shed.tif")
        result = self.print(scan)
        px = re.search(r"has (\d+) px an inch", result.stdout).group(1)
        self.assertAlmostEqual(int(px), 425 / (267 / 25.4), delta=2)
        self.assertIn("too few pixels", result.stderr)
        self.assertNotIn("too few", self.print(scan, "--size", "50mm").stderr)

    # ---- orientation

    def test_the_scene_s_f_reads_right_on_the_print(self):
        for orientation in (1, 6):
            scan = os.path.join(self.scans, f"f{orientation}.tif")
            glyph_scan(scan, orientation)
            for choices, wanted in (([], (0, False)), (["--reading", "as-scanned"], (0, True)),
                                    (["--turn", "90"], (1, False)),
                                    (["--turn", "270", "--reading", "as-scanned"], (3, True))):
                with self.subTest(orientation=orientation, choices=choices):
                    self.print(scan, *choices)
                    self.assertEqual(how_it_lies(lightness(self.picture()[0])), wanted)

    def test_a_positive_s_f_keeps_its_way(self):
        scan = os.path.join(self.scans, "f.tif")
        glyph_scan(scan)
        positive = self.positive(scan)
        for choices, wanted in (([], 0), (["--turn", "180"], 2), (["--turn", "90"], 1)):
            self.print(positive, *choices)
            self.assertEqual(how_it_lies(lightness(self.picture()[0])), (wanted, False))
        # one that an editor saved lying on its side
        edited = os.path.join(self.root, "edited.tif")
        tifffile.imwrite(edited, np.rot90(tifffile.imread(positive)), photometric="rgb",
                         extratags=[(274, "H", 1, 6, True)])
        self.print(edited, "--finished")
        self.assertEqual(how_it_lies(lightness(self.picture()[0])), (0, False))

    # ---- tones and colours

    def test_a_positive_prints_as_its_scan_does(self):
        scan = self.scan("shed.tif")
        for palette in ("neutral", "blue"):
            self.print(scan, "--palette", palette)
            from_scan = self.page().astype(float)
            positive = self.positive(scan, "--palette", palette, "--replace")
            self.print(positive)
            apart = np.abs(self.page() - from_scan)
            self.assertLess(apart.mean(), 30, palette)  # of 65535
            self.assertLess(np.quantile(apart, 0.999), 400, palette)

    def test_a_positive_along_another_palette(self):
        scan = self.scan("shed.tif")
        self.print(scan, "--palette", "blue")
        wanted = self.page().astype(float)
        self.print(self.positive(scan, "--palette", "amber"), "--palette", "blue")
        self.assertLess(np.abs(self.page() - wanted).mean(), 60)

    def test_choices_of_scans_are_refused_for_positives(self):
        positive = self.positive(self.scan("shed.tif"))
        for choice in (["--stops", "1"], ["--reading", "as-scanned"], ["--frame", "6x6"],
                       ["--test-strip", "grade"]):
            self.check_one_line(milori("print", positive, *choice, "-o", self.file), 2,
                                choice[-1] if "strip" in choice[0] else choice[0][2:], "scan")
        self.check_one_line(milori("print", positive, "--edge", "-o", self.file), 2, "scan")
        self.assertFalse(os.path.exists(self.file))

    def test_chessboard_is_printed_as_the_grey_it_looks(self):
        """White on half its area is Y 0.5, L* 76.07 (ISO/CIE 11664-4); in codes it would be 53."""
        board = np.kron(np.indices((300, 300)).sum(axis=0) % 2, [[1]]).astype(np.uint8) * 255
        source = os.path.join(self.root, "board.png")
        Image.fromarray(board).save(source)
        for depth in ("8", "16"):
            self.print(source, "--finished", "--size", "20mm", "--print-dpi", "72", "--depth",
                       depth)
            got = lightness(self.picture()[0])[2:-2, 2:-2]
            self.assertAlmostEqual(got.mean(), 76.07, delta=0.2)
            self.assertLess(got.std(), 0.3)

    def test_smaller_as_another_library_makes_it(self):
        """Pillow's Lanczos in linear light, whose kernel is near enough: within 1 L* on average."""
        scan = os.path.join(TESTDATA, "bean-poles.jpg")
        positive = self.positive(scan)
        self.print(positive, "--size", "30mm", "--print-dpi", "200", "--palette", "neutral")
        got = lightness(self.picture()[0])
        v = tifffile.imread(positive)[..., 1] / 65535
        light = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4)
        wanted = Image.fromarray(light.astype(np.float32)).resize(got.shape[::-1], Image.LANCZOS)
        wanted = np.clip(np.asarray(wanted), 0, 1)
        wanted = np.where(wanted > 0.008856, 116 * np.cbrt(wanted) - 16, 903.3 * wanted)
        self.assertLess(np.abs(got - wanted).mean(), 1)
        self.assertGreater(np.corrcoef(got.ravel(), wanted.ravel())[0, 1], 0.998)

    def test_sharpening_is_off_until_asked_for(self):
        scan = self.scan("shed.tif")
        spread = []
        for choice in ([], ["--sharpen", "none"], ["--sharpen", "0.3mm"]):
            self.print(scan, "--size", "60mm", *choice)
            L = lightness(self.page())
            spread.append(np.abs(np.diff(L, axis=1)).mean())
        self.assertEqual(spread[0], spread[1])
        self.assertGreater(spread[2], 1.1 * spread[0])
        self.check_one_line(milori("print", scan, "--sharpen", "5mm", "-o", self.file, "--replace"),
                            2, "--sharpen")

    def test_cream_palettes_leave_the_paper_bare(self):
        palette = os.path.join(self.root, "cream.txt")
        with open(palette, "w", encoding="ascii") as f:
            f.write("0 10 0 0\n0.5 55 1 4\n1 92 2 8\n")
        self.print(self.scan("shed.tif"), "--palette", palette, "--stops", "4")
        # four stops too light: the middle of the picture is all but the paper, not L* 92
        page = lightness(self.page())
        self.assertGreater(page[page.shape[0] // 2, page.shape[1] // 2], 96)
        white = os.path.join(self.root, "white.png")
        Image.new("L", (50, 40), 255).save(white)
        self.print(white, "--finished", "--palette", palette)
        self.assertTrue((self.page() == 65535).all())

    # ---- the sheet's edge

    def test_the_brush_s_edge_shows_and_bare_paper_stays_paper(self):
        scan = os.path.join(TESTDATA, "bean-poles.jpg")
        result = self.print(scan, "--edge", "--margin", "0")
        picture, (left, top, width, height) = self.picture()
        L = lightness(picture)
        # the margin round the frame is coated and dark; the corners of the sheet are bare paper
        self.assertLess(L[height // 2, width // 12], 25)
        self.assertLess(L[height // 12, width // 2], 25)
        # a ragged edge: where the ink begins differs from row to row by far more than a cut would
        begins = np.argmax(L[height // 5:-height // 5] < 50, axis=1)
        self.assertGreater(begins.std(), 0.004 * width)
        # in the sheet's corners, where the brush did not come, the paper is bare to the last code
        size = re.search(r", (\d+) x (\d+) px", result.stdout)
        page, box = self.page(), [int(v) for v in size.groups()]
        x, y = (page.shape[1] - box[0]) // 2, (page.shape[0] - box[1]) // 2
        part = box[0] // 60
        self.assertTrue((page[y:y + part, x:x + part] == 65535).all())
        self.assertTrue((page[y:y + part, x + box[0] - part:x + box[0]] == 65535).all())
        # without the edge, the whole sheet is dark where it is bare
        self.print(scan, "--frame", "sheet", "--margin", "0")
        self.assertLess(np.median(lightness(self.picture()[0])[:4]), 40)


if __name__ == "__main__":
    main()
