#!/usr/bin/env python3
"""Every row of validation/reference/*.csv: computed and compared, or named with a reason.

The comparisons are made by the GoogleTest files that include tests/reference_csv.hpp: with
HEAPCAST_REFERENCE_RECORD set they append each one to a file. The rules of formats.csv are checked
here, on a results file that the program writes (formats.py).
"""

import argparse
import csv
import json
import os
import pathlib
import re
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict

import formats

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
KEYS = ("id", "symbol", "feedstock", "organism")  # the column that names a row
VERDICTS = ("agrees", "MISS", "not computed", "reported")


def read_csv(path):
    """The records of a comma-separated file whose comment lines begin with #."""
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def reference_rows():
    """Every published row: {(file, id): record}, in the order of the files. No id twice."""
    rows = {}
    for path in sorted((ROOT / "validation/reference").glob("*.csv")):
        for record in read_csv(path):
            key = next(k for k in KEYS if k in record)
            if (path.name, record[key]) in rows:
                raise SystemExit(f"{path.name}: {record[key]} stands there twice")
            rows[path.name, record[key]] = record
    return rows


def reference_suites():
    """The test suites of files that include tests/reference_csv.hpp."""
    suites = set()
    for path in (ROOT / "tests").rglob("*_test.cpp"):
        text = path.read_text(encoding="utf-8")
        if '"tests/reference_csv.hpp"' in text:
            suites.update(re.findall(r"^TEST(?:_F|_P)?\((\w+),", text, re.MULTILINE))
    return sorted(suites)


def run_tests(build, record):
    """Runs the reference tests with recording on; returns the names of those that failed."""
    programs = sorted(p for p in (build / "tests").glob("test_*")
                      if p.is_file() and os.access(p, os.X_OK) and "." not in p.name)
    if not programs:
        raise SystemExit(f"{build}/tests holds no test program: build the tests first")
    choice = "--gtest_filter=" + ":".join(f"{suite}.*" for suite in reference_suites())
    failed = []
    for program in programs:
        done = subprocess.run([program, choice], stdin=subprocess.DEVNULL, capture_output=True,
                              text=True, check=False,
                              env={**os.environ, "HEAPCAST_REFERENCE_RECORD": str(record)})
        if done.returncode not in (0, 1):
            raise SystemExit(f"{program.name} broke off with {done.returncode}\n"
                             + done.stdout[-2000:] + done.stderr[-2000:])
        failed += sorted(set(re.findall(r"^\[  FAILED  \] ([\w.]+)(?: \(|$)", done.stdout,
                                        re.MULTILINE)))
    return failed


def recorded(record):
    """What the tests compared: {(file, id): [comparison]}, each comparison once."""
    found = defaultdict(list)
    fields = ("file", "id", "column", "published", "computed", "low", "high", "verdict", "test",
              "why")
    for line in record.read_text(encoding="utf-8").splitlines():
        one = dict(zip(fields, line.split("\t"), strict=True))
        if one not in found[one["file"], one["id"]]:
            found[one["file"], one["id"]].append(one)
    return found


def format_comparisons(build, scratch):
    """The rules of formats.csv on a results file of the first example, coarse, 20 days."""
    results = scratch / "results.h5"
    subprocess.run([build / "heapcast", "forecast",
                    ROOT / "examples/01_market_garden_windrow/pile.toml", "--resolution", "coarse",
                    "--set", "run.days=20", "--quiet", "-o", results], check=True)
    found = {}
    for rule, broken in formats.broken_rules(results).items():
        why = "broken by " + ", ".join(broken) if broken else "of a results file of an example"
        kept = "0" if broken else "1"
        found["formats.csv", rule] = [{
            "file": "formats.csv", "id": rule, "column": "", "published": "1", "computed": kept,
            "low": "1", "high": "1", "verdict": "MISS" if broken else "agrees",
            "test": "validation/published/formats.py", "why": why}]
    return found


def short(number):
    """A number as people read it."""
    return f"{float(number):.6g}"


def joined(texts, most=6):
    """Texts without repetition, the first few of them."""
    unique = list(dict.fromkeys(t for t in texts if t))
    more = f"; and {len(unique) - most} more" if len(unique) > most else ""
    return "; ".join(unique[:most]) + more


def verdict_of(comparisons):
    """The worst verdict holds for the row."""
    verdicts = {c["verdict"] for c in comparisons}
    return next(v for v in ("MISS", "reported", "agrees") if v in verdicts)


def computed_text(comparisons):
    """The computed number; of several, how many agree and those that do not."""
    if len(comparisons) == 1:
        one = comparisons[0]
        return (f"{one['column']}: " if one["column"] else "") + short(one["computed"])
    agree = sum(c["verdict"] == "agrees" for c in comparisons)
    if not any(c["column"] for c in comparisons):
        return (f"{agree} of {len(comparisons)} agree: "
                + joined([short(c["computed"]) for c in comparisons], 9))
    differ = [f"{c['column']} {short(c['computed'])} (published {short(c['published'])})"
              for c in comparisons
              if c["verdict"] != "agrees" and short(c["computed"]) != short(c["published"])]
    text = f"{agree} of {len(comparisons)} numbers agree"
    return text + ("; " + joined(differ, 20) if differ else "")


def tolerance_text(record, comparisons):
    """As the source gives it, and what was allowed."""
    allowed = {(c["low"], c["high"]) for c in comparisons if c["verdict"] != "reported"}
    own = record.get("tolerance", "")
    if len(allowed) == 1:
        low, high = allowed.pop()
        own = (own + "; " if own else "") + f"allowed {float(low):.10g} to {float(high):.10g}"
    return own


def why_text(comparisons):
    """Why a row is missed or reported, and remarks."""
    worst = verdict_of(comparisons)
    several = any(c["column"] for c in comparisons) and len(comparisons) > 1
    if several and worst == "agrees":
        return ""
    return joined([(f"{c['column']}: " if several and c["why"] else "") + c["why"]
                   for c in comparisons if c["verdict"] == worst])


def published_text(record):
    """The published value with its unit, or how many numbers the row holds."""
    if "value" in record:
        return record["value"]
    if "default" in record:
        ends = f" ({record['low']} to {record['high']})" if record["low"] else ""
        return record["default"] + ends
    return "a row of numbers"


def quantity_text(name, record):
    """What a row is about."""
    if "quantity" in record:
        inputs = record["inputs"]
        return record["quantity"] + (f" [{inputs}]" if inputs else "")
    return record.get("meaning") or {"feedstock_pools.csv": "composition of the material",
                                     "pathogens.csv": "inactivation parameters"}[name]


def result_row(file, name, record, comparisons, reason):
    """One row of the document."""
    row = {"id": f"{file[:-4]}/{name}",
           "quantity": quantity_text(file, record),
           "unit": record.get("unit", ""),
           "published": published_text(record),
           "source": joined(record.get("source", "see the head of the file").split("; "), 99),
           "provenance": record.get("provenance") or record.get("status") or "memory or judgement"}
    if not comparisons:
        return row | {"computed": "", "tolerance": record.get("tolerance", ""),
                      "verdict": "not computed", "note": reason}
    return row | {"computed": computed_text(comparisons),
                  "tolerance": tolerance_text(record, comparisons),
                  "verdict": verdict_of(comparisons),
                  "note": why_text(comparisons)}


class Reasons:
    """Why rows are not computed, from not_computed.csv; an id that ends in * names a group."""

    def __init__(self):
        self.entries = read_csv(HERE / "not_computed.csv")
        self.used = set()

    def of(self, file, name):
        """The reason for one row, or an empty text."""
        for index, entry in enumerate(self.entries):
            named = entry["id"]
            fits = name.startswith(named[:-1]) if named.endswith("*") else name == named
            if entry["file"] == file and fits:
                self.used.add(index)
                return entry["reason"]
        return ""

    def unused(self):
        """Entries that name no row."""
        return [f"{e['file']} {e['id']}" for i, e in enumerate(self.entries) if i not in self.used]


def judge_all(rows, comparisons):
    """One result for each published row, and everything that is wrong with the bookkeeping."""
    reasons = Reasons()
    results, faults = [], []
    for (file, name), record in rows.items():
        compared = comparisons.get((file, name), [])
        reason = reasons.of(file, name)
        if not compared and not reason:
            faults.append(f"{file} {name}: neither computed nor named in not_computed.csv")
        if compared and reason:
            faults.append(f"{file} {name}: computed, and named in not_computed.csv")
        results.append(result_row(file, name, record, compared, reason))
    faults += [f"{f} {n}: compared, but no such row" for f, n in comparisons if (f, n) not in rows]
    faults += [f"not_computed.csv: {entry} names no row" for entry in reasons.unused()]
    if len({r["id"] for r in results}) != len(rows):
        faults.append("a row is missing from the results or stands there twice")
    return results, faults


def counts_table(results):
    """Verdicts by file."""
    by_file = defaultdict(Counter)
    for row in results:
        by_file[row["id"].split("/")[0] + ".csv"][row["verdict"]] += 1
    rows = [[file, *(str(count[v]) for v in VERDICTS), str(sum(count.values()))]
            for file, count in by_file.items()]
    total = Counter(row["verdict"] for row in results)
    rows.append(["all", *(str(total[v]) for v in VERDICTS), str(len(results))])
    return {"title": "Published rows by file", "columns": ["file", *VERDICTS, "rows"], "rows": rows}


INTRO = """Every row of `validation/reference/*.csv`, once: standards, handbook tables, worked
examples, material properties, parameters. The comparisons are those of the project's own tests;
the tolerance is the row's, or the digits printed. Where a row is compared several times or holds
several numbers, the worst verdict counts. **MISS** means outside the tolerance, whatever the
reason. **reported** stands beside a row without being the same thing, or agrees only by the
program's own range. *memory* says that the number was not seen in its source: to agree with it is
weaker evidence. A parameter or a material that agrees shows that a number was carried over
faithfully, and not that it is right."""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--build", required=True, type=pathlib.Path)
    parser.add_argument("--out", required=True, type=pathlib.Path)
    parser.add_argument("--quick", action="store_true", help="changes nothing: it takes seconds")
    options = parser.parse_args()
    build = options.build.resolve()
    with tempfile.TemporaryDirectory() as folder:
        scratch = pathlib.Path(folder)
        record = scratch / "record.tsv"
        record.touch()
        failed = run_tests(build, record)
        comparisons = {**recorded(record), **format_comparisons(build, scratch)}
    results, faults = judge_all(reference_rows(), comparisons)
    total = Counter(row["verdict"] for row in results)
    read = sum(r["verdict"] == "agrees" and r["provenance"].startswith("read") for r in results)
    summary = [
        f"{len(results)} published rows: {total['agrees']} agree, {total['MISS']} are missed, "
        f"{total['reported']} are reported without a verdict, {total['not computed']} are not "
        f"computed.",
        f"Of those that agree, {read} were read in their source; the others are from memory, "
        f"common practice or judgement.",
    ]
    summary += [f"**Reference test fails:** {name}" for name in failed]
    summary += [f"**Bookkeeping:** {fault}" for fault in faults]
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_text(json.dumps(
        {"section": "Published values", "order": 1, "intro": INTRO, "rows": results,
         "tables": [counts_table(results)], "summary": summary}, indent=1, ensure_ascii=False),
        encoding="utf-8")
    print("\n".join(summary))
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
