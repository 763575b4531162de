#!/usr/bin/env python3
"""Checks that dependencies point one way: cli -> models -> engine. Usage: layers.py [ROOT]

Prints each breach as file:line: what is wrong; exits 1 when there is one.
"""

import pathlib
import re
import sys

LAYERS = ("engine", "models", "cli")  # each may include itself and those before it

# The engine knows no pile: none of these in its names and comments, alone or as a word part
# (pile_height, PileHeight, piles). Words of numerics that contain one (compile, repeat) are free.
PHYSICS_WORDS = {
    "temperature", "moisture", "compost", "oxygen", "carbon", "nitrogen", "heat", "pile",
    "ammonia", "biomass", "leachate", "windrow",
}

# Library headers that only one layer may include.
CLI_ONLY = re.compile(r"(CLI/|toml\+\+/|toml\.h|nlohmann/)")
HDF5 = re.compile(r"(hdf5|H5)\w*\.h$")

PRINTS = re.compile(
    r"\bstd::(cout|cerr|clog)\b"
    r"|\b((fmt|std)::print(ln)?|v?f?printf|f?putc|f?puts|putchar|perror)\s*\("
)
INCLUDE = re.compile(r'^\s*#\s*include\s*([<"])([^>"]+)[>"]')
WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")


def source_files(root, layer):
    return sorted(
        path
        for path in (root / layer).rglob("*")
        if path.suffix in (".cpp", ".hpp", ".def", ".inc")
    )


def code_only(line):
    """The line without its string literals and its comment."""
    return re.sub(r'"(\\.|[^"\\])*"', '""', line).split("//", 1)[0]


def include_fault(name, layer, bracket, header):
    """What is wrong with one #include line, or None."""
    if bracket == '"':
        allowed = LAYERS[: LAYERS.index(layer) + 1]
        if header.split("/", 1)[0] not in allowed or "/../" in header:
            return f'{layer} includes "{header}"; it may include only {", ".join(allowed)}, from the root'
    if layer != "cli" and CLI_ONLY.match(header):
        return f"<{header}> belongs to cli"
    if HDF5.search(header) and name != "engine/results_file.cpp":
        return f"<{header}> belongs to engine/results_file.cpp"
    if header.startswith("boost/") and not (layer == "engine" and name.endswith(".cpp")):
        return f"<{header}> belongs to one .cpp of engine"
    if layer != "cli" and header in ("iostream", "print"):
        return f"<{header}> belongs to cli: only cli prints"
    return None


def physics_words(line):
    words = {word.lower() for word in WORD.findall(line)}
    return sorted(words & (PHYSICS_WORDS | {word + "s" for word in PHYSICS_WORDS}))


def faults(root):
    boost_users = {}  # by library, the files that include it
    for layer in LAYERS:
        if not (root / layer).is_dir():
            yield f"{layer}/: there is no such folder"
        for path in source_files(root, layer):
            name = path.relative_to(root).as_posix()
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
                where = f"{name}:{number}"
                include = INCLUDE.match(line)
                if include:
                    fault = include_fault(name, layer, *include.groups())
                    if fault:
                        yield f"{where}: {fault}"
                    if include[2].startswith("boost/"):
                        folders = include[2].split("/")[1:-1]
                        library = "boost/" + folders[0] if folders else "boost"
                        boost_users.setdefault(library, {}).setdefault(name, where)
                if layer != "cli" and PRINTS.search(code_only(line)):
                    yield f"{where}: prints; only cli prints"
                if layer == "engine":
                    for word in physics_words(line):
                        yield f"{where}: engine says '{word}'; it knows no physics word"
    for library, users in boost_users.items():
        if len(users) > 1:
            yield f"{', '.join(users.values())}: {library} is included in more than one file"


def main():
    root = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parent.parent)
    found = list(faults(root.resolve()))
    print("\n".join(found), end="\n" if found else "")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
