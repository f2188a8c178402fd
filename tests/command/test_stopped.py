"""Stopped or killed in the middle: nothing half-made under a final name, and a rerun does the rest."""
import os
import shutil
import signal
import subprocess
import time
import unittest

from program import MILORI, Bench, digest, main, milori

SCANS = 3


class Stopped(Bench):
    def setUp(self):
        super().setUp()
        first = self.scan("row 1.tif")
        for i in range(2, SCANS + 1):
            shutil.copy(first, os.path.join(self.scans, f"row {i}.tif"))
        whole = os.path.join(self.root, "whole")
        self.check_well(milori("positive", self.scans, "-o", whole))
        self.want = {name: digest(os.path.join(whole, name)) for name in self.made(whole)}
        self.assertEqual(len(self.want), SCANS)

    def names(self):
        return [name for name in self.made() if not name.endswith(".part")]

    def check_only_whole_ones(self):
        for name in self.names():
            self.assertEqual(digest(os.path.join(self.out, name)), self.want[name], name)

    def stop(self, signal_number, reached):
        """Status of a run that got the signal once the folder's names are as reached says."""
        for _ in range(20):
            status = self.try_to_stop(signal_number, reached)
            if status != 0:
                return status
            shutil.rmtree(self.out)  # a slow machine: it had ended before we looked again
        return 0

    def try_to_stop(self, signal_number, reached):
        with subprocess.Popen([MILORI, "positive", "--jobs=2", self.scans, "-o", self.out],
                              stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as run:
            while run.poll() is None and not reached(self.made()):
                time.sleep(0.0005)
            run.send_signal(signal_number)
            run.stderr.read()
        return run.returncode

    def check_rerun(self):
        self.check_only_whole_ones()
        there = len(self.names())
        result = self.check_well(milori("positive", self.scans, "-o", self.out))
        self.assertRegex(result.stdout, rf"{SCANS - there} positives? made, {there} up to date")
        self.assertEqual(self.made(), sorted(self.want), "whole, and no leftovers")
        self.check_only_whole_ones()
        shutil.rmtree(self.out)

    @staticmethod
    def moments():
        """At once, while a first file is written, and when one is ready."""
        yield lambda made: True
        yield lambda made: any(name.endswith(".part") for name in made)
        yield lambda made: sum(name.endswith(".tif") for name in made) >= 1

    def test_interrupted(self):
        scans = [os.path.join(self.scans, name) for name in os.listdir(self.scans)]
        for i, reached in enumerate(self.moments()):
            with self.subTest(i), self.unchanged(*scans):
                status = self.stop(signal.SIGINT, reached)
                # before the handler stands the signal ends the program itself
                self.assertIn(status, (130, -signal.SIGINT) if i == 0 else (130,))
                self.assertEqual(self.names(), self.made(), "it sweeps its own leftovers")
                self.check_rerun()

    def test_killed(self):
        scans = [os.path.join(self.scans, name) for name in os.listdir(self.scans)]
        leftovers = 0
        for i, reached in enumerate(self.moments()):
            with self.subTest(i), self.unchanged(*scans):
                self.assertEqual(self.stop(signal.SIGKILL, reached), -signal.SIGKILL)
                leftovers += len(self.made()) - len(self.names())
                self.check_rerun()
        for _ in range(20):  # while one is written for certain, however slow the machine
            if leftovers:
                break
            self.stop(signal.SIGKILL, [*self.moments()][1])
            leftovers = len(self.made()) - len(self.names())
            self.check_rerun()
        self.assertGreater(leftovers, 0, "none was killed while it wrote: this tests nothing")


if __name__ == "__main__":
    main()
