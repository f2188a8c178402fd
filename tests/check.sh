#!/bin/sh
# Installs what is missing, builds milori with the address and undefined behaviour
# sanitisers, and runs the tests. Arguments go to cmake.
set -eu
cd "$(dirname "$0")/.."
. tests/packages.sh

need_packages build test
cmake -S . -B build/check -DCMAKE_BUILD_TYPE=RelWithDebInfo -DMILORI_SANITIZE=ON "$@"
cmake --build build/check -j "$(nproc)"
ctest --test-dir build/check -L quick -j "$(nproc)" --output-on-failure
