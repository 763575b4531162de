#!/usr/bin/env bash
# Checks that every C++ file is laid out as .clang-format says. Usage: format.sh [--fix] [ROOT]
set -euo pipefail
mode=(--dry-run -Werror)
if [[ ${1:-} == --fix ]]; then
  mode=(-i)
  shift
fi
cd "${1:-$(dirname "${BASH_SOURCE[0]}")/..}"
find engine models cli tests validation \( -name '*.cpp' -o -name '*.hpp' \) -print0 |
  xargs -0 -r clang-format-14 --style=file "${mode[@]}"
