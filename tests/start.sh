#!/bin/sh
# Installs what is missing, builds milori, and makes positives of the bundled scans.
set -eu
cd "$(dirname "$0")/.."
. tests/packages.sh

need_packages build
cmake -S . -B build -DCMAKE_BUILD_TYPE=Release -DMILORI_TESTS=OFF
cmake --build build -j "$(nproc)"

build/milori measure testdata
build/milori positive --quiet testdata -o build/positives
build/milori positive --quiet --palette amber testdata -o build/positives/amber
build/milori positive --quiet --palette blue testdata -o build/positives/blue

echo
echo "The scans are in      $PWD/testdata"
echo "The positives are in  $PWD/build/positives"
echo "The command is        $PWD/build/milori (try: build/milori --help)"
