#!/usr/bin/env python3
"""Makes testdata/prints/target-print.jpg: the simulated blue print of a tone target.

usage: bundled_print.py --milori build/milori -o FOLDER
"""
import argparse
import os
import subprocess
import tempfile

import contact_scan
from contact import PrintSpec
from contact_scan import GlassSpec
from specs import FileSpec

PROCESS = 2  # of process_model.py


def specs():
    """An A5 target on a coat with brushed ends, a stain at its right, lying askew."""
    spec = PrintSpec(seed=201, process=PROCESS, border=9, rim=3.5, stains=((118, 150, 6, 0.5),))
    glass = GlassSpec(seed=201, dpi=200, room=3, tilt=-2.4, dust=20, hairs=2,
                      file=FileSpec(kind="jpg", bits=8, quality=86))
    return spec, glass


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--milori", default="build/milori")
    parser.add_argument("-o", "--output", default=".")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        film = os.path.join(folder, "target.tif")
        subprocess.run([args.milori, "target", "make", "-q", "-o", film], check=True)
        contact_scan.scan(film, os.path.join(args.output, "target-print.jpg"), *specs())


if __name__ == "__main__":
    main()
