#!/bin/sh
# Makes the README's pictures from one scan with one sheet: the sheet, the naive way, and
# milori's three palettes. Run start.sh first.
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

for picture in sheet naive neutral amber blue; do
    /usr/bin/python3 - "$made/$picture.png" "$out/$picture.png" "$width" <<'END'
import sys
from PIL import Image
picture = Image.open(sys.argv[1])
picture.thumbnail((int(sys.argv[3]),) * 2, Image.LANCZOS)
picture.convert("RGB").quantize(256, dither=Image.Dither.NONE).save(sys.argv[2], optimize=True)
END
done
ls -l "$out"
