#!/usr/bin/env bash
# Validation: installs what is missing on Debian 12, builds heapcast with tests and benchmarks, runs
# every part and joins them into build/validation/validation.md and validation.html.
# Usage: bash validation/run.sh [--quick] [--no-build] [PART...]
#   PART        only these, e.g. published; the others' last results stay in the document
#   --quick     the parts' short versions, to see whether they work: their numbers count for less
#   --no-build  with the programs that are there
# A part is a folder of validation/ that holds a run.py. The exit code is 0 when every part that was
# asked for could do its work; a miss is a result and no failure.
set -uo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root" || exit 1
source tests/packages.sh

quick=()
build=yes
names=()
for word in "$@"; do
  case $word in
    --quick) quick=(--quick) ;;
    --no-build) build=no ;;
    -*)
      sed -n '2,/^set/{/^#/s/^# \?//p}' "$0" >&2
      exit 2
      ;;
    *) names+=("$word") ;;
  esac
done

out=build/validation
mkdir -p "$out"
if ((${#names[@]} == 0)); then
  for script in validation/*/run.py; do
    names+=("$(basename "$(dirname "$script")")")
  done
  rm -f "$out"/*.json "$out"/*.failed # all parts anew
fi
for name in "${names[@]}"; do
  [[ -f validation/$name/run.py ]] || {
    echo "There is no part $name: validation/$name/run.py is missing" >&2
    exit 2
  }
done

if [[ $build == yes ]]; then
  install_missing "${build_packages[@]}" "${test_packages[@]}" || exit 1
  export CCACHE_BASEDIR=$root CCACHE_NOHASHDIR=1
  cmake --preset release -D HEAPCAST_TESTS=ON -D HEAPCAST_BENCHMARKS=ON &&
    cmake --build --preset release -j "$(nproc)" || exit 1
  # The toughness part says so where there are no fuzzers.
  [[ " ${names[*]} " != *" toughness "* ]] ||
    { cmake --preset fuzz && cmake --build --preset fuzz -j "$(nproc)"; }
fi

# The packages are those of the system's Python, which need not be the first one.
python=/usr/bin/python3
[[ -x $python ]] || python=python3

# part NAME: runs it; one that fails leaves its last lines for the document.
part() {
  local log=$out/$1.log
  printf '\n== %s\n' "$1"
  rm -f "$out/$1.json" "$out/$1.failed"
  SECONDS=0
  if ! "$python" "validation/$1/run.py" --build build/release --out "$out/$1.json" \
    "${quick[@]}" > >(tee "$log") 2>&1 </dev/null || [[ ! -f $out/$1.json ]]; then
    sleep 0.2 # for tee
    tail -n 25 "$log" >"$out/$1.failed"
    echo "-- $1: could not be run, $SECONDS s"
  else
    echo "-- $1: done, $SECONDS s"
  fi
}

for name in "${names[@]}"; do
  part "$name"
done

note="Commit $(git rev-parse --short HEAD 2>/dev/null || echo unknown), $(nproc) cores."
((${#quick[@]})) && note+=" **Quick run: short versions of the parts.**"
printf '\n== Document\n'
"$python" validation/report.py --folder "$out" --note "$note"
status=$?
echo "$out/validation.md, $out/validation.html"
exit $status
