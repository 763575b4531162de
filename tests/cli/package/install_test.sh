#!/usr/bin/env bash
# What `cmake --install` puts elsewhere is enough to run the program, and to build and run the
# example that uses the engine as a library.
# Usage: install_test.sh BUILD SOURCE
set -Eeuo pipefail
trap 'echo "install_test.sh stopped at line $LINENO." >&2' ERR

build=$1 source=$2
folder=$(mktemp -d)
trap 'rm -rf "$folder"' EXIT
cd "$folder"
cmake --install "$build" --prefix "$folder/first" >install.log
mv first installed # it must not matter where it is

for file in bin/heapcast share/man/man1/heapcast.1.gz share/bash-completion/completions/heapcast \
  share/zsh/site-functions/_heapcast share/doc/heapcast/{README.md,LICENSE,copyright} \
  include/heapcast/models/forecast.hpp include/heapcast/models/parameters.def; do
  [[ -s installed/$file ]] || { echo "$file is not installed" >&2 && exit 1; }
done
for library in CLI11 Eigen 'JSON for Modern C++' Chart.js; do
  grep -qx "$library" installed/share/doc/heapcast/copyright
done
# Nothing points back.
if grep -rIlF "$source" installed; then
  echo "the files above name the source tree" >&2
  exit 1
fi

# The examples run where they are copied to.
cp -r installed/share/doc/heapcast/examples own
for pile in own/*/pile.toml own/*/study.toml; do
  installed/bin/heapcast check --quiet "$pile"
done

cmake -G Ninja -S own/09_engine_as_library -B own/build -D CMAKE_PREFIX_PATH="$folder/installed" >cmake.log
cmake --build own/build >>cmake.log
own/build/pile_by_day >days
# As built, at the 12 degC of the air, to day 30; hot in between, as a heap of this size gets, and
# not hotter than the model holds.
[[ $(head -n 1 days) == "day  0   12.0 degC" && $(tail -n 1 days) == "day 30 "* ]]
(($(wc -l <days) == 31))
awk '$3 > top { top = $3 } END { exit !(top > 50 && top < 80) }' days
