#!/usr/bin/env bash
# Checks that every header compiles alone, and a second time in the same file.
# Usage: headers.sh [ROOT]
set -euo pipefail
cd "${1:-$(dirname "${BASH_SOURCE[0]}")/..}"

compile_alone() {
  printf '#include "%s"\n#include "%s"\n' "$1" "$1" |
    g++ -std=c++20 -fsyntax-only -I. -Ibuild/release/generated $header_flags -x c++ - || {
    echo "$1: does not compile alone; include what it uses, and write #pragma once" >&2
    return 1
  }
}
export -f compile_alone
# The tests' headers may use the paths that their build defines.
header_flags="$(pkg-config --cflags eigen3 fmt hdf5-serial tomlplusplus)
  -DHEAPCAST_REFERENCE_DIR=\"\" -DHEAPCAST_EXAMPLES_DIR=\"\" -DHEAPCAST_BINARY=\"\""
export header_flags
find engine models cli tests validation -name '*.hpp' -print0 |
  xargs -0 -r -n 1 -P "$(nproc)" bash -c 'compile_alone "$1"' _
