#!/usr/bin/env python3
"""Runs clang-tidy on what a build compiles, files joined to one as that build joins them.

Usage: tidy.py BUILD [PATTERN [OPTION...]]

BUILD is the folder of a unity build, ROOT/build/NAME (preset sanitize or fuzz), PATTERN a regular
expression that the path of a file must hold, OPTION goes to clang-tidy. Headers are read once for
several files, which takes a third of the time; and the text is put together here and not by #include, because
the static analyzer and some checks look only at the main file. Findings are printed with the
lines of the files they stand in. Exits 1 when there is one.
"""

import concurrent.futures
import json
import os
import pathlib
import re
import subprocess
import sys

CLANG_TIDY = "clang-tidy-14"
# The static analyzer gives up a function after so many states; its own limit, 225000, takes four
# times as long.
STATES = [f"--extra-arg={arg}" for arg in
          ("-Xclang", "-analyzer-config", "-Xclang", "max-nodes=20000")]
JOINED = re.compile(r'^#include "(/.*\.cpp)"$', re.MULTILINE)


class JoinedFile:
    """Text of several files one after the other, and where each begins."""

    def __init__(self, path, parts, root):
        self.path = path
        self.root = root
        self.starts = []  # (first line of the part, its path)
        line = 1
        text = []
        for part in parts:
            lines = part.read_text().splitlines()
            self.starts.append((line, part))
            text += lines
            line += len(lines)
        path.write_text("\n".join(text) + "\n")

    def original(self, line):
        first, part = max(start for start in self.starts if start[0] <= line)
        return f"{part.relative_to(self.root)}:{line - first + 1}"

    def translate(self, output):
        return re.sub(
            rf"{re.escape(str(self.path))}:(\d+)", lambda m: self.original(int(m[1])), output
        )


def join(build, pattern, out):
    """Joined files with their compile commands, the largest first."""
    root = build.parent.parent
    joined = []
    commands = []
    for entry in json.loads((build / "compile_commands.json").read_text()):
        source = pathlib.Path(entry["file"])
        names = JOINED.findall(source.read_text()) if source.suffix == ".cxx" else [source]
        parts = [pathlib.Path(name) for name in names]
        parts = [
            part for part in parts
            if part.is_relative_to(root) and not part.is_relative_to(root / "build")
            and re.search(pattern, str(part.relative_to(root)))
        ]
        if parts:
            target = re.sub(r"\W+", "_", os.path.relpath(source, build)).removesuffix("_cxx")
            file = JoinedFile(out / f"{target}.cpp", parts, root)
            joined.append(file)
            commands.append({
                "directory": entry["directory"],
                "file": str(file.path),
                "command": entry["command"].replace(str(source), str(file.path)),
            })
    (out / "compile_commands.json").write_text(json.dumps(commands, indent=1))
    return sorted(joined, key=lambda file: file.path.stat().st_size, reverse=True)


def tidy(file, options):
    run = subprocess.run(
        [CLANG_TIDY, "-p", str(file.path.parent), "--quiet", f"--config-file={file.root}/.clang-tidy",
         "--extra-arg=-Wno-unknown-warning-option", *STATES, *options, str(file.path)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, check=False,
    )
    messages = [line for line in run.stderr.splitlines(True)
                if not re.search(r"warnings? (and \d+ errors? )?generated\.", line)]
    return run.returncode, file.translate(run.stdout) + "".join(messages)


def main():
    build = pathlib.Path(sys.argv[1]).resolve()
    pattern = sys.argv[2] if len(sys.argv) > 2 else "."
    out = build / "tidy"
    out.mkdir(exist_ok=True)
    files = join(build, pattern, out)
    if not files:
        sys.exit(f"{build}: compiles no file that holds {pattern}")
    status = 0
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        for code, output in pool.map(lambda file: tidy(file, sys.argv[3:]), files):
            sys.stdout.write(output)
            sys.stdout.flush()
            status = status or int(code != 0)
    sys.exit(status)


if __name__ == "__main__":
    main()
