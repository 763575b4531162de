#!/usr/bin/env bash
# Builds heapcast on Debian 12, installing what is missing, and runs the first example.
# Usage: bash examples/run.sh [FOLDER]     results go to FOLDER, by default ./results
set -Eeuo pipefail
trap 'echo "examples/run.sh stopped at line $LINENO." >&2' ERR

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
results=$(realpath -m "${1:-results}")
source "$root/tests/packages.sh"

install_missing "${build_packages[@]}"

cd "$root"
cmake --preset release --log-level=WARNING
cmake --build --preset release --target heapcast -j "$(nproc)"

shopt -s nullglob
piles=(examples/01_*/pile.toml)
if ((${#piles[@]} == 0)); then
  echo "examples/01_*/pile.toml is missing: there is no example to run." >&2
  exit 1
fi
name=$(basename "$(dirname "${piles[0]}")")
mkdir -p "$results"
build/release/heapcast forecast "${piles[0]}" -o "$results/$name.h5" --report "$results/$name.html"

echo
echo "Report:  $results/$name.html  (open it in a browser)"
echo "Results: $results/$name.h5"
echo "Program: $root/build/release/heapcast"
