#!/usr/bin/python3
"""The manual page is set without a warning and says all that --help does. Usage:
manual_page_test.py HEAPCAST

Exits 1 with what is missing.
"""

import re
import subprocess
import sys

from program_help import commands, help_of, options


def set_page(source):
    """The page as a terminal shows it, and what groff says of it."""
    run = subprocess.run(["groff", "-man", "-Kutf8", "-Tutf8", "-ww", "-P-cbou"], input=source,
                         capture_output=True, text=True, timeout=60)
    return run.stdout, run.stderr


def main():
    heapcast = sys.argv[1]
    source = subprocess.run([heapcast, "--man-page"], capture_output=True, check=True, text=True,
                            timeout=60).stdout
    page, said = set_page(source)
    faults = [f"groff: {line}" for line in said.splitlines()]
    if not set_page(source + ".no_request\n")[1]:
        faults.append("groff lets a mistake pass")

    sections = dict(re.findall(r"^([A-Z][A-Z ]+)\n(.*?)(?=^[A-Z]|\Z)", page, re.M | re.S))
    parts = dict(re.findall(r"^   heapcast (\w+)(.*?)(?=^   heapcast |\Z)", sections["COMMANDS"],
                            re.M | re.S))
    for command in commands(heapcast):
        missing = options(heapcast, command) - set(re.findall(r"-[\w-]+", parts.get(command, "")))
        faults += [f"{command}: {name} is missing" for name in sorted(missing)]
        if f"heapcast {command} " not in sections["SYNOPSIS"]:
            faults.append(f"{command} is missing in the synopsis")
        example = re.search(r"Example: (.*)", help_of(heapcast, command))[1]
        if example not in parts.get(command, ""):
            faults.append(f"{command}: its example is missing: {example}")
    faults += [f"{name} is missing" for name in sorted(options(heapcast))
               if name not in sections["OPTIONS"]]

    listed = " ".join(help_of(heapcast).split("Exit codes: ")[1].split())
    for code, meaning in re.findall(r"(\d+) ([^;.]+)", listed):
        if not re.search(rf"^ +{code} +{re.escape(meaning)}$", sections["EXIT STATUS"], re.M):
            faults.append(f"exit code {code}, {meaning}, is missing")
    for word in ("Fire", "Manure", "mask", "Machinery", "local rules"):
        if word not in sections["CAUTIONS"]:
            faults.append(f"no caution says {word}")

    print("\n".join(faults), end="\n" if faults else "")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
