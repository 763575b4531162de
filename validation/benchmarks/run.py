#!/usr/bin/env python3
"""The speed of the program's integrator beside that of general solvers, in one run.

    python3 validation/benchmarks/run.py --build build/release --out build/validation/benchmarks.json

Every solver gets the same equations, mesh, weather and events, and the loosest tolerance with which
it stays within 1e-3 of each quantity's range of a reference. Times are process time. --quick takes
a coarse mesh and few solvers, under a minute. Writes the part of the validation report and its
figures (SVG) beside it; prints the targets with what was measured. A miss is no error.
"""

import argparse
import importlib.util
import json
import math
import os
import pathlib
import subprocess
import sys
import time

import matplotlib

matplotlib.use("Agg")
from matplotlib import pyplot as plt  # noqa: E402

HERE = pathlib.Path(__file__).resolve().parent
MOST_ERROR = 1e-3      # of each quantity's range
REFERENCE = 1e-5       # times a forecast's tolerance: 3e-10 of a cell's mass, 3e-7 K
CHECK = 1e-4           # the reference against one ten times looser
LADDER = [2.0 ** k for k in range(-15, 7)]  # tolerances, times a forecast's

# Solvers of the comparison: name, whether steps end on the hour, as a forecast's do.
FULL = [("cvode-adams-fixed", True), ("cvode-bdf-fixed", True),
        ("cvode-bdf-gmres", True), ("cvode-bdf-gmres", False),
        ("cvode-bdf-gmres-block", True), ("cvode-bdf-gmres-block", False),
        ("cvode-bdf-band", True), ("cvode-bdf-dense", True),
        ("odeint-dopri5", True), ("odeint-cash_karp54", True), ("odeint-fehlberg78", True),
        ("odeint-bulirsch_stoer", True)]
ALGEBRAIC = [("cvode-adams-fixed", True), ("cvode-adams-fixed", False), ("cvode-bdf-fixed", True),
             ("cvode-bdf-gmres", True), ("cvode-bdf-gmres", False),
             ("cvode-bdf-gmres-block", False), ("cvode-bdf-band", True),
             ("odeint-dopri5", True), ("odeint-cash_karp54", True), ("odeint-fehlberg78", True),
             ("odeint-bulirsch_stoer", True)]
ONE_CELL = [("cvode-bdf-dense", True), ("cvode-bdf-dense", False), ("cvode-adams-fixed", True),
            ("odeint-dopri5", True), ("odeint-rosenbrock4", True)]
SCIPY = ["odeint", "LSODA", "BDF"]
QUICK = {"cvode-adams-fixed", "cvode-bdf-gmres", "cvode-bdf-dense", "odeint-dopri5"}

# Meshes of the cost against cells: shells, sectors; (shells - 1) sectors + 1 cells.
SECTIONS = [(5, 6), (7, 8), (10, 11), (14, 15), (17, 25), (25, 33), (33, 50)]


class Bench:
    def __init__(self, build, out, quick):
        self.program = pathlib.Path(build) / "validation" / "heapcast_rivals"
        self.build, self.quick = pathlib.Path(build), quick
        self.folder = pathlib.Path(out).resolve().parent
        self.folder.mkdir(parents=True, exist_ok=True)
        self.most_seconds = 3.0 if quick else 10.0

    def call(self, *arguments):
        """One measurement in a process of its own: its peak memory is the case's."""
        done = subprocess.run([str(self.program), *map(str, arguments)], capture_output=True,
                              text=True, check=False)
        if done.returncode != 0 or not done.stdout.strip():
            return {"end": f"failed: {done.stderr.strip()[-200:] or done.returncode}"}
        return json.loads(done.stdout.strip().splitlines()[-1])

    def need(self, *arguments):
        """A measurement without which there is no report."""
        line = self.call(*arguments)
        if line.get("end", "done") != "done":
            raise SystemExit(f"{' '.join(map(str, arguments))}: {line['end']}")
        return line

    def reference(self, case, equations):
        """Course by CVODE at a tight tolerance; and how far it is from a ten times looser one."""
        solver = "cvode-bdf-dense" if case["mesh"] == "one_cell" else "cvode-bdf-gmres"
        files = []
        for factor in (REFERENCE, CHECK):
            files.append(self.folder / f"reference_{case['mesh']}_{equations}_{factor:g}.bin")
            self.need("run", "--solver", solver, "--equations", equations, "--factor", factor,
                      "--stop-hourly", "--write", files[-1], *options(case))
        return files[0], self.need("compare", *files)

    def attempt(self, case, equations, solver, hourly, factor, reference, repeats=1):
        if solver.startswith("scipy-"):
            return self.call("python", HERE / "scipy_one_cell.py", "--method", solver[6:],
                             "--equations", equations, "--days", case["days"], "--factor", factor,
                             "--reference", reference, "--most-error", MOST_ERROR)
        return self.call("run", "--solver", solver, "--equations", equations, "--factor", factor,
                         "--reference", reference, "--most-error", MOST_ERROR, "--most-seconds",
                         self.most_seconds, "--repeats", repeats, *options(case),
                         *(["--stop-hourly"] if hourly else []))

    def loosest(self, case, equations, solver, hourly, reference):
        """The run at the loosest tolerance of the ladder that meets the error, by bisection; or the
        last one, with the reason why there is none, in `end`."""
        passed, failed = -1, len(LADDER)  # indices; before and beyond the ladder
        best = worst = None
        at = LADDER.index(1.0) - 2
        while failed - passed > 1:
            line = self.attempt(case, equations, solver, hourly, LADDER[at], reference)
            if line["end"] == "done" and line.get("error", math.inf) <= MOST_ERROR:
                best, passed = line, at
            elif line["end"] == "too inaccurate":
                worst, failed = line, at
            else:  # a tighter tolerance would take longer still
                worst = line
                break
            at = (passed + failed) // 2
        if best is None:
            best = worst
        elif best["ms"] < 2000.0 and not solver.startswith("scipy-"):
            best = self.attempt(case, equations, solver, hourly, best["factor"], reference, 5)
        elif best["ms"] < 2000.0:
            lines = [best] + [self.attempt(case, equations, solver, hourly, best["factor"],
                                           reference) for _ in range(2)]
            best = sorted(lines, key=lambda line: line["ms"])[1]
        best["hourly"], best["solver"], best["equations"] = hourly, solver, equations
        best["passed"] = best["end"] == "done" and best.get("error", math.inf) <= MOST_ERROR
        print(f"  {label(best):48s} {time_text(best)}", file=sys.stderr, flush=True)
        return best


def options(case):
    return ["--mesh", case["mesh"], "--days", case["days"]]


def label(line):
    name = {"heapcast": "heapcast"}.get(line["solver"], line["solver"])
    ends = "" if line.get("hourly") or line["solver"].startswith(("heap", "scipy")) else \
        ", steps over the hour"
    return name + ends


def time_text(line):
    if line.get("passed"):
        return f"{line['ms']:.1f} ms"
    if line["end"] == "too slow":
        return f"more than {line['run_ms'] / 1e3:.0f} s for {line['hours']} of the hours"
    return line["end"]


def number(x, form="{:.3g}"):
    return "–" if x is None else form.format(x)


def row_of(line, base_ms):
    """One row of a table of solvers."""
    ok = line.get("passed")
    return [label(line), time_text(line), f"{line['ms'] / base_ms:.1f}" if ok else "–",
            f"{1e3 / line['ms']:.2f}" if ok else "–", number(line.get("calls"), "{}"),
            number(line.get("steps"), "{}"),
            number(line.get("ns_per_cell_and_call"), "{:.0f}"),
            number(line.get("factor")), number(line.get("error"), "{:.1e}"),
            number(line.get("peak_MB"), "{:.0f}")]


COLUMNS = ["solver", "time per run", "times heapcast's", "runs per s and core", "rate calls",
           "steps", "ns per cell and call, all in", "tolerance", "error", "peak MB"]


def comparison(bench, case, equations, solvers):
    """heapcast first, then each solver at its loosest tolerance; and the check of the reference."""
    print(f"{case['mesh']}, {case['days']} days, {equations}", file=sys.stderr, flush=True)
    reference, check = bench.reference(case, equations)
    own = bench.loosest(case, equations, "heapcast", True, reference)
    default = bench.attempt(case, equations, "heapcast", True, 1.0, reference, 5)
    lines = [own] + [bench.loosest(case, equations, solver, hourly, reference)
                     for solver, hourly in solvers
                     if not bench.quick or solver in QUICK or solver.startswith("scipy")]
    return {"case": case, "equations": equations, "lines": lines, "default": default,
            "check": check}


def best(found, prefix):
    lines = [line for line in found["lines"] if line["solver"].startswith(prefix) and
             line["passed"]]
    return min(lines, key=lambda line: line["ms"]) if lines else None


def table_of(found, cells):
    own = found["lines"][0]["ms"]
    what = {"full": "pore oxygen a state of its own", "algebraic": "pore oxygen steady"}
    return {"title": f"{cells}, {found['case']['days']} days, {what[found['equations']]}",
            "columns": COLUMNS, "rows": [row_of(line, own) for line in found["lines"]]}


def slope(points):
    """Exponent of a power law through (x, y) points, least squares in logarithms."""
    xs, ys = [math.log(x) for x, _ in points], [math.log(y) for _, y in points]
    mx, my = sum(xs) / len(xs), sum(ys) / len(ys)
    return sum((x - mx) * (y - my) for x, y in zip(xs, ys)) / sum((x - mx) ** 2 for x in xs)


def figure(bench, name, title, x_label, y_label, curves):
    fig, axes = plt.subplots(figsize=(7.2, 5.0))
    for curve, points in curves.items():
        if points:
            axes.loglog([p[0] for p in points], [p[1] for p in points], "o-", label=curve)
    axes.set(title=title, xlabel=x_label, ylabel=y_label)
    axes.grid(True, which="both", alpha=0.3)
    axes.legend(fontsize="small", loc="best")
    fig.tight_layout()
    fig.savefig(bench.folder / name)
    plt.close(fig)


def bars(bench, name, title, found):
    lines = [line for line in found["lines"] if line["passed"]]
    fig, axes = plt.subplots(figsize=(6.4, 0.6 + 0.32 * len(lines)))
    drawn = axes.barh([label(line) for line in lines][::-1], [line["ms"] for line in lines][::-1])
    axes.bar_label(drawn, fmt="%.0f", padding=3)
    axes.margins(x=0.15)
    axes.set(title=title, xlabel="ms per run")
    fig.tight_layout()
    fig.savefig(bench.folder / name)
    plt.close(fig)


def verdict(identity, quantity, unit, target, measured, reached, note="", form="{:.3g}"):
    return {"id": identity, "quantity": quantity, "unit": unit, "published": target,
            "computed": number(measured, form),
            "verdict": "not computed" if measured is None else "agrees" if reached else "MISS",
            "source": "the project's own target", "provenance": "judgement", "note": note}


def in_python(bench, days):
    """ms of the second implementation of the one-cell pile, whose rates are Python; at the loosest
    relative tolerance within 1e-3 of each state's range of its own run at 1e-9. None where it is
    not there."""
    file = HERE.parent / "independent" / "one_cell_pile.py"
    program = bench.build / "validation" / "heapcast_one_cell"
    if not file.exists() or not program.exists():
        return None
    names = subprocess.run([program], capture_output=True, text=True, check=False)
    name = (names.stdout + names.stderr).split()[0]
    case = json.loads(subprocess.run([program, name, str(days)], capture_output=True, text=True,
                                     check=True).stdout)
    spec = importlib.util.spec_from_file_location("one_cell_pile", file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    exact = module.simulate(case, days, rtol=1e-9)
    for rtol in (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6):
        began = time.process_time()
        result = module.simulate(case, days, rtol=rtol)
        ms = 1e3 * (time.process_time() - began)
        error = max(abs(result[q] - exact[q]).max() / span for q in exact
                    if (span := exact[q].max() - exact[q].min()) > 1e-10)
        if error <= MOST_ERROR:
            return {"ms": ms, "rtol": rtol, "error": error, "days": days, "name": name}
    return None


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--build", default="build/release")
    parser.add_argument("--out", default="build/validation/benchmarks.json")
    parser.add_argument("--quick", action="store_true")
    given = parser.parse_args()
    bench = Bench(given.build, given.out, given.quick)
    if not bench.program.exists():
        raise SystemExit(f"{bench.program} is not there: configure with "
                         "-D HEAPCAST_BENCHMARKS=ON and build the target heapcast_rivals")
    quick = given.quick
    began = time.monotonic()
    load = os.getloadavg()[0]

    # The whole forecast, and many.
    days = [15, 60] if quick else [15, 30, 60, 120, 240]
    forecasts = [bench.need("forecast", "--mesh", "standard", "--days", d, "--repeats",
                            3 if d > 60 else 5) for d in days]
    sixty = next(f for f in forecasts if f["days"] == 60)
    counts = [1, 7] if quick else [1, 3, 7, 15, 31, 63]  # and the central one
    ensembles = {threads: [bench.need("ensemble", "--mesh", "standard", "--days", 60, "--runs", n,
                                      "--threads", threads) for n in counts] for threads in (1, 2)}
    sections = SECTIONS[:3] if quick else SECTIONS
    sizes = [bench.need("cells", "--days", 10, "--shells", shells, "--sectors", sectors,
                        "--repeats", 3) for shells, sectors in sections]

    # The comparison.
    case = {"mesh": "coarse", "days": 6} if quick else {"mesh": "standard", "days": 20}
    full = comparison(bench, case, "full", FULL)
    algebraic = comparison(bench, case, "algebraic", ALGEBRAIC)
    lump = {"mesh": "one_cell", "days": 10 if quick else 60}
    scipy = [(f"scipy-{m}", True) for m in (SCIPY[:1] if quick else SCIPY)]
    one_cell = comparison(bench, lump, "full", ONE_CELL + scipy)
    python = in_python(bench, 3 if quick else 20)
    pure = [bench.need("repeatable", "--mesh", "standard", "--days", 3, "--equations", e)
            for e in ("full", "algebraic")]

    # Cost against cells of heapcast and the best rivals, with the tolerances found above.
    rivals = [line for line in (full["lines"][0], best(full, "cvode"), best(full, "odeint"),
                                best(algebraic, "cvode"), best(algebraic, "odeint")) if line]
    against = {}
    for line in rivals:
        points = []
        for mesh in ("coarse", "standard") if quick else ("coarse", "standard", "fine"):
            measured = bench.call("run", "--solver", line["solver"], "--equations",
                                  line["equations"], "--factor", line["factor"], "--mesh", mesh,
                                  "--days", 10, "--most-seconds", 20,
                                  *(["--stop-hourly"] if line["hourly"] else []))
            if measured["end"] == "done":
                points.append((measured["cells"], measured["ms"]))
        against[f"{label(line)}, {line['equations']}, turned"] = points

    own = full["lines"][0]["ms"]
    ratio = lambda line, ms: line["ms"] / ms if line else None  # noqa: E731
    cvode, same = best(full, "cvode"), best(algebraic, "cvode")
    anyone = min((line for line in algebraic["lines"][1:] if line["passed"]),
                 key=lambda line: line["ms"], default=None)
    in_scipy = best(one_cell, "scipy")
    exponent = slope([(s["cells"], s["ms"]) for s in sizes])
    most = max(ensembles[1], key=lambda e: e["runs_per_s_and_core"])
    forecast_s = sixty["ms"] / 1e3
    full_ratio, same_ratio = ratio(cvode, own), ratio(same, algebraic["lines"][0]["ms"])
    any_ratio = ratio(anyone, algebraic["lines"][0]["ms"])
    scipy_ratio = ratio(in_scipy, one_cell["lines"][0]["ms"])
    python_ratio = python and python["ms"] / python["days"] / (
        one_cell["lines"][0]["ms"] / lump["days"])
    size = f"{full['lines'][0]['cells']} cells, {case['days']} days"
    at_least = lambda value, goal: value is not None and value >= goal  # noqa: E731
    rows = [
        verdict("speed_full", "time of CVODE's best over heapcast's, oxygen a state", "1",
                "at least 30", full_ratio, at_least(full_ratio, 30),
                f"{size}; CVODE's best: {label(cvode) if cvode else 'none passed'}"),
        verdict("speed_algebraic", "time of CVODE's best over heapcast's, same algebraic system",
                "1", "at least 5", same_ratio, at_least(same_ratio, 5),
                f"{size}; CVODE's best: {label(same) if same else 'none passed'}"),
        verdict("speed_algebraic_any", "the same over the best of all rivals", "1", "at least 5",
                any_ratio, at_least(any_ratio, 5),
                f"{size}; {label(anyone) if anyone else 'none passed'}"),
        verdict("speed_scipy_compiled",
                "time of SciPy's best over heapcast's, one cell, SciPy given the compiled rates",
                "1", "at least 100", scipy_ratio, at_least(scipy_ratio, 100),
                f"{lump['days']} days; SciPy's best: " +
                (label(in_scipy) if in_scipy else one_cell["lines"][-1]["end"])),
        verdict("speed_scipy_python",
                "time of SciPy with rates written in Python over heapcast's, one cell, per day",
                "1", "at least 100", python_ratio, at_least(python_ratio, 100),
                f"LSODA at rtol {python['rtol']:g} on the pile {python['name']} of the second "
                f"implementation, {python['days']} days: {python['ms']:.0f} ms; heapcast on the "
                "windrow of the other rows" if python else
                "validation/independent or its program is not there"),
        verdict("speed_forecast", "60-day standard forecast, example 01, all that a user gets", "s",
                "below 0.06", forecast_s, forecast_s < 0.06,
                f"{sixty['steps']} steps, {sixty['calls']} rate calls"),
        verdict("speed_ensemble", "60-day standard runs per second and core in an ensemble",
                "1/s", "at least 100", most["runs_per_s_and_core"],
                most["runs_per_s_and_core"] >= 100, f"one thread, {most['runs']} runs"),
        verdict("speed_linear", "exponent of time against cells", "1", "1 (linear), at most 1.1",
                exponent, exponent <= 1.1,
                f"{sizes[0]['cells']} to {sizes[-1]['cells']} cells; cost of the integrator"),
    ]

    figure(bench, "benchmark_cells.svg", "Ten days against the number of cells", "cells",
           "ms, integration alone",
           {"heapcast, full, not turned": [(s["cells"], s["ms"]) for s in sizes], **against})
    figure(bench, "benchmark_days.svg", "A whole forecast against its days, standard mesh", "days",
           "ms", {"heapcast": [(f["days"], f["ms"]) for f in forecasts]})
    figure(bench, "benchmark_runs.svg", "An ensemble against its runs, 60 days, standard mesh",
           "runs, the central one included", "s of wall clock",
           {f"{n} thread{'s' if n > 1 else ''}": [(e["runs"] + 1, e["wall_s"])
                                                  for e in ensembles[n]] for n in (1, 2)})
    bars(bench, "benchmark_full.svg", f"Oxygen a state: {size}", full)
    bars(bench, "benchmark_algebraic.svg", f"Oxygen steady: {size}", algebraic)

    checks = [[f"{f['case']['mesh']}, {f['equations']}", number(f["check"].get("error"), "{:.1e}"),
               f["check"].get("worst", "–"), number(f["default"].get("error"), "{:.1e}"),
               number(f["default"].get("ms"), "{:.1f}"),
               number(f["lines"][0].get("oxygen_percent"))]
              for f in (full, algebraic, one_cell)]
    tables = [
        table_of(full, f"{full['lines'][0]['cells']} cells"),
        table_of(algebraic, f"{algebraic['lines'][0]['cells']} cells"),
        table_of(one_cell, "One cell"),
        {"title": "References, and heapcast at a forecast's own tolerance",
         "columns": ["case", "reference against one of ten times its tolerance, of the range",
                     "worst", "error of heapcast at tolerance 1", "ms",
                     "oxygen off, vol % (shown, not judged)"], "rows": checks},
        {"title": "A whole forecast, example 01, standard mesh",
         "columns": ["days", "ms", "steps", "rejected", "rate calls",
                     "ns per cell and call, all in", "peak MB"],
         "rows": [[f"{f['days']:.0f}", f"{f['ms']:.1f}", f["steps"], f["rejected"], f["calls"],
                   f"{f['ns_per_cell_and_call']:.0f}", f"{f['peak_MB']:.0f}"] for f in forecasts]},
        {"title": "The integrator against cells: 10 days, not turned",
         "columns": ["cells", "ms", "steps", "rate calls", "ns per cell and call", "peak MB"],
         "rows": [[s["cells"], f"{s['ms']:.1f}", s["steps"], s["calls"],
                   f"{s['ns_per_cell_and_call']:.0f}", f"{s['peak_MB']:.0f}"] for s in sizes]},
        {"title": "Ensembles, 60 days, standard mesh",
         "columns": ["threads", "runs", "runs per s and core (process time)",
                     "runs per s (wall clock)",
                     "cores got (process time over wall clock)", "peak MB", "failed"],
         "rows": [[n, e["runs"], f"{e['runs_per_s_and_core']:.2f}", f"{e['runs_per_s']:.2f}",
                   f"{e['cpu_s'] / e['wall_s']:.2f}", f"{e['peak_MB']:.0f}", e["failed"]]
                  for n in (1, 2) for e in ensembles[n]]},
        {"title": "Rates asked twice for the same state, with another in between",
         "columns": ["system", "largest difference, of the field's largest rate"],
         "rows": [[p["equations"], f"{p['largest_difference']:.1e}"] for p in pure]}]
    report = {
        "section": "Speed", "order": 5,
        "intro":
            "The same equations, mesh, weather and events for every solver: the first example's "
            "windrow, turned every 7 days without the example's condition, since a threshold passed "
            "an hour later would move an event. Each solver has the "
            "loosest tolerance of a ladder of factors of two with which everything a forecast's "
            "curves are made of but oxygen (temperatures, moisture, structure, air flow, every "
            "integrated quantity) stays within 1e-3 of its range of a reference by CVODE's BDF at "
            "1e-5 of a forecast's tolerance (3e-10 of a cell's mass, 3e-7 K) at every hour. "
            "Tolerances are in units of a forecast's. Times are process time in solver and rates; "
            f"rivals run {case['days']} days because on 60 some take minutes; one that took longer "
            f"than {bench.most_seconds:.0f} s is said to. The vectors and factors of CVODE are not "
            "Debian 12's, which are built without optimisation, but optimised ones and LAPACK's; "
            "with the library's own CVODE takes two to three times as long. Odeint's rosenbrock4 "
            "with its dense Jacobian is compared on one cell only. The machine had "
            f"{os.cpu_count()} cores and a load of {load:.1f} before the first measurement: process "
            "time hardly feels what else runs, wall clock does.",
        "rows": rows, "tables": tables,
        "figures": [
            {"file": "benchmark_full.svg", "caption": "Pore oxygen integrated as a state; each "
                                                      "at its loosest tolerance."},
            {"file": "benchmark_algebraic.svg", "caption": "Pore oxygen steady, solved for within "
                                                           "the rates."},
            {"file": "benchmark_cells.svg", "caption": "Cost against cells."},
            {"file": "benchmark_days.svg", "caption": "Cost against days."},
            {"file": "benchmark_runs.svg", "caption": "Cost against runs."}],
        "summary": [f"{r['quantity']}: {r['computed']} (target {r['published']}): {r['verdict']}"
                    for r in rows]}
    pathlib.Path(given.out).write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")
    for r in rows:
        print(f"{r['verdict']:12s} {r['quantity']}: {r['computed']} {r['unit']} "
              f"(target {r['published']}) - {r['note']}")
    print(f"{time.monotonic() - began:.0f} s in all", file=sys.stderr)


if __name__ == "__main__":
    main()
