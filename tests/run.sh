#!/usr/bin/env bash
# Installs what is missing on Debian 12, builds heapcast and runs every check and test.
# Usage: bash tests/run.sh
#   HEAPCAST_QUICK=1  only the release build, its tests and the quick checks
# Closes with one line, "N passed, N failed", over all checks and all tests.
set -uo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
cd "$root" || exit 1
source tests/packages.sh
install_missing "${build_packages[@]}" "${test_packages[@]}" || exit 1

jobs=$(nproc)
# The compiler cache holds for a clone in any folder.
export CCACHE_BASEDIR=$root CCACHE_NOHASHDIR=1
passed=0
failed=0
skipped=0
failures=()

# title TITLE: a step begins. count TITLE STATUS: it is done, one check more.
title() {
  printf '\n== %s\n' "$1"
  SECONDS=0
}
count() {
  if (($2 == 0)); then
    ((++passed))
  else
    ((++failed))
    failures+=("$1")
  fi
  printf -- '-- %s: %s, %d s\n' "$1" "$( (($2 == 0)) && echo passed || echo FAILED)" "$SECONDS"
}

# check TITLE COMMAND...: one check.
check() {
  title "$1"
  "${@:2}"
  local status=$?
  count "$1" $status
  return $status
}

# build PRESET TARGET...
build() {
  cmake --preset "$1" -D HEAPCAST_TESTS=ON -D HEAPCAST_BENCHMARKS=ON &&
    cmake --build --preset "$1" -j "$jobs" --target "${@:2}"
}

# attribute NAME FILE: a number in the head of a JUnit report; 0 when it is not there.
attribute() {
  local value
  value=$(sed -n "s/^[[:space:]]*$1=\"\([0-9]*\)\".*/\1/p;/<testcase/q" "$2")
  echo "${value:-0}"
}

# run_tests TITLE PRESET OPTION...: the tests of a build; each counts.
run_tests() {
  local report=$root/build/$2/ctest.xml status tests broken missed
  title "$1"
  rm -f "$report"
  ctest --test-dir "build/$2" -j "$jobs" --timeout 300 --no-tests=error --output-on-failure \
    --output-junit "$report" "${@:3}" </dev/null
  status=$?
  tests=$(attribute tests "$report")
  broken=$(attribute failures "$report")
  missed=$(($(attribute skipped "$report") + $(attribute disabled "$report")))
  # A run that broke without naming a failed test: no test at all, a program that is not there.
  ((status == 0 || broken > 0)) || { broken=1 tests=$((tests + 1)); }
  ((passed += tests - broken - missed, failed += broken, skipped += missed))
  ((broken == 0)) || failures+=("$1")
  printf -- '-- %s: %d passed, %d failed, %d s\n' "$1" $((tests - broken - missed)) "$broken" \
    "$SECONDS"
}

# Tests of threads must be in files that the thread sanitizer sees.
threads_are_labelled() {
  local stray
  stray=$(ctest --test-dir build/release -N -L '^(engine|models)' -R Threads -LE threads |
    sed -n 's/^ *Test *#[0-9]*: //p')
  [[ -z $stray ]] || {
    printf '%s: has Threads in its name; move it to a file named …_threads_test.cpp\n' $stray
    return 1
  }
}

# Tests without the static analyzer, which would follow every path through GoogleTest's macros for
# code that the sanitizers run anyway.
tidy() {
  local status=0 rest=--checks=-clang-analyzer-*
  python3 tests/tidy.py build/sanitize '^(engine|models|cli|validation)/' || status=1
  python3 tests/tidy.py build/sanitize '^tests/' "$rest" || status=1
  python3 tests/tidy.py build/fuzz '^tests/fuzz/' "$rest" || status=1
  return $status
}

finish() {
  printf '\n'
  ((${#failures[@]} == 0)) || printf 'Failed: %s\n' "${failures[@]}"
  ((skipped == 0)) && echo "$passed passed, $failed failed" ||
    echo "$passed passed, $failed failed, $skipped skipped"
  exit $((failed > 0))
}

check "The checks can fail" bash tests/checks_selftest.sh
check "Format" bash tests/format.sh
check "Layers" python3 tests/layers.py
check "Build: release" build release all || finish
check "Headers compile alone" bash tests/headers.sh
check "Tests of threads are labelled" threads_are_labelled
run_tests "Tests and examples: release" release

if [[ -z ${HEAPCAST_QUICK:-} ]]; then
  check "Build: address and undefined behaviour sanitizers" build sanitize test_programs &&
    run_tests "Tests and examples: address and undefined behaviour sanitizers" sanitize -LE slow
  if [[ $(ctest --test-dir build/release -N -L threads) == *"Total Tests: 0"* ]]; then
    printf '\n== Thread sanitizer: there is no test of threads yet\n'
  else
    check "Build: thread sanitizer" build tsan thread_tests &&
      run_tests "Tests of threads: thread sanitizer" tsan -L threads -LE slow
  fi
  check "Build: fuzzers" build fuzz fuzzers &&
    check "Fuzzers: some seconds each" bash tests/fuzz/run.sh 4
  check "clang-tidy" tidy
fi
finish
