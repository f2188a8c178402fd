"""Pictures for test_source_files.c, by writers and readers other than those milori uses.

TIFF by tifffile and Pillow, PNG by this file from the PNG specification (ISO/IEC 15948) with
zlib alone, JPEG by Pillow, cjpeg and jpegtran and decoded for comparison by djpeg (the last
three are libjpeg-turbo's own programs). Beside each NAME lies NAME.raw: the samples wanted,
16 bit in the machine's order.

Usage: source_files.py FOLDER. Writes FOLDER/list, one line a file:
  good NAME channels width height bits orientation dpi_x dpi_y space pages note lossy
  bad NAME status words_joined
space and status are the numbers of mil_space and milori_status; note is "-" or a code.
"""
import io
import os
import struct
import subprocess
import sys
import zlib

import numpy as np
import tifffile
from PIL import Image, ImageCms

LIMIT, FORMAT, UNSUPPORTED, DAMAGED, PROFILE = 3, 5, 6, 7, 8
NONE, ICC, SRGB, GAMMA = 0, 1, 2, 3
W, H = 45, 31
folder = sys.argv[1]
lines = []
rng = np.random.default_rng(7)
srgb_icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def path(name):
    return os.path.join(folder, name)


def good(name, want, bits, orientation=1, dpi=(0, 0), space=NONE, pages=1, note="-", lossy=0):
    want = np.ascontiguousarray(want, dtype=np.uint16)
    want.tofile(path(name + ".raw"))
    channels = want.shape[2] if want.ndim == 3 else 1
    lines.append(f"good {name} {channels} {want.shape[1]} {want.shape[0]} {bits} {orientation}"
                 f" {dpi[0]!r} {dpi[1]!r} {space} {pages} {note} {lossy}")


def bad(name, status, words):
    lines.append(f"bad {name} {status} {words.replace(' ', '_')}")


def save(name, data):
    with open(path(name), "wb") as file:
        file.write(data)


def codes(bits, *shape):
    return rng.integers(0, 2**bits, size=shape, dtype=np.uint32)


def full(values, bits):
    return values * (65535 // (2**bits - 1))


def on_white(values, alpha):
    """Exact rounding in whole numbers; values and alpha 0..65535."""
    v, a = values.astype(np.uint64), alpha.astype(np.uint64)
    return (2 * (v * a + 65535 * (65535 - a)) + 65535) // (2 * 65535)


# ---- TIFF ------------------------------------------------------------------

def tiffs():
    for bits, dtype in ((8, np.uint8), (16, np.uint16)):
        for channels in (1, 3):
            shape = (H, W) if channels == 1 else (H, W, 3)
            data = codes(bits, *shape).astype(dtype)
            kind = "minisblack" if channels == 1 else "rgb"
            for order in "<>":
                for tag, options in (("plain", {}), ("rows", {"rowsperstrip": 4}),
                                     ("tiles", {"tile": (16, 32)}),
                                     ("zip", {"compression": "zlib", "rowsperstrip": 9}),
                                     ("ziptiles", {"compression": "zlib", "tile": (16, 16)}),
                                     ("big", {"bigtiff": True})):
                    options = dict(options)
                    big = options.pop("bigtiff", False)
                    name = f"t{bits}-{channels}-{'le' if order == '<' else 'be'}-{tag}.tif"
                    with tifffile.TiffWriter(path(name), bigtiff=big, byteorder=order) as tiff:
                        tiff.write(data, photometric=kind, metadata=None, software=None,
                                   resolution=(1200, 600), **options)
                    good(name, full(data.astype(np.uint32), bits), bits, dpi=(1200.0, 600.0))
            if channels == 3:
                for tag, options in (("plain", {}), ("zip", {"compression": "zlib"}),
                                     ("tiles", {"tile": (16, 16), "compression": "zlib"})):
                    name = f"t{bits}-planes-{tag}.tif"
                    tifffile.imwrite(path(name), np.moveaxis(data, 2, 0), photometric="rgb",
                                     planarconfig="separate", metadata=None, **options)
                    good(name, full(data.astype(np.uint32), bits), bits)
    pages = codes(8, 3, H, W).astype(np.uint8)
    tifffile.imwrite(path("pages.tif"), pages, photometric="minisblack", metadata=None)
    good("pages.tif", full(pages[0].astype(np.uint32), 8), 8, pages=3, note="pages")
    for mode, status, words in (("CMYK", UNSUPPORTED, "CMYK TIFF, which milori does not read; save it as RGB"),
                                ("LAB", UNSUPPORTED, "CIELAB")):
        Image.new(mode, (5, 4)).save(path(mode + ".tif"))
        bad(mode + ".tif", status, words)
    for dtype, words in ((np.float32, "floating point"), (np.float16, "floating point"),
                         (np.uint32, "32 bits"), (np.int16, "signed")):
        name = f"{np.dtype(dtype).name}.tif"
        tifffile.imwrite(path(name), np.zeros((4, 5), dtype), photometric="minisblack")
        bad(name, UNSUPPORTED, words)


# ---- PNG -------------------------------------------------------------------

def chunk(kind, data):
    body = kind + data
    return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))


def pack_row(row, bits):
    """A row of samples to bytes, leftmost in the high bits."""
    if bits == 16:
        return row.astype(">u2").tobytes()
    if bits == 8:
        return row.astype(np.uint8).tobytes()
    ones = (row[:, None] >> np.arange(bits - 1, -1, -1)) & 1
    return np.packbits(ones.astype(np.uint8).ravel()).tobytes()


ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2),
         (0, 1, 1, 2))


def png(data, bits, kind, interlaced=False, before=b"", after=b"", raw=None):
    """data: height x width x samples of codes; filter type 0 throughout."""
    height, width = data.shape[:2]
    if raw is None:
        raw = b""
        passes = ADAM7 if interlaced else ((0, 0, 1, 1),)
        for x0, y0, dx, dy in passes:
            part = data[y0::dy, x0::dx]
            if part.size:
                for row in part:
                    raw += b"\0" + pack_row(row.ravel(), bits)
    head = struct.pack(">IIBBBBB", width, height, bits, kind, 0, 0, int(interlaced))
    packed = zlib.compress(raw)
    half = len(packed) // 2
    return (b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + before + chunk(b"IDAT", packed[:half]) +
            chunk(b"IDAT", packed[half:]) + after + chunk(b"IEND", b""))


def pngs():
    for interlaced in (False, True):
        i = "i" if interlaced else "n"
        for bits in (1, 2, 4, 8, 16):
            grey = codes(bits, H, W, 1)
            stored = 16 if bits == 16 else 8
            name = f"p-grey{bits}{i}.png"
            save(name, png(grey, bits, 0, interlaced))
            good(name, full(grey, bits)[..., 0], stored)
            key = int(grey[3, 4, 0])
            name = f"p-grey{bits}-key{i}.png"
            save(name, png(grey, bits, 0, interlaced, chunk(b"tRNS", struct.pack(">H", key))))
            good(name, np.where(grey == key, 65535, full(grey, bits))[..., 0], stored,
                 note="alpha")
            if bits <= 8:
                palette = codes(8, 2**bits, 3)
                plte = chunk(b"PLTE", palette.astype(np.uint8).tobytes())
                index = codes(bits, H, W, 1)
                name = f"p-index{bits}{i}.png"
                save(name, png(index, bits, 3, interlaced, plte))
                good(name, full(palette, 8)[index[..., 0]], 8)
                clear = codes(8, 2**bits)
                trns = chunk(b"tRNS", clear.astype(np.uint8).tobytes())
                name = f"p-index{bits}-clear{i}.png"
                save(name, png(index, bits, 3, interlaced, plte + trns))
                alpha = full(clear, 8)[index[..., 0]][..., None]
                good(name, on_white(full(palette, 8)[index[..., 0]], alpha), 8, note="alpha")
            if bits >= 8:
                colour = codes(bits, H, W, 3)
                name = f"p-rgb{bits}{i}.png"
                save(name, png(colour, bits, 2, interlaced))
                good(name, full(colour, bits), stored)
                name = f"p-rgb{bits}-key{i}.png"
                key = colour[5, 6]
                save(name, png(colour, bits, 2, interlaced,
                               chunk(b"tRNS", struct.pack(">HHH", *key))))
                same = np.all(colour == key, axis=2, keepdims=True)
                good(name, np.where(same, 65535, full(colour, bits)), stored, note="alpha")
                for samples, kind in ((2, 4), (4, 6)):
                    data = codes(bits, H, W, samples)
                    name = f"p-alpha{samples}-{bits}{i}.png"
                    save(name, png(data, bits, kind, interlaced))
                    wide = full(data, bits)
                    want = on_white(wide[..., :-1], wide[..., -1:])
                    good(name, want if samples == 4 else want[..., 0], stored, note="alpha")
        tiny = codes(8, 1, 1, 3)
        save(f"p-tiny{i}.png", png(tiny, 8, 2, interlaced))
        good(f"p-tiny{i}.png", full(tiny, 8), 8)


def png_chunks():
    data = codes(8, 3, 4, 3)
    grey = codes(8, 3, 4, 1)
    gama = chunk(b"gAMA", struct.pack(">I", 45455))
    chrm = chunk(b"cHRM", struct.pack(">8I", 31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000))
    srgb = chunk(b"sRGB", b"\0")
    iccp = chunk(b"iCCP", b"bean\0\0" + zlib.compress(srgb_icc))
    exif = Image.Exif()
    exif[0x0112] = 6
    exif = exif.tobytes()[6:]  # without Exif\0\0
    many = (chunk(b"pHYs", struct.pack(">IIB", 23622, 11811, 1)) + chunk(b"eXIf", exif) +
            chunk(b"tEXt", b"Software\0seed tray 2") +
            chunk(b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0<x:xmpmeta/>"))
    for name, before, space, rest in (
            ("c-gamma.png", gama + chrm, GAMMA, {}), ("c-gamma-alone.png", gama, GAMMA, {}),
            ("c-srgb.png", srgb + gama + chrm, SRGB, {}), ("c-icc.png", iccp + gama, ICC, {}),
            ("c-many.png", many, NONE,
             {"orientation": 6, "dpi": (23622 * 0.0254, 11811 * 0.0254)})):
        save(name, png(data, 8, 2, before=before))
        good(name, full(data, 8), 8, space=space, **rest)
    other = chunk(b"iCCP", b"bean\0\0" + zlib.compress(srgb_icc[:len(srgb_icc) // 2]))
    save("b-profile-cut.png", png(data, 8, 2, before=other))
    save("b-profile-junk.png", png(data, 8, 2, before=chunk(b"iCCP", b"bean\0\0junk")))
    save("b-profile-twice.png", png(data, 8, 2, before=iccp + iccp))
    save("b-profile-colour.png", png(grey, 8, 0, before=iccp))
    for which in ("cut", "junk", "twice", "colour"):
        bad(f"b-profile-{which}.png", PROFILE, "ICC profile is broken")
    row = b"\0" + bytes(12)
    save("b-short.png", png(data, 8, 2, raw=row * 2))
    save("b-half.png", png(data, 8, 2, raw=row * 2 + row[:7]))
    save("b-long.png", png(data, 8, 2, raw=row * 9))
    whole = png(data, 8, 2)
    save("b-noend.png", whole[:-12])
    # The last IDAT's data ends in the Adler sum; a wrong one under a right CRC.
    packed = bytearray(zlib.compress(row * 3))
    packed[-1] ^= 1
    head = struct.pack(">IIBBBBB", 4, 3, 8, 2, 0, 0, 0)
    save("b-adler.png", b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", bytes(packed)) +
         chunk(b"IEND", b""))
    save("b-zero.png", whole.replace(chunk(b"IHDR", head),
                                     chunk(b"IHDR", struct.pack(">IIBBBBB", 0, 3, 8, 2, 0, 0, 0))))
    for which in ("short", "half", "long", "noend", "adler", "zero"):
        bad(f"b-{which}.png", DAMAGED, "cut off or damaged")
    save("b-huge.png", whole.replace(chunk(b"IHDR", head), chunk(b"IHDR", struct.pack(
        ">IIBBBBB", 0x7fffffff, 0x7fffffff, 8, 2, 0, 0, 0))))
    bad("b-huge.png", LIMIT, "over the limit")


# ---- JPEG ------------------------------------------------------------------

def run(*command, data=None):
    return subprocess.run(command, input=data, stdout=subprocess.PIPE, check=True).stdout


def djpeg(name):
    """Through -dct int with fancy upsampling, djpeg's own default."""
    kind, size, most, data = run("djpeg", "-dct", "int", "-pnm", path(name)).split(b"\n", 3)
    width, height = map(int, size.split())
    shape = (height, width) if kind == b"P5" else (height, width, 3)
    return np.frombuffer(data, np.uint8).reshape(shape).astype(np.uint32)


def jpegs():
    y, x = np.mgrid[0:H, 0:W]
    smooth = np.stack([x * 5 % 256, y * 8 % 256, (x + y) * 3 % 256], axis=2)
    smooth = np.clip(smooth + rng.integers(-9, 9, smooth.shape), 0, 255).astype(np.uint8)
    image = Image.fromarray(smooth)
    ppm = b"P6\n%d %d\n255\n" % (W, H) + smooth.tobytes()
    exif = Image.Exif()
    exif[0x0112], exif[0x0128], exif[0x011a], exif[0x011b] = 8, 3, 100.0, 50.0
    exif[0x8769] = {0xa001: 1}
    for subsampling in (0, 1, 2):
        for progressive in (False, True):
            name = f"j-{subsampling}{'p' if progressive else 'b'}.jpg"
            image.save(path(name), quality=90, subsampling=subsampling, progressive=progressive,
                       dpi=(300, 150))
            good(name, full(djpeg(name), 8), 8, dpi=(300.0, 150.0), lossy=1)
    image.convert("L").save(path("j-grey.jpg"), quality=90)
    good("j-grey.jpg", full(djpeg("j-grey.jpg"), 8), 8, lossy=1)
    image.save(path("j-exif.jpg"), quality=90, exif=exif)
    good("j-exif.jpg", full(djpeg("j-exif.jpg"), 8), 8, orientation=8, dpi=(254.0, 127.0),
         space=SRGB, lossy=1)
    image.save(path("j-icc.jpg"), quality=90, icc_profile=srgb_icc * 60, exif=exif, dpi=(72, 72))
    good("j-icc.jpg", full(djpeg("j-icc.jpg"), 8), 8, orientation=8, dpi=(72.0, 72.0), space=ICC,
         lossy=1)
    for name, options in (("j-rgb.jpg", ("-rgb",)), ("j-restart.jpg", ("-restart", "1")),
                          ("j-optimised.jpg", ("-optimize",)), ("j-arith.jpg", ("-arithmetic",))):
        save(name, run("cjpeg", "-quality", "92", *options, data=ppm))
        good(name, full(djpeg(name), 8), 8, lossy=1)
    save("j-scans.jpg", run("jpegtran", "-progressive", path("j-restart.jpg")))
    good("j-scans.jpg", full(djpeg("j-scans.jpg"), 8), 8, lossy=1)
    Image.new("CMYK", (16, 16)).save(path("cmyk.jpg"))
    bad("cmyk.jpg", UNSUPPORTED, "CMYK JPEG, which milori does not read; save it as RGB")
    buffer = io.BytesIO()
    image.save(buffer, "jpeg")
    lossless = buffer.getvalue().replace(b"\xff\xc0", b"\xff\xc3", 1)
    save("lossless.jpg", lossless)
    bad("lossless.jpg", UNSUPPORTED, "rare kind")


tiffs()
pngs()
png_chunks()
jpegs()
with open(path("list"), "w", encoding="ascii") as out:
    out.write("\n".join(lines) + "\n")
