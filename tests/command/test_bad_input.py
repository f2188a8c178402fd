"""Bad input of every kind: one clear line, nothing left behind, the rest goes on."""
import os
import shutil
import subprocess

from program import MILORI, Bench, draw_scan, main, milori, save


class BadInput(Bench):
    def test_each_kind_has_its_line(self):
        whole = self.scan("whole.tif")
        with open(whole, "rb") as f:
            tiff = f.read()
        png = os.path.join(self.root, "whole.png")
        jpeg = os.path.join(self.root, "whole.jpg")
        save(draw_scan(), png)
        save(draw_scan(), jpeg)
        bad = {"empty.tif": b"", "text.png": b"It rained all day.\n" * 40,
               "header.tif": b"II*\0\x08\0\0\0", "cut.tif": tiff[:len(tiff) * 2 // 3]}
        for name, path in (("cut.png", png), ("cut.jpg", jpeg)):
            with open(path, "rb") as f:
                content = f.read()
            bad[name] = content[:len(content) // 2]
        for name, content in bad.items():
            with self.subTest(name):
                path = self.junk(name, content)
                with self.unchanged(path):
                    for command in (["positive", path, "-o", self.out], ["measure", path],
                                    ["measure", "--json", path]):
                        self.check_one_line(milori(*command), 1, name)
                self.assertEqual(self.made(), [])

    def test_names_that_are_no_scan(self):
        fifo, folder = os.path.join(self.root, "pipe.tif"), os.path.join(self.root, "bare")
        os.mkfifo(fifo)
        os.mkdir(folder)
        broken = os.path.join(self.root, "broken.tif")
        os.symlink("nowhere", broken)
        for path in (fifo, folder, broken, os.path.join(self.root, "missing.tif"), "/dev/null", "",
                     os.path.join(self.scans, "x.tif", "y.tif")):
            with self.subTest(path):
                self.check_one_line(milori("positive", path, "-o", self.out), 1,
                                    os.path.basename(path))
                self.check_one_line(milori("measure", path), 1, os.path.basename(path))
                self.assertEqual(self.made(), [])

    def test_a_file_that_cannot_be_opened_is_said_in_one_wording(self):
        scan, lost = self.scan("shed.tif"), os.path.join(self.root, "lost.file")
        line = f"milori: {lost}: cannot be opened (No such file or directory); check the name"
        for arguments, status in ((["--palette", lost], 2), (["--curve", lost], 2),
                                  (["--like", lost], 2), (["--profile", lost], 2),
                                  (["--dodge", lost], 2), ([lost], 1)):
            with self.subTest(arguments):
                result = milori("positive", *arguments, scan, "-o", self.out)
                self.assertEqual(self.check_one_line(result, status), line)

    def test_permissions_are_told_from_names(self):
        locked = os.path.join(self.root, "locked.txt")
        with open(locked, "w", encoding="utf-8") as f:
            f.write("0 0\n1 1\n")
        os.chmod(locked, 0)
        if os.access(locked, os.R_OK):
            self.skipTest("the superuser may read everything")
        self.check_one_line(milori("positive", "--curve", locked, "x", "-o", self.out), 2, locked,
                            "(Permission denied); check its permissions")

    def test_a_folder_of_folders(self):
        os.mkdir(os.path.join(self.scans, "may"))
        self.check_one_line(milori("positive", self.scans, "-o", self.out), 1,
                            "folders inside are not read")

    def test_a_spot_outside_the_frame(self):
        scan = self.scan("shed.tif")
        for spot in ("9,9", "5000,100"):
            for command in (["positive", "-o", self.out], ["measure"]):
                result = milori(*command, f"--unexposed={spot}", scan)
                self.check_one_line(result, 1, f"{scan}: the unexposed spot {spot} is not in the "
                                    "frame")
        self.assertEqual(self.made(), [])

    def test_a_broken_link_in_a_folder(self):
        self.scan("shed.tif")
        os.symlink("nowhere", os.path.join(self.scans, "lost.tif"))
        result = milori("positive", self.scans, "-o", self.out)
        self.check_one_line(result, 1, "lost.tif")
        self.assertEqual(self.made(), ["shed.tif"])

    def test_one_bad_scan_does_not_stop_the_rest(self):
        good = [self.scan("a.tif"), self.scan("c.png")]
        self.junk("b.tif", b"no picture")
        with self.unchanged(*good):
            result = milori("positive", self.scans, "-o", self.out)
        self.check_one_line(result, 1, "b.tif")
        self.assertEqual(self.made(), ["a.tif", "c.tif"])
        self.assertIn("2 positives made, 0 up to date, 1 failed", result.stdout)

    def test_no_sheet_on_the_glass(self):
        path = os.path.join(self.scans, "glass.png")
        bed = draw_scan().crop((0, 0, 38, 38)).resize((600, 500))
        save(bed, path)
        self.check_one_line(milori("positive", path, "-o", self.out), 1, "glass.png")
        self.assertEqual(self.made(), [])

    def test_refused_before_any_work(self):
        scan = self.scan("shed.tif")
        other = os.path.join(self.root, "other")
        os.mkdir(other)
        shutil.copy(scan, os.path.join(other, "shed.tiff"))
        second = self.scan("trays.tif")
        inside = os.path.join(self.root, "a file")
        with open(inside, "wb"):
            pass
        linked, hard = os.path.join(self.root, "linked"), os.path.join(self.root, "hard")
        for folder in (linked, hard):
            os.mkdir(folder)
        os.symlink(scan, os.path.join(linked, "shed.tif"))
        os.link(scan, os.path.join(hard, "shed.tif"))
        by_link = os.path.join(self.root, "by link")
        os.symlink(self.scans, by_link)
        with self.unchanged(scan):
            for what, arguments in (
                    ("two names", [scan, os.path.join(other, "shed.tiff"), "-o", self.out]),
                    ("same folder", [scan, "-o", self.scans]),
                    ("folder by link", [self.scans, "-o", by_link]),
                    ("symbolic link", [scan, "-o", linked]), ("hard link", [scan, "-o", hard]),
                    ("file as folder", [scan, "-o", inside]),
                    ("folder in a file", [scan, "-o", os.path.join(inside, "x")]),
                    ("no such profile", ["--profile=lost.icc", scan, "-o", self.out]),
                    ("no profile", [f"--profile={inside}", scan, "-o", self.out]),
                    ("no dodging picture", [f"--dodge={inside}", scan, "-o", self.out]),
                    ("corners of which", ["--corners=9,9 99,9 99,99 9,99", scan, second, "-o",
                                          self.out]),
                    ("spots of which", ["--unexposed=9,9", self.scans, "-o", self.out]),
                    ("two levels", [scan, "-o", os.path.join(self.root, "no", "such")])):
                with self.subTest(what):
                    self.check_one_line(milori("positive", *arguments), 2)
        self.assertFalse(os.path.exists(self.out))
        self.assertEqual(self.made(self.scans), ["shed.tif", "trays.tif"])
        self.assertTrue(os.path.islink(os.path.join(linked, "shed.tif")))

    def test_unwritable_folder(self):
        scan = self.scan("shed.tif")
        folder = os.path.join(self.root, "locked")
        os.mkdir(folder, 0o555)
        if os.access(folder, os.W_OK):
            folder = "/proc/self"  # not even the superuser makes files here
        result = milori("positive", scan, "-o", folder)
        self.assertIn(result.returncode, (1, 2))
        self.check_one_line(result, result.returncode, "self" if folder == "/proc/self" else folder)

    def test_a_full_disk_leaves_nothing(self):
        # a limit of the file size stands in for it: 8 blocks of 512 bytes
        scan = self.scan("shed.tif")
        limited = 'ulimit -f 8; "$0" positive "$1" -o "$2"'
        result = subprocess.run(["sh", "-c", limited, MILORI, scan, self.out], encoding="utf-8",
                                stdout=subprocess.PIPE, stderr=subprocess.PIPE, check=False)
        self.check_one_line(result, 1, "shed.tif")
        self.assertEqual(self.made(), [])

    def test_the_same_file_twice_is_taken_once(self):
        scan = self.scan("shed.tif")
        link = os.path.join(self.root, "shed.tif")
        os.symlink(scan, link)
        result = self.check_well(milori("positive", scan, self.scans, link, "-o", self.out))
        self.assertIn("1 positive made", result.stdout)


if __name__ == "__main__":
    main()
