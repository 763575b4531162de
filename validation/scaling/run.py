#!/usr/bin/env python3
"""How well studies of many runs use two cores, and how much memory they take.

    python3 validation/scaling/run.py --build build/release --out build/validation/scaling.json

The same study with one thread and with two, in turns, so that a slow minute of the machine meets
both; runs a second of wall clock, reading and writing included, as a user waits for them.
Efficiency is throughput(2)/(2 throughput(1)). Besides the process time of each, and how much of the
machine everything else took meanwhile: where that is more than 5 % of it the efficiency is shown and
not judged. Memory is the largest resident set of a study of --runs short runs, 100,000 without it.
--quick takes few runs of each. A miss is no error; exits 1 when it could not do its work.
"""

import argparse
import dataclasses
import json
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
PILE = ROOT / "examples/07_what_matters_most/pile.toml"
TICKS = os.sysconf("SC_CLK_TCK")
MOST_OTHERS = 0.05  # of the machine

STUDY = """title = "Scaling (invented)"
pile = "{pile}"
[design]
kind = "latin_hypercube"
points = {points}
seed = 1
[[factor]]
key = "material.2.amount"
name = "straw"
from = "40 kg"
to = "250 kg"
[[factor]]
key = "pile.water_to"
from = "50 %"
to = "65 %"
[[factor]]
key = "fast_rate"
prior = true
[output]
daily = ["core_temperature"]
"""


@dataclasses.dataclass
class Measured:
    """One study."""
    runs: int
    threads: int
    wall_s: float
    cpu_s: float
    others: float  # share of the machine that everything else took
    peak_MB: float

    @property
    def rate(self):
        """Runs a second of wall clock."""
        return self.runs / self.wall_s


def busy_s():
    """Seconds of processor time that the whole machine has spent."""
    words = pathlib.Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:]
    user, nice, system, _idle, _wait, irq, softirq, steal = map(int, words[:8])
    return (user + nice + system + irq + softirq + steal) / TICKS


def sweep(build, points, days, threads):
    """A study of so many runs of so many days."""
    with tempfile.TemporaryDirectory() as folder:
        study = pathlib.Path(folder) / "study.toml"
        study.write_text(STUDY.format(pile=PILE, points=points), encoding="utf-8")
        words = [str(build / "heapcast"), "sweep", str(study), "--quiet", "--threads", str(threads),
                 "--set", f"run.days={days}", "--set", "turning.from=1 day"]
        busy, began = busy_s(), time.perf_counter()
        process = subprocess.Popen(words)
        _, status, usage = os.wait4(process.pid, 0)
        wall = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode != 0:
            raise RuntimeError(f"the study ended with {process.returncode}")
        cpu = usage.ru_utime + usage.ru_stime
        others = max(0.0, busy_s() - busy - cpu) / (wall * os.cpu_count())
        return Measured(points, threads, wall, cpu, others, usage.ru_maxrss / 1024)


def row(identity, quantity, unit, published, computed, verdict, note):
    return {"id": f"scaling.{identity}", "quantity": quantity, "unit": unit, "published": published,
            "computed": computed, "tolerance": "", "verdict": verdict, "source": "",
            "provenance": "computed", "note": note}


def speed_rows(one, two):
    rates = {n: statistics.median(m.rate for m in all_) for n, all_ in ((1, one), (2, two))}
    efficiency = rates[2] / (2 * rates[1])
    pairs = [b.rate / (2 * a.rate) for a, b in zip(one, two)]
    others = max(m.others for m in one + two)
    quiet = others <= MOST_OTHERS and (os.cpu_count() or 1) >= 2
    verdict = "reported" if not quiet else "agrees" if efficiency >= 0.95 else "MISS"
    cpu = statistics.median(m.cpu_s for m in two) / statistics.median(m.cpu_s for m in one)
    note = (f"throughput(2)/(2 throughput(1)), medians of {len(one)} in turns: {rates[1]:.2f} and "
            f"{rates[2]:.2f} runs/s; pairs {min(pairs):.3f} to {max(pairs):.3f}; process time of two "
            f"threads {cpu:.3f} times that of one; others took up to {100 * others:.0f} % of the "
            "machine" + ("" if quiet else ": not judged, measure on a quiet machine of two cores"))
    return row("two_cores", "efficiency of a study on two cores", "1", "at least 0.95",
               f"{efficiency:.3f}", verdict, note)


def memory_rows(small, large):
    return [row("memory", f"memory of a study of {large.runs} runs", "MB", "under 500",
                f"{large.peak_MB:.0f}", "agrees" if large.peak_MB < 500 else "MISS",
                f"{small.peak_MB:.0f} MB with {small.runs} runs; coarse mesh, 1 day each")]


def table(measured):
    return {"title": "Studies", "columns": ["runs", "threads", "wall s", "process s", "runs a second",
                                            "others took, of the machine", "peak MB"],
            "rows": [[m.runs, m.threads, f"{m.wall_s:.1f}", f"{m.cpu_s:.1f}", f"{m.rate:.2f}",
                      f"{100 * m.others:.0f} %", f"{m.peak_MB:.0f}"] for m in measured]}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--build", type=pathlib.Path, required=True)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--quick", action="store_true", help="few runs: to see whether it works")
    parser.add_argument("--runs", type=int, default=100_000, help="of the study whose memory is measured")
    given = parser.parse_args()
    build, quick = given.build.resolve(), given.quick
    points, days, turns = (32, 10, 2) if quick else (400, 30, 5)
    many = min(given.runs, 1000) if quick else given.runs
    one, two = [], []
    try:
        for turn in range(turns):
            # Whoever is first in a turn finds the machine cooler.
            for threads in (1, 2) if turn % 2 == 0 else (2, 1):
                (one if threads == 1 else two).append(sweep(build, points, days, threads))
                print(f"{threads} thread(s): {(one if threads == 1 else two)[-1].rate:.2f} runs/s",
                      file=sys.stderr)
        small, large = (sweep(build, count, 1, 2) for count in (max(many // 10, 1), many))
    except (OSError, RuntimeError) as error:
        print(f"scaling: {error}", file=sys.stderr)
        return 1
    rows = [speed_rows(one, two), *memory_rows(small, large)]
    summary = [f"{r['quantity']}: {r['computed']} {r['unit']} ({r['published']}): {r['verdict']}"
               for r in rows]
    given.out.parent.mkdir(parents=True, exist_ok=True)
    given.out.write_text(json.dumps({
        "section": "Scaling", "order": 5,
        "intro": "Studies of many runs on one machine: a heap on the coarse mesh, invented, "
                 f"{days} days a run for the speed. The machine had {os.cpu_count()} cores.",
        "rows": rows, "tables": [table(one + two + [small, large])], "figures": [],
        "summary": summary}, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    for r in rows:
        print(f"{r['verdict']:9s} {r['quantity']}: {r['computed']} {r['unit']} "
              f"({r['published']}) - {r['note']}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
