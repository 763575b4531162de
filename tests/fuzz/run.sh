#!/usr/bin/env bash
# Runs every fuzzer for some seconds on its seeds and what earlier runs found.
# Usage: run.sh [SECONDS] [NAME...]   (60; all but hdf5, which finds faults of that library)
# Needs the build of preset fuzz. What the fuzzers find new paths with is kept in
# build/fuzz/corpus/NAME, an input that breaks something in build/fuzz/found/NAME-*, the log in
# build/fuzz/NAME.log. Exits 1 when something was found.
set -uo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.." || exit 2
seconds=${1:-60}
names=("${@:2}")
build=build/fuzz
((${#names[@]})) || mapfile -t names < <(
  find tests/fuzz -name '*_fuzz.cpp' -printf '%f\n' | sed 's/_fuzz\.cpp$//' | grep -v '^hdf5$' | sort)

# The program's own words: keys, units, column names, choices.
words() {
  cat cli/input/*.cpp models/weather/columns.cpp models/weather/weather_csv.cpp \
    models/parameters.def | grep -oh '"[a-zA-Z0-9_ %./]\{2,30\}"' | sort -u
}

# Results files as the program writes them, without the check sum in their last line.
result_seeds() {
  local pile name
  mkdir -p "$build/seeds/hdf5"
  for pile in heap bin; do
    name=$build/seeds/hdf5/$pile.h5
    "$build/heapcast" forecast "tests/fuzz/corpus/pile_file/$pile.toml" --quiet \
      --resolution coarse --set pile.shape=one_cell --set run.days=1 -o "$name" 2>/dev/null ||
      "$build/heapcast" forecast "tests/fuzz/corpus/pile_file/$pile.toml" --quiet \
        --resolution coarse --set run.days=1 -o "$name" || return 1
    truncate -s -26 "$name"
  done
}

export LSAN_OPTIONS=suppressions=tests/fuzz/leaks.supp:print_suppressions=0
mkdir -p "$build/found"
words >"$build/words.dict"
result_seeds || { echo "the seeds of hdf5 could not be made" >&2; exit 2; }
status=0
for name in "${names[@]}"; do
  mkdir -p "$build/corpus/$name"
  seeds=()
  for folder in "tests/fuzz/corpus/$name" "$build/seeds/$name"; do
    [[ -d $folder ]] && seeds+=("$folder")
  done
  limits=(-timeout=20 -rss_limit_mb=4096)
  "$build/tests/fuzz/fuzz_$name" -max_total_time="$seconds" -dict="$build/words.dict" \
    -print_final_stats=1 -artifact_prefix="$build/found/$name-" "${limits[@]}" \
    "$build/corpus/$name" "${seeds[@]}" >"$build/$name.log" 2>&1
  if (($? == 0)); then
    printf '%-16s %s inputs, nothing found\n' "$name" \
      "$(sed -n 's/^stat::number_of_executed_units: *//p' "$build/$name.log")"
  else
    printf '%-16s FOUND: %s\n' "$name" \
      "$(grep -m1 -E 'broken promise|ERROR:|SUMMARY|runtime error' "$build/$name.log")"
    status=1
  fi
done
exit $status
