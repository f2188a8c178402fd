"""Help, version and wrong use."""
import os
import re
import subprocess

from program import MILORI, SOURCE, Bench, main, milori


def options_of(command):
    """Long options as the help lists them."""
    text = milori(command, "--help").stdout
    return re.findall(r"^ +(?:-\w, )?(--[a-z-]+)", text, re.M)


class Usage(Bench):
    def test_help_fits_a_screen(self):
        lines = self.check_well(milori("--help")).stdout.splitlines()
        self.assertLessEqual(len(lines), 24)
        self.assertLessEqual(max(map(len, lines)), 80)
        for command in ("positive", "measure", "print", "proof", "easel", "target", "tablet"):
            self.assertIn(f"milori {command}", "\n".join(lines))

    def test_help_of_commands(self):
        for command, most in (("positive", 60), ("measure", 40), ("print", 60), ("proof", 50),
                              ("easel", 60), ("target", 50), ("tablet", 40)):
            lines = self.check_well(milori(command, "--help")).stdout.splitlines()
            self.assertLessEqual(len(lines), most)
            self.assertLessEqual(max(map(len, lines)), 80)
        essentials = "\n".join(milori("positive", "--help").stdout.splitlines()[:12])
        for option in ("-o", "--like", "--stops", "--grade", "--palette", "--turn", "--format"):
            self.assertIn(f" {option}", essentials)
        self.assertIn("notes", milori("measure", "--help").stdout)
        self.assertIn("--palette", options_of("positive"))
        self.assertIn("--json", options_of("measure"))
        self.assertNotIn("--palette", options_of("measure"))

    def test_version_is_the_project_s(self):
        with open(os.path.join(SOURCE, "CMakeLists.txt"), encoding="utf-8") as f:
            version = re.search(r"project\(milori VERSION ([0-9.]+)", f.read()).group(1)
        self.assertEqual(self.check_well(milori("--version")).stdout, f"milori {version}\n")

    def test_every_option_is_completed_and_described(self):
        completion = os.path.join(SOURCE, "src", "command", "milori.bash-completion")
        for command in ("positive", "measure", "print", "proof", "easel", "target", "tablet"):
            asked = f'source "{completion}"; COMP_WORDS=(milori {command} --); COMP_CWORD=2; ' \
                    '_milori; printf "%s\\n" "${COMPREPLY[@]}"'
            shown = subprocess.run(["bash", "-c", asked], stdout=subprocess.PIPE, check=True,
                                   encoding="utf-8").stdout.split()
            self.assertEqual(sorted(set(shown)), sorted(options_of(command)))
            with open(os.path.join(SOURCE, "man", f"milori-{command}.1"), encoding="utf-8") as f:
                page = f.read().replace("\\-", "-")
            for option in options_of(command):
                self.assertRegex(page, re.escape(option) + r"\b", "not in the man page")

    def test_words_of_choices_are_completed(self):
        completion = os.path.join(SOURCE, "src", "command", "milori.bash-completion")
        text = milori("positive", "--help").stdout
        lists = re.findall(r"^ +(--[a-z-]+) ([a-zA-Z0-9-]+(?:\|[a-zA-Z0-9-]+)+) ", text + " ", re.M)
        self.assertGreater(len(lists), 6)
        for option, values in lists:
            words = [w for w in values.split("|") if not w.isupper()]
            asked = f'source "{completion}"; COMP_WORDS=(milori positive {option} ""); ' \
                    'COMP_CWORD=3; cd /var/empty 2>/dev/null || cd /; _milori; ' \
                    'printf "%s\\n" "${COMPREPLY[@]}"'
            shown = subprocess.run(["bash", "-c", asked], stdout=subprocess.PIPE, check=True,
                                   encoding="utf-8").stdout.split()
            self.assertLessEqual(set(words), set(shown), option)

    def test_wrong_use(self):
        for arguments, words in (
                ([], ["no command"]), (["weed"], ["weed"]), (["positive"], ["no scan"]),
                (["measure"], ["no scan"]), (["positive", "x.tif"], ["-o"]),
                (["positive", "--weed", "x"], ["--weed"]), (["positive", "-z", "x"], ["-z"]),
                (["positive", "x", "-o"], ["-o", "value"]),
                (["positive", "x", "--output="], ["--output"]),
                (["positive", "--again=yes", "x"], ["--again=yes"]),
                (["measure", "--palette", "blue", "x"], ["--palette"]),
                (["positive", "--jobs", "0", "x"], ["--jobs", "64"]),
                (["positive", "--jobs", "two", "x"], ["--jobs", "64"]),
                (["positive", "--memory", "-5", "x"], ["--memory"]),
                (["positive", "--pixels", "1.5", "x"], ["--pixels"])):
            with self.subTest(arguments):
                self.check_one_line(milori(*arguments, cwd=self.root), 2, *words)
        self.assertEqual(os.listdir(self.root), ["scans"])

    def test_choices_out_of_range(self):
        for option, text in (("stops", "11"), ("stops", "1,5"), ("grade", "9"), ("veil", "96"),
                             ("soften-shadows", "2"), ("soften-lights", "-1"), ("quality", "0"),
                             ("depth", "12"), ("format", "gif"), ("turn", "45"), ("sun", "grey"),
                             ("palette", "no such file"), ("curve", "no such file"),
                             ("dpi", "0"), ("frame", "6x"), ("corners", "1,2 3,4"),
                             ("unexposed", "here"), ("shape", "oval"), ("reading", "left"),
                             ("intent", "best"), ("black-point", "2"), ("dodge-stops", "99")):
            with self.subTest(option=option, text=text):
                result = milori("positive", f"--{option}={text}", "x.tif", "-o", self.out)
                self.check_one_line(result, 2, text if " " in text else option)
        self.assertFalse(os.path.exists(self.out))

    def test_jpeg_cannot_hold_16_bits(self):
        scan = self.scan("shed.tif")
        result = milori("positive", "--format=jpeg", "--depth=16", scan, "-o", self.out)
        self.check_one_line(result, 2, "16")

    def test_closed_streams_do_no_harm(self):
        scan = self.scan("shed.tif")
        for close in ("<&-", ">&-", "2>&-", "<&- >&- 2>&-"):
            with self.subTest(close):
                closed = f'"$0" positive --quiet --again "$1" -o "$2" {close}'
                run = subprocess.run(["sh", "-c", closed, MILORI, scan, self.out], check=False)
                self.assertEqual(run.returncode, 0)
                subprocess.run(["tiffinfo", "-D", os.path.join(self.out, "shed.tif")], check=True,
                               stdout=subprocess.DEVNULL)

    def test_full_standard_output_is_an_error(self):
        with open("/dev/full", "wb") as full:
            result = subprocess.run([MILORI, "--help"], stdout=full, stderr=subprocess.PIPE,
                                    check=False, encoding="utf-8")
        self.assertEqual(result.returncode, 1)
        self.assertIn("standard output", result.stderr)


if __name__ == "__main__":
    main()
