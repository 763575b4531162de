#!/usr/bin/env bash
# Proves that the style checks can fail: each is given a sound tree, which must pass, and the same
# tree with one fault, which it must report by file.
set -uo pipefail
tests=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
wrong=0

# A small tree that breaks no rule.
sound_tree() {
  rm -rf "$work/tree"
  mkdir -p "$work/tree"/{engine,models,cli,tests,validation}
  cd "$work/tree" || exit 1
  cp "$tests/../.clang-format" .
  printf '#pragma once\n#include <vector>\n/// Compiles and repeats a competent piled-up loop.\nusing Values = std::vector<double>;\n' \
    >engine/values.hpp
  printf '#include "engine/values.hpp"\n\n#include <boost/version.hpp>\n' >engine/steps.cpp
  printf '#include "engine/values.hpp"\n\n#include <boost/math/constants/constants.hpp>\n' >engine/laws.cpp
  printf '#include "engine/values.hpp"\n\n#include <hdf5.h>\n' >engine/results_file.cpp
  printf '#pragma once\n#include "engine/values.hpp"\n/// Temperature of a pile: puts (prints) nothing.\nusing Pile = Values;\ninline const char* name = "puts(";\n' \
    >models/pile.hpp
  printf '#include <vector>\n\n#include "models/names.hpp"\n' >models/names.cpp # hides what names.hpp lacks
  printf '#include "models/pile.hpp"\n\n#include <CLI/CLI.hpp>\n#include <cstdio>\n#include <toml++/toml.h>\n\nvoid show() {\n  std::printf("pile");\n}\n' \
    >cli/show.cpp
}

say_wrong() {
  echo "$*" >&2
  wrong=1
}

passes() { # CHECK...
  sound_tree
  local output
  output=$("$@" "$work/tree" 2>&1) || say_wrong "$(basename "$2") rejects a sound tree: $output"
}

fails() { # FILE TEXT CHECK...: the text is added to the file
  sound_tree
  local file=$1 text=$2 output
  printf '%b' "$text" >>"$file"
  if output=$("${@:3}" "$work/tree" 2>&1); then
    say_wrong "$(basename "$4") accepts in $file: $text"
  elif [[ $output != *"$file"* ]]; then
    say_wrong "$(basename "$4") does not name $file: $output"
  fi
}

layers=(python3 "$tests/layers.py")
passes "${layers[@]}"
fails engine/values.hpp '#include "models/pile.hpp"\n' "${layers[@]}"
fails engine/values.hpp '#include "cli/show.hpp"\n' "${layers[@]}"
fails models/pile.hpp '#  include "cli/show.hpp"\n' "${layers[@]}"
fails models/pile.hpp '#include "pile_parts.hpp"\n' "${layers[@]}"
fails models/pile.hpp '#include "engine/../cli/show.hpp"\n' "${layers[@]}"
fails engine/steps.cpp '#include <hdf5.h>\n' "${layers[@]}"
fails models/pile.hpp '#include <hdf5_hl.h>\n' "${layers[@]}"
fails cli/show.cpp '#include <H5Fpublic.h>\n' "${layers[@]}"
fails engine/other.cpp '#include <boost/array.hpp>\n' "${layers[@]}"
fails engine/other.cpp '#include <boost/math/tools/roots.hpp>\n' "${layers[@]}"
fails engine/values.hpp '#include <boost/array.hpp>\n' "${layers[@]}"
fails models/pile.hpp '#include <boost/array.hpp>\n' "${layers[@]}"
fails cli/show.cpp '#include <boost/array.hpp>\n' "${layers[@]}"
fails models/pile.hpp '#include <toml++/toml.h>\n' "${layers[@]}"
fails engine/steps.cpp '#include <CLI/CLI.hpp>\n' "${layers[@]}"
fails models/pile.hpp '#include <nlohmann/json.hpp>\n' "${layers[@]}"
fails engine/steps.cpp '#include <iostream>\n' "${layers[@]}"
fails models/pile.hpp 'void f() { std::printf("x"); }\n' "${layers[@]}"
fails models/pile.hpp 'void f() { fmt::print("x"); }\n' "${layers[@]}"
fails models/pile.hpp 'void f() { std::cerr << 1; }\n' "${layers[@]}"
for name in temperature_K coreMoisture CompostCell O2_oxygen CARBON nitrogen_kgN heat_W pile piles; do
  fails engine/values.hpp "double $name;\n" "${layers[@]}"
done
fails engine/values.hpp '// the heat of a cell\n' "${layers[@]}"

# Two files joined to one: a finding of the analyzer and one of another check must be reported in
# the file and line where they stand. `tidy_tree TREE` makes the build's folder and checks it.
tidy_tree() {
  local build=$1/build/joined
  mkdir -p "$build"
  cp "$tests/../.clang-tidy" "$1"
  printf '#include "%s/engine/one.cpp"\n#include "%s/engine/two.cpp"\n' "$1" "$1" >"$build/all.cxx"
  printf 'int one(int x) {\n  return x + 1;\n}\n' >"$1/engine/one.cpp"
  [[ -e $1/engine/two.cpp ]] || printf 'int two(int x) {\n  return x + 2;\n}\n' >"$1/engine/two.cpp"
  printf '[{"directory": "%s", "file": "%s/all.cxx", "command": "c++ -std=c++20 -c %s/all.cxx"}]' \
    "$build" "$build" "$build" >"$build/compile_commands.json"
  python3 "$tests/tidy.py" "$build"
}
export tests
export -f tidy_tree
tidied=(bash -c 'tidy_tree "$1"' tidy.py)
passes "${tidied[@]}"
fails engine/two.cpp 'int two(int* p) {\n  delete p;\n  return *p;\n}\n' "${tidied[@]}"
fails engine/two.cpp 'int two(int x) {\n  return x - x;\n}\n' "${tidied[@]}"

headers=(bash "$tests/headers.sh")
passes "${headers[@]}"
fails models/names.hpp '#pragma once\nusing Names = std::vector<int>;\n' "${headers[@]}"
fails models/names.hpp 'struct Names {};\n' "${headers[@]}"

format=(bash "$tests/format.sh")
passes "${format[@]}"
fails cli/show.cpp 'int  two( ){return 2;}\n' "${format[@]}"

exit $wrong
