#!/usr/bin/env bash
# Checks that every header compiles alone, and a second time in the same file. One whose source
# file includes it before all else has been compiled alone by the release build; the others are
# compiled here.
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

# compiled_first HEADER: its source file begins with it, and it guards itself.
compiled_first() {
  local source=${1%.hpp}.cpp
  [[ -f $source && $(grep -m 1 '^ *# *include' "$source") == "#include \"$1\"" ]] &&
    [[ $(head -n 1 "$1") == "#pragma once" ]]
}
find engine models cli tests validation -name '*.hpp' | while read -r header; do
  compiled_first "$header" || printf '%s\0' "$header"
done | xargs -0 -r -n 1 -P "$(nproc)" bash -c 'compile_alone "$1"' _
