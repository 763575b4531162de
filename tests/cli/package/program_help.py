"""What the program's own --help lists."""

import re
import subprocess


def help_of(heapcast, *words):
    return subprocess.run([heapcast, *words, "--help"], capture_output=True, check=True, text=True,
                          timeout=60).stdout


def commands(heapcast):
    listed = help_of(heapcast).split("Subcommands:")[1].split("\n\n")[0]
    return re.findall(r"^  (\w+)", listed, re.M)


def options(heapcast, *words):
    """Short and long names, each with its dashes."""
    found = re.findall(r"^  (-\w)?,?(--[\w-]+)", help_of(heapcast, *words), re.M)
    return {name for pair in found for name in pair if name}
