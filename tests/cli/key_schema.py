"""The JSON Schemas against files, judged by a validator that is not ours (python3-jsonschema).

    key_schema.py HEAPCAST SOURCE_FOLDER

Every example must fit, and every example and initial value of a key must fit the key. Of the rows of
bad_inputs.toml that are about the text of a pile file those with `refused_by_schema = true` must be
refused, and the others, whose fault lies in what values mean, must not.
"""

import copy
import datetime
import json
import pathlib
import subprocess
import sys
import tomllib

import jsonschema

program, source = sys.argv[1], pathlib.Path(sys.argv[2])
failures = []


def read_schema(kind):
    text = subprocess.run([program, "schema", kind], check=True, capture_output=True).stdout
    schema = json.loads(text)
    jsonschema.Draft202012Validator.check_schema(schema)
    return schema


def plain(value):
    """TOML's dates as texts, as an editor hands them to a schema."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list):
        return [plain(one) for one in value]
    if isinstance(value, (datetime.date, datetime.datetime, datetime.time)):
        return value.isoformat()
    return value


def faults(schema, value):
    validator = jsonschema.Draft202012Validator(schema)
    return [f"{'.'.join(map(str, error.path))}: {error.message[:200]}"
            for error in validator.iter_errors(plain(value))]


def check(claim, holds, detail=""):
    if not holds:
        failures.append(f"{claim}: {detail}")


def check_values(schema, whole, name):
    """Examples and initial values of every key below."""
    for key, own in schema.get("properties", {}).items():
        full = f"{name}.{key}"
        for value in own.get("examples", []) + ([own["default"]] if "default" in own else []):
            alone = {**own, "$defs": whole["$defs"]} if "$defs" in whole else own
            found = faults(alone, value)
            check(f"{full} takes {value!r}", not found, found)
        check_values(own.get("items", own), whole, full)


def set_key(pile, option):
    """Like --set KEY=VALUE: the value as TOML, else as text."""
    key, text = option.split("=", 1)
    try:
        value = tomllib.loads(f"v = {text.strip()}")["v"]
    except tomllib.TOMLDecodeError:
        value = text.strip()
    *parts, last = [int(part) if part.isdigit() else part for part in key.strip().split(".")]
    at = pile
    for part in parts:
        at = at[part] if isinstance(part, int) else at.setdefault(part, {})
    at[last] = value


pile_schema, study_schema = read_schema("pile"), read_schema("study")
for schema in (pile_schema, study_schema):
    check_values(schema, schema, schema["title"])

examples = 0
for schema, pattern in ((pile_schema, "pile.toml"), (study_schema, "study.toml")):
    for path in sorted((source / "examples").glob(f"*/{pattern}")):
        found = faults(schema, tomllib.loads(path.read_text()))
        check(f"{path.relative_to(source)} fits", not found, found)
        examples += 1
check("there are examples", examples > 5, examples)

inputs = tomllib.loads((source / "tests/cli/bad_inputs.toml").read_text())
refused = passed = 0
for row in inputs["case"]:
    about_the_text = row["group"] in ("keys", "values", "together", "material")
    if not about_the_text or any(key in row for key in ("words", "files", "hex")):
        check(f"{row['name']}: is about a pile file's text", "refused_by_schema" not in row)
        continue
    text = inputs["bases"][row.get("base", "normals")]
    replace = row.get("replace", [])
    for old, new in zip(replace[::2], replace[1::2]):
        text = text.replace(old, new, 1)
    if "@@" in text:
        continue
    try:
        pile = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        check(f"{row['name']}: is TOML", "refused_by_schema" not in row, error)
        continue
    pile = copy.deepcopy(pile)
    try:
        for option in row.get("set", []):
            set_key(pile, option)
    except (KeyError, IndexError, TypeError):
        continue  # a key that is not there
    found = faults(pile_schema, pile)
    wanted = row.get("refused_by_schema", False)
    refused, passed = refused + wanted, passed + (not wanted)
    check(f"{row['name']}: {'refused' if wanted else 'accepted'} by the schema",
          bool(found) == wanted, found)
check("there are rows of both kinds", refused > 20 and passed > 20, (refused, passed))

# What must be there together, and what alone.
good = tomllib.loads(inputs["bases"]["normals"])
for name, change in {
    "blanket without thickness": {"cover": {"kind": "blanket"}},
    "thickness of no blanket": {"cover": {"thickness": "10 cm"}},
    "hours of no fan": {"air": {"on_minutes": 10}},
    "criteria of a built-in use": {"use": {"for": "field", "criteria": ["carbon_nitrogen_ratio <= 20"]}},
    "own use without criteria": {"use": {"for": "own"}},
    "water of no amount": {"watering": {"on": [3]}},
    "watering without when": {"watering": {"to": "58 %"}},
    "variant of nothing": {"variant": [{"name": "same"}]},
}.items():
    check(f"{name}: refused", faults(pile_schema, {**good, **change}))
for name, change in {
    "blanket": {"cover": {"kind": "blanket", "thickness": "10 cm"}},
    "fan": {"air": {"fan": "20 m3/h", "on_minutes": 10}},
    "own use": {"use": {"for": "own", "criteria": ["carbon_nitrogen_ratio <= 20"]}},
    "watering": {"watering": {"on": [3], "to": "58 %"}},
    "variant": {"variant": [{"name": "never turned", "without": ["turning"]}]},
}.items():
    found = faults(pile_schema, {**good, **change})
    check(f"{name}: accepted", not found, found)

print(f"{examples} examples, {refused} rows refused, {passed} accepted")
print("\n".join(failures))
sys.exit(bool(failures))
