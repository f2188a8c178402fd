"""Checks print files that milori wrote with programs that are not milori's.

print_reader.py JOBS, where a line of JOBS is, between tabs,
KIND  FILE  "WIDTH HEIGHT CHANNELS BITS DPI"  ICC  OUTPUT_ICC  OUTPUT_NAME  XMP

FILE.raw holds the samples that were written, native byte order; an ICC of "inks" is inks.icc beside
FILE. TIFF: tifffile and tiffinfo. PDF: qpdf checks the file and undoes Flate and the predictor, so
every sample is compared; poppler's pdfinfo and pdfimages tell size and resolution; pdftoppm renders
it. Exits non-zero with a line if anything differs.
"""

import json
import os
import subprocess
import sys

import numpy as np
import scipy.ndimage
from PIL import Image


def run(*command):
    done = subprocess.run(command, capture_output=True)
    assert done.returncode == 0, "%s: %s" % (command, done.stderr.decode(errors="replace"))
    assert not done.stderr, "%s: %s" % (command, done.stderr.decode(errors="replace"))
    return done.stdout


def profile_of(name, path):
    if name == "inks":
        name = os.path.join(os.path.dirname(path), "inks.icc")
    return open(name, "rb").read() if name else None


def check_tiff(job):
    import tifffile

    with tifffile.TiffFile(job["path"]) as tiff:
        page = tiff.pages[0]
        tags = page.tags
        # TIFF 6.0, section 16: 5 is separated, ink set 1 is CMYK.
        assert tags["PhotometricInterpretation"].value == 5, "separated"
        assert tags["InkSet"].value == 1, "CMYK"
        assert bytes(tags["InterColorProfile"].value) == job["icc"], "profile"
        assert bytes(tags["XMP"].value) == job["xmp"], "XMP"
        assert np.array_equal(page.asarray(), job["samples"]), "samples"
    said = run("tiffinfo", job["path"]).decode()
    assert "Resolution: %g, %g pixels/inch" % (job["dpi"], job["dpi"]) in said, "resolution"
    assert "Photometric Interpretation: separated" in said, "libtiff's view"


class Pdf:
    def __init__(self, path):
        self.path = path
        self.objects = json.loads(run("qpdf", "--json=2", path))["qpdf"][1]
        self.trailer = self.objects["trailer"]["value"]
        self.root = self.value(self.trailer["/Root"])

    def value(self, reference):
        item = self.objects["obj:" + reference]
        return item.get("value") or item.get("stream", {}).get("dict")

    def stream(self, reference):
        number = reference.split()[0]
        return run("qpdf", "--show-object=" + number, "--filtered-stream-data", self.path)


def check_structure(pdf, job):
    said = run("qpdf", "--check", pdf.path).decode()
    assert "No syntax or stream encoding errors found" in said, said
    info = pdf.value(pdf.trailer["/Info"])
    assert info["/Producer"].startswith("u:milori "), "producer"
    # No time, no claim to a level of PDF/X (ISO 15930: GTS_PDFXVersion).
    assert list(info) == ["/Producer"], info
    assert b"GTS_PDFXVersion" not in open(pdf.path, "rb").read()
    assert len(pdf.trailer["/ID"]) == 2, "ID"
    assert ("/Metadata" in pdf.root) == bool(job["xmp"]), "metadata"
    if job["xmp"]:
        assert pdf.stream(pdf.root["/Metadata"]) == job["xmp"], "XMP"


def check_intent(pdf, job):
    intents = pdf.root.get("/OutputIntents", [])
    assert len(intents) == (1 if job["output_icc"] else 0), "output intents"
    for intent in intents:
        assert pdf.stream(intent["/DestOutputProfile"]) == job["output_icc"], "printer's profile"
        assert intent["/OutputConditionIdentifier"] == "u:Custom"
        assert intent["/Info"] == "u:" + (job["output_name"] or "printer profile"), intent["/Info"]
        channels = {b"GRAY": 1, b"RGB ": 3, b"CMYK": 4}[job["output_icc"][16:20]]
        assert pdf.value(intent["/DestOutputProfile"])["/N"] == channels, "N"


def check_picture(pdf, job):
    page = pdf.value(pdf.value(pdf.root["/Pages"])["/Kids"][0])
    reference = page["/Resources"]["/XObject"]["/Picture"]
    image = pdf.value(reference)
    samples = job["samples"]
    height, width, channels = samples.shape
    bits = 8 * samples.itemsize
    assert (image["/Width"], image["/Height"]) == (width, height)
    assert image["/BitsPerComponent"] == bits
    got = np.frombuffer(pdf.stream(reference), ">u%d" % samples.itemsize)
    assert np.array_equal(got.reshape(samples.shape), samples), "samples"
    space = image["/ColorSpace"]
    if job["icc"]:
        assert space[0] == "/ICCBased" and pdf.value(space[1])["/N"] == channels, space
        assert pdf.stream(space[1]) == job["icc"], "profile"
    else:
        assert space == {1: "/DeviceGray", 3: "/DeviceRGB", 4: "/DeviceCMYK"}[channels], space
    dpi = job["dpi"] or 72
    box = page["/MediaBox"]
    assert abs(box[2] - width * 72 / dpi) < 1e-5 and abs(box[3] - height * 72 / dpi) < 1e-5, box


def check_poppler(job):
    height, width, channels = job["samples"].shape
    dpi = job["dpi"] or 72
    said = dict(line.split(":", 1) for line in run("pdfinfo", job["path"]).decode().splitlines())
    assert said["Pages"].strip() == "1" and said["PDF version"].strip() == "1.7", said
    assert "PDF subtype" not in said and "CreationDate" not in said, said
    wide, high = (float(word) for word in said["Page size"].split()[:3:2])
    # pdfinfo prints six digits.
    assert abs(wide - width * 72 / dpi) < 1e-3 * 5 and abs(high - height * 72 / dpi) < 1e-3 * 5
    row = run("pdfimages", "-list", job["path"]).decode().splitlines()
    assert len(row) == 3, row
    row = row[2].split()
    colour = {1: "gray", 3: "rgb", 4: "cmyk"}[channels]
    if job["icc"]:
        colour = "icc"
    bits = str(8 * job["samples"].itemsize)
    assert row[2:8] == ["image", str(width), str(height), colour, str(channels), bits], row
    # Whole numbers.
    assert abs(int(row[12]) - dpi) <= 1 and abs(int(row[13]) - dpi) <= 1, row


def check_rendering(job):
    """Through poppler's renderer, at the picture's own resolution.

    It draws a picture up to a pixel larger than its place, so a pixel is one between its
    neighbours: never mirrored, turned, moved by two or of other values.
    """
    samples = job["samples"]
    height, width, channels = samples.shape
    if channels == 4 or job["output_icc"]:
        return  # poppler shows inks, and what an output intent asks for, in colours of its own
    out = job["path"] + ".page"
    run("pdftoppm", "-r", "%.10g" % (job["dpi"] or 72), "-png", "-singlefile",
        "-scale-to-x", str(width), "-scale-to-y", str(height), job["path"], out)
    page = np.asarray(Image.open(out + ".png").convert("RGB")).astype(float)
    assert page.shape == (height, width, 3), page.shape
    expected = np.broadcast_to(samples, page.shape) / (257 if samples.itemsize == 2 else 1)
    low = scipy.ndimage.minimum_filter(expected, (3, 3, 1))
    high = scipy.ndimage.maximum_filter(expected, (3, 3, 1))
    # Poppler keeps the high byte of 16 bits; with sRGB it converts through lcms2 to its own.
    outside = np.maximum(low - page, page - high).max()
    assert outside <= 2, "rendered %.2f away" % outside
    assert abs((page - expected).mean()) <= 2, "rendered lighter or darker"


def check(line):
    kind, path, numbers, icc, output_icc, name, xmp = line.rstrip("\n").split("\t")
    width, height, channels, bits = (int(word) for word in numbers.split()[:4])
    samples = np.fromfile(path + ".raw", np.uint16 if bits == 16 else np.uint8)
    job = {
        "path": path,
        "samples": samples.reshape(height, width, channels),
        "dpi": float(numbers.split()[4]),
        "icc": profile_of(icc, path),
        "output_icc": profile_of(output_icc, path),
        "output_name": name,
        "xmp": xmp.encode(),
    }
    if kind == "tiff":
        return check_tiff(job)
    pdf = Pdf(path)
    check_structure(pdf, job)
    check_intent(pdf, job)
    check_picture(pdf, job)
    check_poppler(job)
    check_rendering(job)


def main():
    lines = open(sys.argv[1], encoding="utf-8").readlines()
    for line in lines:
        try:
            check(line)
        except Exception as error:
            sys.exit("%s: %s: %s" % (line.split("\t")[1], type(error).__name__, error))
    print(len(lines), "files read")


main()
