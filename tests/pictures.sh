#!/bin/sh
# Makes the README's pictures from one scan with one sheet: the sheet, the naive way, and
# milori's three palettes; and of prints: the brush's edge, test strips, a contact sheet.
# Run start.sh first.
# usage: sh tests/pictures.sh [SCAN [WIDTH]]
set -eu
cd "$(dirname "$0")/.."
scan=${1:-testdata/long-kept.jpg}
width=${2:-360}
out=testdata/pictures
milori=${MILORI:-build/milori}
made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
mkdir -p "$out"

name=$(basename "${scan%.*}")
for palette in neutral amber blue; do
    "$milori" positive --quiet --format png --depth 8 --palette "$palette" \
        -o "$made" --again "$scan"
    mv "$made/$name.png" "$made/$palette.png"
done
"$milori" measure --json "$scan" >"$made/sheet.json"
/usr/bin/python3 tests/naive.py "$scan" "$made/sheet.json" "$made/sheet.png" "$made/naive.png"

"$milori" print --quiet --palette blue --edge --print-dpi 100 --depth 8 "$scan" \
    --paper a4-upright -o "$made/edge.png"
"$milori" print --quiet --palette blue --test-strip stops --print-dpi 100 --depth 8 "$scan" \
    -o "$made/strips.png"
"$milori" print --quiet --palette blue --contact-sheet testdata --print-dpi 100 --depth 8 \
    -o "$made/contact.png"

for picture in sheet naive neutral amber blue edge strips contact; do
    /usr/bin/python3 - "$made/$picture.png" "$out/$picture.png" "$width" <<'END'
import sys
from PIL import Image, ImageOps
picture = Image.open(sys.argv[1])
if picture.height == 1169:  # a page of A4: where it ends must show
    picture = ImageOps.expand(picture.convert("RGB"), 4, (150, 150, 150))
picture.thumbnail((int(sys.argv[3]),) * 2, Image.LANCZOS)
picture.convert("RGB").quantize(256, dither=Image.Dither.NONE).save(sys.argv[2], optimize=True)
END
done
ls -l "$out"
