"""Scans in, positives out: names, folders, skipping, likeness, one scan after another."""
import fcntl
import json
import os
import pty
import re
import struct
import subprocess
import termios

import tifffile
from PIL import Image, ImageCms

from program import MILORI, Bench, digest, draw_scan, main, milori

Image.MAX_IMAGE_PIXELS = None


def pixels(path):
    return tifffile.imread(path) if path.endswith(".tif") else Image.open(path).tobytes()


class Positive(Bench):
    def make(self, *arguments):
        return self.check_well(milori("positive", *arguments, "-o", self.out))

    def test_a_folder_of_scans(self):
        scans = [self.scan("shed 2.tif"), self.scan("shed 10.PNG"),
                 self.scan("butt.jpeg", quality=95)]
        self.junk("diary.txt", b"beans up")
        self.junk(".hidden.tif", b"no scan")
        os.mkdir(os.path.join(self.scans, "folder.tif"))
        with self.unchanged(*scans):
            result = self.make(self.scans)
        self.assertEqual(self.made(), ["butt.tif", "shed 10.tif", "shed 2.tif"])
        self.assertIn("3 positives made, 0 up to date, 0 failed", result.stdout)
        order = [result.stdout.index(name) for name in ("butt", "shed 2", "shed 10")]
        self.assertEqual(order, sorted(order))

    def test_default_is_16_bit_rgb_tiff_cropped_to_the_frame(self):
        self.make(self.scan("shed.tif"))
        with tifffile.TiffFile(os.path.join(self.out, "shed.tif")) as file:
            page = file.pages[0]
            self.assertEqual((page.bitspersample, page.samplesperpixel), (16, 3))
            # the frame is drawn 425 x 283 px
            self.assertAlmostEqual(page.imagewidth, 425, delta=12)
            self.assertAlmostEqual(page.imagelength, 283, delta=12)

    def test_more_dye_is_lighter_and_the_picture_reads_right(self):
        # eight steps, the dye rising from left to right on the sheet; so falling in the positive
        self.make(self.scan("shed.tif"))
        picture = pixels(os.path.join(self.out, "shed.tif"))[..., 1].astype(float)
        height, width = picture.shape
        low = picture[int(height * 0.9):int(height * 0.96)]  # below the bean pole
        steps = [low[:, int(width * (i + 0.3) / 8):int(width * (i + 0.7) / 8)].mean()
                 for i in range(8)]
        self.assertEqual(steps, sorted(steps, reverse=True))
        self.assertGreater(steps[0] - steps[-1], 10000)
        self.make("--reading=as-scanned", "--again", os.path.join(self.scans, "shed.tif"))
        other = pixels(os.path.join(self.out, "shed.tif"))[..., 1]
        self.assertLess(other[:, :50].mean(), other[:, -50:].mean())

    def test_formats(self):
        scan = self.scan("shed.tif")
        for name, extension, kind in (("tiff", "tif", "TIFF"), ("png", "png", "PNG"),
                                      ("jpeg", "jpg", "JPEG")):
            self.make("--format", name, "--depth=8", scan)
            with Image.open(os.path.join(self.out, f"shed.{extension}")) as picture:
                self.assertEqual((picture.format, picture.mode), (kind, "RGB"))
        self.assertEqual(self.made(), ["shed.jpg", "shed.png", "shed.tif"])

    def test_two_sheets_on_one_scan(self):
        result = self.make(self.scan("beds.tif", sheets=2))
        self.assertEqual(self.made(), ["beds-1.tif", "beds-2.tif"])
        self.assertIn("2 positives made", result.stdout)
        self.assertIn("0 positives made, 2 up to date", self.make(self.scans).stdout)
        os.remove(os.path.join(self.out, "beds-2.tif"))
        self.assertIn("1 positive made, 1 up to date", self.make(self.scans).stdout)

    def test_sheet_with_the_name_of_another_scan_s_positive(self):
        self.scan("beds.tif", sheets=2)
        self.scan("beds-1.tif")
        result = milori("positive", self.scans, "-o", self.out)
        self.check_one_line(result, 1, "beds.tif", "sheet 1", "beds-1.tif")
        self.assertEqual(self.made(), ["beds-1.tif", "beds-2.tif"])
        self.assertIn("2 positives made, 0 up to date, 1 failed", result.stdout)

    def test_up_to_date_positives_are_skipped(self):
        scan = self.scan("shed.tif")
        self.make(scan)
        path = os.path.join(self.out, "shed.tif")
        first = digest(path)
        with self.unchanged(path):
            self.assertIn("0 positives made, 1 up to date", self.make(scan).stdout)
        os.utime(scan)  # newer, but the same
        with self.unchanged(path):
            self.assertIn("1 up to date", self.make(scan).stdout)
        before = os.stat(path).st_ino
        self.assertIn("1 positive made", self.make("--again", scan).stdout)
        self.assertNotEqual(os.stat(path).st_ino, before)
        self.assertEqual(digest(path), first, "the same scan and choices give the same file")
        self.assertIn("1 positive made", self.make("--stops=1", scan).stdout)
        self.assertNotEqual(digest(path), first)

    def test_another_scan_of_the_same_name_replaces_nothing(self):
        # as of two folders that each hold a shed.tif, or the sheet scanned again
        self.make(self.scan("shed.tif"))
        path = os.path.join(self.out, "shed.tif")
        scan = self.scan("shed.tif", compression="tiff_lzw")  # other bytes
        with self.unchanged(path):
            for more in ([], ["--stops=1"], ["--again"], ["--dry-run"]):
                result = milori("positive", *more, scan, "-o", self.out)
                line = self.check_one_line(result, 1)
                self.assertEqual(line, f"milori: {path}: made from another scan of that name; "
                                 "move it or give --replace")
                self.assertIn("0 up to date, 1 failed", result.stdout)
        self.assertIn("1 positive made", self.make("--replace", scan).stdout)
        self.assertIn("1 up to date", self.make(scan).stdout)
        # the very scan under another name of the same stem is no other scan
        os.rename(scan, os.path.join(self.scans, "shed.tiff"))
        self.assertIn("1 positive made", self.make(self.scans).stdout)

    def test_what_a_file_holds_decides_and_not_its_time(self):
        scan, dodge = self.scan("shed.tif"), os.path.join(self.root, "dodge.png")
        profile = os.path.join(self.root, "paper.icc")
        choices = [f"--dodge={dodge}", f"--profile={profile}"]
        Image.new("L", (60, 40), 128).save(dodge)
        profiles = [ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()]
        # bytes 24 to 35 are the date (ICC.1): another profile, the same colours
        profiles.append(profiles[0][:24] + bytes([7, 230] + 5 * [0, 1]) + profiles[0][36:])
        self.assertNotEqual(*profiles)
        for i, content in enumerate(profiles):
            with open(profile, "wb") as f:
                f.write(content)
            os.utime(profile, (10 ** 9, 10 ** 9))  # older than any positive
            self.assertIn("1 positive made", self.make(*choices, scan).stdout, i)
            for file in (dodge, profile):
                os.utime(file, (2 ** 31, 2 ** 31))  # newer, but the same
            self.assertIn("1 up to date", self.make(*choices, scan).stdout)
        Image.new("L", (60, 40), 250).save(dodge)
        os.utime(dodge, (10 ** 9, 10 ** 9))
        self.assertIn("1 positive made", self.make(*choices, scan).stdout)
        tags = subprocess.run(["exiftool", "-j", os.path.join(self.out, "shed.tif")],
                              stdout=subprocess.PIPE, encoding="utf-8", check=True).stdout
        tags = json.loads(tags)[0]
        digests = [tags[name] for name in ("Digest", "DodgeDigest", "ProfileDigest")]
        self.assertEqual(len(set(digests)), 3)
        for text in digests:
            self.assertRegex(text, r"^[0-9a-f]{32}$")
        self.make(scan)
        tags = subprocess.run(["exiftool", "-s", os.path.join(self.out, "shed.tif")],
                              stdout=subprocess.PIPE, encoding="utf-8", check=True).stdout
        self.assertIn("SheetNumber", tags)
        self.assertNotIn("DodgeDigest", tags)
        self.assertNotIn("ProfileDigest", tags)

    def test_up_is_said_once_and_only_where_it_helps(self):
        self.scan("shed.tif")
        self.scan("beds.tif", sheets=2)
        said = "which way is up cannot be known"
        self.assertEqual(self.make(self.scans).stderr.count(said), 1)
        self.assertNotIn(said, self.make(self.scans).stderr, "nothing was made")
        self.assertNotIn(said, self.make("--again", "--quiet", self.scans).stderr)
        self.assertNotIn(said, self.make("--turn=90", self.scans).stderr, "it is known")

    def test_notes_name_the_scan_as_it_was_given(self):
        scan = self.scan("shed.jpg")
        pages = os.path.join(self.scans, "pages.tif")
        draw_scan().save(pages, save_all=True, append_images=[draw_scan()], dpi=(300, 300))
        for given, names in (([self.scans], [scan, pages]), ([pages], [pages])):
            said = self.make("--again", *given).stderr.splitlines()
            self.assertIn(f"{pages}: 2 pages; the first is used", said)
            for line in said:
                self.assertTrue(line.startswith("which way") or
                                any(line.startswith(name + ": ") for name in names), line)
        os.mkdir(os.path.join(self.root, "x"))
        said = milori("positive", "scans/pages.tif", "-o", "x", cwd=self.root).stderr
        self.assertIn("\nscans/pages.tif: 2 pages", "\n" + said)

    def test_a_folder_that_nothing_came_into_goes_again(self):
        bad = self.junk("bad.tif", b"no picture")
        self.assertEqual(milori("positive", bad, "-o", self.out).returncode, 1)
        self.assertFalse(os.path.exists(self.out))
        os.mkdir(self.out)  # not ours
        self.assertEqual(milori("positive", bad, "-o", self.out).returncode, 1)
        self.assertTrue(os.path.isdir(self.out))

    def test_dry_run_writes_nothing(self):
        scan = self.scan("shed.tif")
        result = self.make("--dry-run", scan)
        self.assertIn("shed.tif", result.stdout)
        self.assertIn("1 positive to make", result.stdout)
        self.assertFalse(os.path.exists(self.out))

    def test_quiet(self):
        result = self.make("--quiet", self.scan("shed.tif"))
        self.assertEqual((result.stdout, result.stderr), ("", ""))
        self.junk("broken.tif", b"II*\0")
        result = milori("positive", "--quiet", self.scans, "-o", self.out)
        self.check_one_line(result, 1, "broken.tif")
        self.assertEqual(result.stdout, "")

    def test_like_makes_the_same_again(self):
        scan = self.scan("shed.tif")
        choices = ["--stops=0.5", "--grade=3", "--palette=amber", "--soften-lights=0.3",
                   "--turn=90"]
        self.make(*choices, scan)
        first = os.path.join(self.out, "shed.tif")
        again = os.path.join(self.root, "again")
        self.check_well(milori("positive", "--like", first, scan, "-o", again))
        self.assertEqual(digest(os.path.join(again, "shed.tif")), digest(first))
        # the command line wins, wherever it stands
        for order in (["--stops=-1", "--like", first], ["--like", first, "--stops=-1"]):
            other = os.path.join(self.root, "other")
            self.check_well(milori("positive", "--again", *order, scan, "-o", other))
            wanted = os.path.join(self.root, "wanted")
            self.check_well(milori("positive", *choices, "--stops=-1", scan, "-o", wanted))
            self.assertTrue((pixels(os.path.join(other, "shed.tif")) ==
                             pixels(os.path.join(wanted, "shed.tif"))).all())

    def test_like_keeps_what_is_one_sheet_s_own_for_that_sheet(self):
        # two scans of one sheet: other bytes, so another sheet for all that milori knows
        shed, trays = self.scan("shed.tif"), self.scan("trays.tif", compression="tiff_lzw")
        own = ["--corners=100,100 400,100 400,300 100,300", "--unexposed=300,200"]
        self.make(*own, "--stops=1", shed)
        first, again = os.path.join(self.out, "shed.tif"), os.path.join(self.root, "again")
        self.assertAlmostEqual(pixels(first).shape[1], 300, delta=1)
        like = ["positive", "--like", first, shed, trays, "-o"]
        self.check_well(milori(*like, again))
        self.assertEqual(digest(os.path.join(again, "shed.tif")), digest(first))
        without = os.path.join(self.root, "without")
        self.check_well(milori("positive", "--stops=1", trays, "-o", without))
        self.assertEqual(digest(os.path.join(again, "trays.tif")),
                         digest(os.path.join(without, "trays.tif")))
        self.assertIn("0 positives made, 2 up to date", self.check_well(milori(*like, again)).stdout)
        self.assertIn("0 positives made, 1 up to date",
                      self.make("--like", first, shed).stdout, "the very same is there")
        # the command line wins
        self.check_well(milori("positive", "--corners=auto", *like[1:3], shed, "-o", without))
        self.assertGreater(pixels(os.path.join(without, "shed.tif")).shape[1], 400)

    def test_like_with_two_sheets_and_corners_of_one(self):
        scan = self.scan("beds.tif", sheets=2)
        self.make("--corners=660,100 960,100 960,300 660,300", scan)
        self.assertAlmostEqual(pixels(os.path.join(self.out, "beds-2.tif")).shape[1], 300, delta=1)
        for name in self.made():
            again = os.path.join(self.root, name)
            self.check_well(milori("positive", "--like", os.path.join(self.out, name), scan, "-o",
                                   again))
            for sheet in self.made():
                self.assertEqual(digest(os.path.join(again, sheet)),
                                 digest(os.path.join(self.out, sheet)))

    def test_like_tells_of_a_file_that_is_another_now(self):
        scan, dodge = self.scan("shed.tif"), os.path.join(self.root, "dodge.png")
        Image.new("L", (60, 40), 128).save(dodge)
        self.make(f"--dodge={dodge}", scan)
        first, other = os.path.join(self.out, "shed.tif"), os.path.join(self.root, "other")
        line = f"{dodge} is not the picture that {first} was made with"
        said = self.check_well(milori("positive", "--like", first, scan, "-o", other)).stderr
        self.assertNotIn("is not the picture", said)
        self.assertEqual(digest(os.path.join(other, "shed.tif")), digest(first))
        Image.new("L", (60, 40), 250).save(dodge)
        for options, count in ((["--like", first], 1), (["--quiet", "--like", first], 0),
                               ([f"--dodge={dodge}", "--like", first], 0)):
            result = self.check_well(milori("positive", *options, scan, "-o", other))
            self.assertEqual(result.stderr.splitlines().count(line), count, options)
        self.assertNotEqual(digest(os.path.join(other, "shed.tif")), digest(first))

    def test_like_what_names_a_file_that_is_gone(self):
        scan, dodge = self.scan("shed.tif"), os.path.join(self.root, "dodge.png")
        Image.new("L", (60, 40), 128).save(dodge)
        self.make(f"--dodge={dodge}", scan)
        os.remove(dodge)
        like, other = os.path.join(self.out, "shed.tif"), os.path.join(self.root, "other")
        result = milori("positive", "--like", like, scan, "-o", other)
        self.check_one_line(result, 2, f"{dodge}: cannot be opened", f"{like} names it", "--dodge")
        self.check_well(milori("positive", "--like", like, "--dodge=none", scan, "-o", other))
        result = milori("positive", "--like", like, f"--dodge={dodge}", scan, "-o", other)
        self.assertNotIn("names it", self.check_one_line(result, 2, dodge))

    def test_like_a_choices_file(self):
        scan, file = self.scan("shed.tif"), os.path.join(self.root, "evening.json")
        with open(file, "w", encoding="utf-8") as f:
            json.dump({"palette": "blue", "stops": 0.5}, f)
        self.make("--like", file, scan)
        other = os.path.join(self.root, "other")
        self.check_well(milori("positive", "--palette=blue", "--stops=.5", scan, "-o", other))
        self.assertEqual(digest(os.path.join(other, "shed.tif")),
                         digest(os.path.join(self.out, "shed.tif")))

    def test_like_what_is_neither(self):
        scan = self.scan("shed.tif")
        broken = self.junk("broken.json", b'{"stops": 1, "stops": 2}')
        unknown = self.junk("unknown.json", b'{"weeds": 1}')
        text = self.junk("text.txt", b"stops 1\n")
        for path in (broken, unknown, text, scan, os.path.join(self.root, "none"), self.root):
            with self.subTest(path):
                result = milori("positive", "--like", path, scan, "-o", self.out)
                self.check_one_line(result, 2, os.path.basename(path))
        self.assertFalse(os.path.exists(self.out))

    def test_jobs_and_threads_change_nothing(self):
        self.scan("a.tif")
        self.scan("b.png")
        self.scan("c.tif", sheets=2)
        results = []
        for jobs in ("1", "3"):
            out = os.path.join(self.root, jobs)
            result = self.check_well(milori("positive", "--jobs", jobs, self.scans, "-o", out))
            results.append((result.stdout.replace(out, "out"), result.stderr,
                            [digest(os.path.join(out, n)) for n in self.made(out)]))
        self.assertEqual(results[0], results[1])

    def test_own_positives_in_the_scans_folder_are_no_scans(self):
        self.scan("shed.png")
        self.check_well(milori("positive", self.scans, "-o", self.scans))
        self.assertEqual(self.made(self.scans), ["shed.png", "shed.tif"])
        again = self.check_well(milori("positive", self.scans, "-o", self.scans))
        self.assertIn("0 positives made, 1 up to date, 0 failed", again.stdout)

    def test_a_stranger_s_file_stays(self):
        scan = self.scan("shed.tif")
        os.mkdir(self.out)
        for content in (b"my notes", None):
            path = os.path.join(self.out, "shed.tif")
            if content is None:
                Image.new("RGB", (30, 20)).save(path)
            else:
                with open(path, "wb") as f:
                    f.write(content)
            with self.unchanged(path):
                self.check_one_line(milori("positive", scan, "-o", self.out), 1, "--replace")
        self.make("--replace", scan)
        self.assertGreater(pixels(path).shape[0], 100)

    def test_another_scan_s_positive_stays(self):
        first, second = self.scan("shed.tif"), os.path.join(self.root, "shed.png")
        self.make(first)
        os.rename(first, second + ".tif")
        Image.open(second + ".tif").save(second, dpi=(300, 300))
        result = milori("positive", second, "-o", self.out)
        self.check_one_line(result, 1, "--replace")

    def test_leftovers_of_a_killed_run_are_swept(self):
        scan = self.scan("shed.tif")
        os.mkdir(self.out)
        with open(os.path.join(self.out, ".milori-0123456789abcdef.part"), "wb") as f:
            f.write(b"half")
        self.make(scan)
        self.assertEqual(self.made(), ["shed.tif"])

    def test_memory_limit_bites_and_says_what_to_do(self):
        # a progressive JPEG cannot be streamed
        scan = os.path.join(self.scans, "big.jpg")
        Image.new("RGB", (4000, 3000), (230, 220, 200)).save(scan, progressive=True, dpi=(300, 300))
        result = milori("positive", "--memory=16", scan, "-o", self.out)
        self.check_one_line(result, 1, "big.jpg", "--memory")
        self.assertEqual(self.made(), [])

    def test_memory_for_one_scan_at_a_time_is_enough(self):
        # 2400 x 1920 px of three 16 bit coefficients: 26 MiB each, of 32 for both
        for name in ("a.jpg", "b.jpg", "c.jpg"):
            draw_scan().resize((2400, 1920), Image.BICUBIC).save(
                os.path.join(self.scans, name), progressive=True, subsampling=0, quality=80,
                dpi=(1200, 1200))
        result = milori("positive", "--memory=16", self.scans, "-o", self.out)
        self.assertEqual(result.returncode, 1, "16 MiB are too few, else this tests nothing")
        result = self.make("--memory=32", "--jobs=2", self.scans)
        self.assertIn("3 positives made", result.stdout)

    def test_pixel_limit_bites(self):
        result = milori("positive", "--pixels=1000", self.scan("shed.tif"), "-o", self.out)
        self.check_one_line(result, 1, "shed.tif", "limit of 1000 px", "--pixels")

    def test_scan_s_own_notes_are_said_once_each(self):
        result = self.make(self.scan("shed.jpg"))
        lines = result.stderr.splitlines()
        self.assertEqual(len(lines), len(set(lines)))
        self.assertTrue(any("8 bit" in line for line in lines), result.stderr)
        self.assertTrue(any("profile" in line or "sRGB" in line for line in lines), result.stderr)


class Terminal(Bench):
    def on_a_terminal(self, *arguments):
        """Exit status, and what a terminal of 60 columns got."""
        master, slave = pty.openpty()
        fcntl.ioctl(slave, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 60, 0, 0))
        run = subprocess.Popen([MILORI, *arguments], stdin=slave, stdout=slave, stderr=slave)
        os.close(slave)
        said = b""
        try:
            while part := os.read(master, 65536):
                said += part
        except OSError:  # the other end is closed
            pass
        os.close(master)
        return run.wait(), said.decode()

    def test_a_bar_with_count_and_name(self):
        for i in range(3):
            self.scan(f"{'row of beans ' * 4}{i}.tif")
        status, said = self.on_a_terminal("positive", self.scans, "-o", self.out)
        self.assertEqual(status, 0, said)
        bars = [part for part in re.split(r"[\r\n]", said) if part.startswith("[")]
        self.assertTrue(any("1/3 row of beans" in bar for bar in bars), said)
        self.assertTrue(any("3/3 row of beans" in bar for bar in bars), said)
        self.assertLess(max(len(bar.replace("\033[K", "")) for bar in bars), 60)
        self.assertNotIn("made ", said.replace("positives made", ""))
        # the bar is gone at the end
        self.assertEqual(said.splitlines()[-1].split("\033[K")[-1],
                         f"3 positives made in {self.out}, 0 up to date, 0 failed")

    def test_quiet_draws_nothing(self):
        self.scan("shed.tif")
        status, said = self.on_a_terminal("positive", "--quiet", self.scans, "-o", self.out)
        self.assertEqual((status, said), (0, ""))


class Opened(Bench):
    """Files written, opened by other programs: libtiff's tools, pngcheck, exiftool (Debian)."""

    def test_other_readers(self):
        scan = self.scan("shed.tif")
        for name, extension, reader in (("tiff", "tif", "tiffinfo"), ("png", "png", "pngcheck"),
                                        ("jpeg", "jpg", "exiftool")):
            self.check_well(milori("positive", "--format", name, scan, "-o", self.out))
            path = os.path.join(self.out, f"shed.{extension}")
            said = subprocess.run([reader, path], stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                                  encoding="utf-8", errors="replace", check=False)
            self.assertEqual(said.returncode, 0, said.stdout)
            self.assertNotIn("arning", said.stdout)
            tags = subprocess.run(["exiftool", "-j", "-n", path], stdout=subprocess.PIPE,
                                  encoding="utf-8", check=True).stdout
            tags = json.loads(tags)[0]
            self.assertTrue(tags["CreatorTool"].startswith("milori "), tags)
            self.assertIn("ProfileDescription", tags)
            # units: TIFF 6.0 (2 inch), PNG pHYs (1 metre), JFIF (1 inch)
            across, inch = {"tiff": ("XResolution", 1), "png": ("PixelsPerUnitX", 0.0254),
                            "jpeg": ("XResolution", 1)}[name]
            self.assertEqual(tags.get("ResolutionUnit", tags.get("PixelUnits")),
                             2 if name == "tiff" else 1)
            self.assertAlmostEqual(tags[across] * inch, 300, delta=0.02)


if __name__ == "__main__":
    main()
