"""A LUT profile for a scanner, made by Argyll's colprof from a scanned chart.

Only tests need it. Its date and identity are set to fixed values.
"""
import os
import shutil
import subprocess
import tempfile

import numpy as np

import spectra
from scanner import surfaces


def _ti3(scanner):
    chart = surfaces()
    device = np.clip(scanner.see(chart), 0, 1) ** (1 / 2.2) * 100
    colours = spectra.lab(spectra.xyz(chart))
    fields = "SAMPLE_ID RGB_R RGB_G RGB_B LAB_L LAB_A LAB_B"
    lines = ["CTI3", "", 'DEVICE_CLASS "INPUT"', 'COLOR_REP "LAB_RGB"', "NUMBER_OF_FIELDS 7",
             "BEGIN_DATA_FORMAT", fields, "END_DATA_FORMAT", f"NUMBER_OF_SETS {len(chart)}", "BEGIN_DATA"]
    for i, row in enumerate(np.hstack([device, colours])):
        lines.append(f"{i + 1} " + " ".join(f"{v:.5f}" for v in row))
    return "\n".join([*lines, "END_DATA", ""])


def lut_profile(scanner):
    """Bytes of an input profile with a Lab table for this scanner."""
    tool = shutil.which("colprof")
    if not tool:
        raise RuntimeError("a LUT profile needs colprof: install the package argyll")
    with tempfile.TemporaryDirectory() as folder:
        base = os.path.join(folder, "scanner")
        with open(base + ".ti3", "w", encoding="ascii") as f:
            f.write(_ti3(scanner))
        subprocess.run([tool, "-al", "-qm", "-u", "-D", "simulated scanner", base], check=True,
                       stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        with open(base + (".icc" if os.path.exists(base + ".icc") else ".icm"), "rb") as f:
            data = bytearray(f.read())
    data[24:36] = bytes([7, 232, 0, 1, 0, 1, 0, 0, 0, 0, 0, 0])
    data[84:100] = bytes(16)
    return bytes(data)
