"""File names of every kind, other locales, and being stopped."""
import json
import os
import shutil
import signal
import subprocess
import time

from program import MILORI, Bench, main, milori


class Names(Bench):
    def each(self):
        """Names as bytes; the last fills the 255 bytes that Linux gives a name."""
        return [b"bean poles.tif", b"line\nbreak.tif", b"-o.tif", b"--stops=9.tif",
                b"bad\xff\xfe.tif", "Gewächshaus.tif".encode(), b"back\\slash.tif", b"two.dots.tif", b"%s%n.tif",
                b"tab\tand\x1b[31mred.tif", b"w" * 251 + b".tif"]

    def test_positives_bear_the_scan_s_name(self):
        scan = self.scan("shed.tif")
        folder, out = os.fsencode(self.root) + b"/names", os.fsencode(self.out)
        os.mkdir(folder)
        for name in self.each():
            shutil.copy(scan, folder + b"/" + name)
        result = self.check_well(milori("positive", folder, "-o", self.out))
        self.assertEqual(sorted(os.listdir(out)), sorted(self.each()))
        self.assertNotIn("\x1b", result.stdout + result.stderr)
        self.assertEqual(len(result.stdout.splitlines()), len(self.each()) + 1, "one line each")
        self.assertIn("bad\\xff\\xfe.tif", result.stdout)
        self.assertIn("up to date", milori("positive", folder, "-o", self.out).stdout)
        self.assertIn(f"{len(self.each())} up to date",
                      milori("positive", folder, "-o", self.out).stdout)

    def test_measure_gives_valid_json_for_every_name(self):
        scan = self.scan("shed.tif")
        folder = os.fsencode(self.root) + b"/names"
        os.mkdir(folder)
        for name in self.each():
            shutil.copy(scan, folder + b"/" + name)
        result = self.check_well(milori("measure", "--json", folder))
        result.stdout.encode("utf-8")  # no bytes that are not
        sheets = json.loads(result.stdout)["sheets"]
        self.assertEqual(len(sheets), len(self.each()))
        self.assertEqual(len({sheet["file"] for sheet in sheets}), len(sheets))

    def test_leading_dashes(self):
        scan = self.scan("-shed.tif")
        result = milori("positive", "-o", self.out, "--", "-shed.tif", cwd=os.path.dirname(scan))
        self.check_well(result)
        self.assertEqual(self.made(), ["-shed.tif"])

    def test_a_name_too_long_for_a_sheet_s_number(self):
        self.scan("b" * 251 + ".tif", sheets=2)
        result = milori("positive", self.scans, "-o", self.out)
        self.assertEqual(result.returncode, 1)
        self.assertEqual(result.stderr.count("milori: "), 2)
        self.assertEqual(self.made(), [])

    def test_numbers_do_not_follow_the_locale(self):
        scan = self.scan("shed.tif")
        plain = self.check_well(milori("measure", "--json", scan)).stdout
        if not os.path.exists("/usr/share/i18n/locales/de_DE"):
            self.skipTest("no German locale to make: the package locales is not here")
        subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8",
                        os.path.join(self.root, "de_DE.UTF-8")], check=True)
        # p11-kit, which libmicrohttpd brings with it through GnuTLS, makes a locale while it is
        # loaded, and the C library then keeps LOCPATH's list: a leak that is not milori's.
        env = dict(os.environ, LOCPATH=self.root, LC_ALL="de_DE.UTF-8",
                   ASAN_OPTIONS="detect_leaks=0")
        self.assertIn(",", subprocess.run(["locale", "-k", "decimal_point"], env=env, check=True,
                                          stdout=subprocess.PIPE, encoding="utf-8").stdout)
        self.assertEqual(milori("measure", "--json", scan, env=env).stdout, plain)
        self.check_well(milori("positive", "--stops=0.5", scan, "-o", self.out, env=env))


class Stopped(Bench):
    def test_an_interrupt_leaves_nothing_half_made(self):
        for i in range(12):
            self.scan(f"bed {i}.tif", sheets=2)
        for name in (signal.SIGINT, signal.SIGTERM):
            with self.subTest(name):
                self.out = os.path.join(self.root, name.name)
                run = subprocess.Popen([MILORI, "positive", "--jobs=2", self.scans, "-o",
                                        self.out], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                       encoding="utf-8")
                end = time.monotonic() + 60
                while not self.made() and time.monotonic() < end:
                    time.sleep(0.002)
                run.send_signal(name)
                said = run.communicate(timeout=60)
                self.assertEqual(run.returncode, 130, said)
                self.assertIn("stopped", said[1])
                left = [n for n in self.made() if n.startswith(".")]
                self.assertEqual(left, [])
                # what is there is whole
                for name_ in self.made():
                    subprocess.run(["tiffinfo", "-D", os.path.join(self.out, name_)], check=True,
                                   stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


if __name__ == "__main__":
    main()
