#!/usr/bin/env python3
"""Order in time and in mesh, closure of the balances, identity of repeated runs.

Usage: run.py --build build/release --out build/validation/numerics.json [--quick]

Needs heapcast and validation/heapcast_numerics of the build. Piles and weather are invented. Writes
the table as JSON and four figures as SVG beside it. Exits 1 when it could not do its work.
"""

import argparse
import hashlib
import json
import math
import pathlib
import re
import shlex
import subprocess
import sys
import tempfile
import time

import matplotlib

matplotlib.use("Agg")
import h5netcdf  # noqa: E402
import matplotlib.pyplot as plt  # noqa: E402

ROOT = pathlib.Path(__file__).resolve().parents[2]
COLOURS = {"heap": "#1b6ca8", "windrow": "#c8553d", "bin": "#3a7d44", "one cell": "#6b6b6b"}
MARKS = {"heap": "o", "windrow": "s", "bin": "^", "one cell": "D"}
WAYS = ["1 thread", "2 threads", "4 threads", "again", "from its results", "killed 8 times", "in 3 shards"]
QUANTITIES = ("water", "carbon", "nitrogen", "ash", "energy")

# Limits of the closure, as a share of the throughput of a run: a hundred times below what a
# weighbridge (1e-4) or a thermometer (1e-3) could show. Judgement.
MASS_LIMIT = 1e-9
ENERGY_LIMIT = 1e-6

# What a user may rely on of the standard mesh: less than a thermometer in a pile is off by being
# elsewhere. The same limits stand in tests/models/pile_convergence_slow_test.cpp. Judgement.
CORE_LIMIT_K = 1.5
CARBON_LIMIT = 0.02

plt.rcParams.update({"font.size": 9, "axes.grid": True, "grid.alpha": 0.3, "svg.hashsalt": "numerics",
                     "axes.spines.top": False, "axes.spines.right": False})


def measure(build, what, quick):
    """The JSON that heapcast_numerics prints of `what`."""
    command = [str(build / "validation/heapcast_numerics"), what] + (["quick"] if quick else [])
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def save(figure, out, name):
    """Writes a figure beside the table; the same numbers give the same bytes."""
    figure.tight_layout()
    figure.savefig(out.parent / name, metadata={"Date": None})
    plt.close(figure)
    return name


def row(identity, quantity, unit, published, computed, tolerance, agrees, source, provenance, note=""):
    verdict = agrees if isinstance(agrees, str) else ("agrees" if agrees else "MISS")
    return {"id": identity, "quantity": quantity, "unit": unit, "published": published,
            "computed": computed, "tolerance": tolerance, "verdict": verdict, "source": source,
            "provenance": provenance, "note": note}


def slope(x, y):
    """Least-squares slope of log y over log x."""
    a = [math.log(v) for v in x]
    b = [math.log(v) for v in y]
    mean_a, mean_b = sum(a) / len(a), sum(b) / len(b)
    return (sum((u - mean_a) * (v - mean_b) for u, v in zip(a, b))
            / sum((u - mean_a) ** 2 for u in a))


# --- order in time

ORDERS = {
    # kind: order, lowest and highest that pass, source. A tenth or two is left to finite steps.
    "fixed step": (2, 1.8, 2.3, "order of the trapezoidal rule, textbook"),
    "fixed step, oxygen stored": (2, 1.8, 2.3, "order of BDF2, textbook"),
}


# Below this the temperatures differ by the 1e-7 to which oxygen is solved, not by the steps.
FLOOR_K = 5e-8


def above_floor(entry):
    """Steps (s) and errors (K) of an entry, without those at the floor."""
    pairs = [(x, e) for x, e in zip(entry["x"], entry["error_K"]) if e > FLOOR_K]
    return [x for x, _ in pairs], [e for _, e in pairs]


def draw_time(entries, out):
    figure, (left, right) = plt.subplots(1, 2, figsize=(8.6, 3.6))
    for entry in entries:
        colour, mark = COLOURS[entry["pile"]], MARKS[entry["pile"]]
        if entry["kind"] == "controlled":
            right.loglog(entry["rate_calls"], entry["error_K"], marker=mark, color=colour,
                         label=entry["pile"])
        else:
            stored = "stored" in entry["kind"]
            left.loglog(entry["x"], entry["error_K"], marker=mark, color=colour,
                        linestyle="--" if stored else "-",
                        label=entry["pile"] + (", oxygen stored" if stored else ""))
    for order, at, level in ((2, 1800, 2e-3),):
        x = [at, at / 16]
        left.loglog(x, [level, level / 16**order], color="#bbbbbb", linewidth=1)
        left.annotate(f"order {order}", (at / 4, level / 4**order), textcoords="offset points",
                      xytext=(-34, 6), color="#777777")
    left.set_ylim(1e-11, 1e-2)
    left.set_xlabel("step, s")
    left.set_ylabel("largest error of a cell's temperature after 8 h, K")
    left.set_title("Fixed steps", loc="left")
    left.legend(fontsize=7, frameon=False)
    right.set_xlabel("calls of the rates in 8 h")
    right.set_title("Step control, tolerance 10 to 1e-4 of the default", loc="left")
    right.legend(fontsize=7, frameon=False)
    return save(figure, out, "numerics_time.svg")


def time_rows(entries):
    rows = []
    for entry in entries:
        name = f"numerics.time.{entry['pile']}.{entry['kind']}".replace(" ", "_").replace(",", "")
        if entry["kind"] in ORDERS:
            order, low, high, source = ORDERS[entry["kind"]]
            x, error = above_floor(entry)
            found = slope(x, error)
            rows.append(row(name, f"order in time, {entry['pile']}, {entry['kind']}", "1", str(order),
                            f"{found:.2f}", f"{low} to {high}", low <= found <= high, source,
                            "read" if order == 3 else "common practice",
                            f"errors {error[0]:.1e} to {error[-1]:.1e} K, steps {x[0]:g} to {x[-1]:g} s"))
        else:
            default = entry["x"].index(1)
            rows.append(row(name, f"error of step control at the default tolerance, {entry['pile']}",
                            "K", "", f"{entry['error_K'][default]:.1e}", "", "reported", "", "computed",
                            f"{entry['rate_calls'][default]:.0f} calls of the rates in 8 h; "
                            f"{entry['error_K'][-1]:.1e} K with {entry['rate_calls'][-1]:.0f}"))
    return rows


def time_table(entries):
    return {"title": "Order in time: largest error of any cell's temperature after 8 h, K",
            "columns": ["pile", "steps", "step, s, or tolerance", "error, K", "calls of the rates"],
            "rows": [[e["pile"], e["kind"], f"{x:g}", f"{error:.2e}", f"{calls:.0f}"]
                     for e in entries
                     for x, error, calls in zip(e["x"], e["error_K"], e["rate_calls"])]}


# --- order in mesh

def largest_core_difference_K(a, b):
    return max(abs(x - y) for x, y in zip(a["core_C"], b["core_C"]))


def mean_difference_K(a, b, curve):
    """Mean over the hours of the difference of a curve, "core_C" or "mean_C"."""
    return sum(abs(x - y) for x, y in zip(a[curve], b[curve])) / len(a[curve])


def by_pile(entries):
    piles = {}
    for entry in entries:
        piles.setdefault(entry["pile"], []).append(entry)
    return piles


def draw_mesh(entries, out):
    figure, axes = plt.subplots(1, 3, figsize=(9.6, 3.4))
    for pile, runs in by_pile(entries).items():
        cells = [run["cells"] for run in runs]
        style = {"marker": MARKS[pile], "color": COLOURS[pile], "label": pile}
        finest = runs[-1]
        axes[0].loglog(cells[:-1], [largest_core_difference_K(r, finest) for r in runs[:-1]], **style)
        axes[0].loglog(cells[:-1], [mean_difference_K(r, finest, "mean_C") for r in runs[:-1]],
                       marker=MARKS[pile], color=COLOURS[pile], linestyle=":", markersize=3)
        axes[1].semilogx(cells, [max(run["core_C"]) for run in runs], **style)
        axes[2].semilogx(cells, [100 * run["carbon_lost"] for run in runs], **style)
    axes[0].axhline(CORE_LIMIT_K, color="#bbbbbb", linewidth=1)
    axes[0].set_title("Against the finest mesh, K", loc="left")
    axes[0].set_xlabel("cells (line: core, worst hour; dots: whole pile, mean)")
    axes[1].set_title("Peak of the core, °C", loc="left")
    axes[2].set_title("Carbon lost in 30 days, %", loc="left")
    for axis in axes[1:]:
        axis.set_xlabel("cells")
    axes[2].legend(fontsize=7, frameon=False)
    return save(figure, out, "numerics_mesh.svg")


def nearest_run(runs, cells):
    return min(runs, key=lambda run: abs(run["cells"] - cells))


def mesh_rows(entries):
    rows = []
    for pile, runs in by_pile(entries).items():
        finest = runs[-1]
        standard, fine = nearest_run(runs, 100), nearest_run(runs, 400)
        for name, other in (("fine", fine), ("finest", finest)):
            if other is finest and name == "fine":
                continue
            off_K = largest_core_difference_K(standard, other)
            share = standard["carbon_lost"] / other["carbon_lost"] - 1
            against = f"{standard['cells']} cells against {other['cells']}"
            rows.append(row(f"numerics.mesh.{pile}.core.{name}", f"core of the standard mesh, {pile}",
                            "K", "0", f"{off_K:.2f}", f"{CORE_LIMIT_K}", off_K <= CORE_LIMIT_K, "",
                            "judgement", f"worst hour of 30 days, {against}; mean "
                            f"{mean_difference_K(standard, other, 'core_C'):.2f} K"))
            rows.append(row(f"numerics.mesh.{pile}.carbon.{name}",
                            f"carbon lost on the standard mesh, {pile}", "%", "0",
                            f"{100 * share:+.2f}", f"{100 * CARBON_LIMIT:g}", abs(share) <= CARBON_LIMIT,
                            "", "judgement", against))
        some = runs[:-1]
        order = -2 * slope([r["cells"] for r in some],
                           [mean_difference_K(r, finest, "mean_C") for r in some])
        rows.append(row(f"numerics.mesh.{pile}.order", f"order in cell size, {pile}", "1", "",
                        f"{order:.2f}", "", "reported", "", "computed",
                        "of the pile's mean temperature, mean over the hours of the difference from "
                        f"the finest mesh ({finest['cells']} cells), which flatters the last points; "
                        "cell size as 1/sqrt(cells). Upwind faces are of first order; rain, drying of "
                        "the skin and turns leave no smooth problem, and the core is made of whole "
                        "cells, so that it does not come nearer step by step"))
    return rows


def mesh_table(entries):
    rows = []
    for pile, runs in by_pile(entries).items():
        for run in runs:
            rows.append([pile, str(run["cells"]), f"{max(run['core_C']):.2f}",
                         f"{largest_core_difference_K(run, runs[-1]):.2f}",
                         f"{mean_difference_K(run, runs[-1], 'core_C'):.3f}",
                         f"{mean_difference_K(run, runs[-1], 'mean_C'):.3f}",
                         f"{100 * run['carbon_lost']:.3f}", f"{run['water_kg']:.1f}"])
    return {"title": "Order in mesh: 30 days with showers, turned on days 10, 20 and 30",
            "columns": ["pile", "cells", "peak of the core, °C", "core off, worst hour, K",
                        "core off, mean, K", "whole pile off, mean, K", "carbon lost, %", "water left, kg"],
            "rows": rows}


# --- closure

def draw_closure(stories, out):
    figure, axes = plt.subplots(1, len(stories), figsize=(9.6, 3.4), sharey=True)
    for axis, story in zip(axes, stories):
        for quantity in QUANTITIES:
            values = [max(v, 1e-17) for v in story[quantity]]
            axis.semilogy([(i + 1) / 24 for i in range(len(values))], values, label=quantity,
                          linewidth=1.2)
        axis.axhline(MASS_LIMIT, color="#bbbbbb", linewidth=1)
        axis.axhline(ENERGY_LIMIT, color="#bbbbbb", linewidth=1, linestyle="--")
        axis.set_title(story["story"].split(":")[0], loc="left")
        axis.set_xlabel("day")
    axes[0].set_ylabel("largest residual so far / throughput")
    axes[-1].legend(fontsize=7, frameon=False, loc="center right")
    return save(figure, out, "numerics_closure.svg")


def closure_rows(stories):
    rows = []
    for story in stories:
        for quantity in QUANTITIES:
            limit = ENERGY_LIMIT if quantity == "energy" else MASS_LIMIT
            worst = story[quantity][-1]
            rows.append(row(f"numerics.closure.{story['story'].split(':')[0]}.{quantity}",
                            f"closure of {quantity}, {story['story']}", "1", "0", f"{worst:.1e}",
                            f"{limit:g}", worst <= limit, "conservation", "judgement",
                            f"largest of {len(story[quantity])} hours, {story['events']} events"))
    return rows


def closure_table(stories):
    return {"title": "Closure: largest residual over throughput, hour by hour",
            "columns": ["pile", "hours", "events", *QUANTITIES],
            "rows": [[s["story"], str(len(s["water"])), str(s["events"]),
                      *(f"{s[q][-1]:.1e}" for q in QUANTITIES)] for s in stories]}


# --- identity

def digest_of(results):
    return hashlib.sha256(results.read_bytes()).hexdigest()


def forecast(build, pile, output, options=()):
    """Runs heapcast and returns the results' SHA-256."""
    subprocess.run([str(build / "heapcast"), "forecast", str(pile), "--quiet", "-o", str(output),
                    *options], check=True, capture_output=True)
    return digest_of(output)


def compare(build, pile, output, options=()):
    subprocess.run([str(build / "heapcast"), "compare", str(pile), "--quiet", "-o", str(output),
                    *options], check=True, capture_output=True)
    return digest_of(output)


def text_of(attribute):
    """Text of an attribute; an empty one comes as bytes."""
    return attribute.decode() if isinstance(attribute, bytes) else str(attribute)


def from_results(build, results, folder):
    """The run that a results file describes, made again from that file alone."""
    with h5netcdf.File(results, "r") as data:
        text = text_of(data.attrs["pile_file"])
        options = shlex.split(text_of(data.attrs["command_options"]))
    pile = folder / "from_results.toml"
    pile.write_text(text, encoding="utf-8")
    return forecast(build, pile, folder / "from_results.h5", options)


def killed_study(words, results, whole_s):
    """SHA-256 of a study that was killed eight times on its way, each time after another while."""
    kills = 0
    for attempt in range(100):
        process = subprocess.Popen([*words, "-o", str(results)], stderr=subprocess.DEVNULL)
        try:
            process.wait(whole_s * (0.05 + 0.45 * (attempt * 0.618 % 1)) / 4)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
            kills += 1
        if results.exists():
            raise RuntimeError(f"the study was done after {kills} kills: give it more runs")
        if kills == 8:
            break
    subprocess.run([*words, "-o", str(results)], check=True, capture_output=True)
    return digest_of(results)


def study_cases(build, folder, quick):
    """A study: on several threads, killed and taken up again by the same command, in shards."""
    study = ROOT / "examples/07_what_matters_most/study.toml"
    heapcast = str(build / "heapcast")
    words = [heapcast, "sweep", str(study), "--quiet", "--set", f"run.days={5 if quick else 20}"]
    ways = []
    for threads in (1, 2, 4):
        results = folder / f"study_{threads}.h5"
        began = time.perf_counter()
        subprocess.run([*words, "--threads", str(threads), "-o", str(results)], check=True,
                       capture_output=True)
        whole_s = time.perf_counter() - began
        ways.append((f"{threads} thread{'s' * (threads > 1)}", digest_of(results)))
    ways.append(("killed 8 times", killed_study(words, folder / "killed.h5", whole_s)))
    shards = [folder / f"shard_{n}.h5" for n in (1, 2, 3)]
    for n, shard in enumerate(shards, 1):
        subprocess.run([*words, "--shard", f"{n}/3", "-o", str(shard)], check=True, capture_output=True)
    subprocess.run([heapcast, "gather", *map(str, shards), "-o", str(folder / "joined.h5"), "--quiet"],
                   check=True, capture_output=True)
    ways.append(("in 3 shards", digest_of(folder / "joined.h5")))
    return ways


def identity_cases(build, quick):
    """Of each kind of run: its name and the way and SHA-256 of each time it was run."""
    short = ["--resolution", "coarse", "--set", "run.days=10"] if quick else []
    heap = ROOT / "examples/03_humid_tropics_heap/pile.toml"
    compared = ROOT / "examples/05_turning_compared/pile.toml"
    runs = "6" if quick else "24"
    few = ["--resolution", "coarse", "--set", "run.days=20"]
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        one = [("1 thread", forecast(build, heap, folder / "a.h5", ["--threads", "1", *short]))]
        one += [(f"{n} threads", forecast(build, heap, folder / f"{n}.h5", ["--threads", str(n), *short]))
                for n in (2, 4)]
        one.append(("again", forecast(build, heap, folder / "again.h5", ["--threads", "1", *short])))
        one.append(("from its results", from_results(build, folder / "a.h5", folder)))
        many = [(f"{n} thread{'s' * (n > 1)}",
                 forecast(build, heap, folder / "many.h5", ["--runs", runs, "--threads", str(n), *few]))
                for n in (1, 2, 4)]
        many.append(("again", forecast(build, heap, folder / "many_again.h5",
                                       ["--runs", runs, "--threads", "2", *few])))
        many.append(("from its results", from_results(build, folder / "many.h5", folder)))
        sides = [(f"{n} thread{'s' * (n > 1)}",
                  compare(build, compared, folder / "sides.h5", ["--runs", "4", "--threads", str(n), *few]))
                 for n in (1, 2, 4)]
        sides.append(("again", compare(build, compared, folder / "sides.h5",
                                       ["--runs", "4", "--threads", "2", *few])))
        study = study_cases(build, folder, quick)
        other = forecast(build, heap, folder / "other.h5", ["--seed", "2", *short])
    if other == one[0][1]:
        raise RuntimeError("another seed gives the same bytes: the comparison means nothing")
    return [("one forecast", one), (f"{runs} runs of a forecast", many),
            ("comparison of 4 variants, 4 runs each", sides), ("study", study)]


def draw_identity(cases, out):
    figure, axis = plt.subplots(figsize=(9.6, 2.2))
    axis.axis("off")
    text = []
    colours = []
    for _, runs in cases:
        found = dict(runs)
        first = runs[0][1]
        text.append([found[w][:12] if w in found else "" for w in WAYS])
        colours.append(["white" if w not in found else "#dcefdc" if found[w] == first else "#f6c9c0"
                        for w in WAYS])
    table = axis.table(cellText=text, cellColours=colours, rowLabels=[name for name, _ in cases],
                       colLabels=WAYS, loc="center", cellLoc="center")
    table.auto_set_font_size(False)
    table.set_fontsize(8)
    table.scale(1, 1.6)
    axis.set_title("First 12 digits of the SHA-256 of the results file; green: same bytes", loc="left",
                   fontsize=9)
    return save(figure, out, "numerics_identity.svg")


RESTART = ("A study is taken up at the runs it had not made; a single forecast takes a fraction of a "
           "second and is made again from its start, from its own results file alone if need be.")


def identity_rows(cases):
    rows = []
    for name, runs in cases:
        first = runs[0][1]
        for way, found in runs[1:]:
            rows.append(row(f"numerics.identity.{name}.{way}".replace(" ", "_"),
                            f"bytes of the results, {name}, {way}", "SHA-256", first[:16], found[:16],
                            "every bit", found == first, "the run on one thread", "computed",
                            RESTART if "killed" in way else ""))
    return rows


def identity_table(cases):
    return {"title": "Identity: SHA-256 of the results file",
            "columns": ["run", "way", "SHA-256"],
            "rows": [[name, way, digest] for name, runs in cases for way, digest in runs]}


def summary(rows, stories, mesh):
    counts = {v: sum(r["verdict"] == v for r in rows) for v in ("agrees", "MISS")}
    worst = {q: max(s[q][-1] for s in stories) for q in QUANTITIES}
    standard = [(p, nearest_run(r, 100), r[-1]) for p, r in by_pile(mesh).items()]
    return [
        f"Numerics: {counts['agrees']} agree, {counts['MISS']} miss.",
        "Closure over " + re.sub(r"\.0$", "", f"{stories[0]['days']}") + " days: "
        + ", ".join(f"{q} {worst[q]:.0e}" for q in QUANTITIES) + " of the throughput.",
        "Standard mesh against the finest: "
        + "; ".join(f"{p} core {largest_core_difference_K(s, f):.2f} K, carbon "
                    f"{100 * (s['carbon_lost'] / f['carbon_lost'] - 1):+.1f} %" for p, s, f in standard)
        + ".",
        "The same run gives the same bytes on 1, 2 and 4 threads, a study also when killed and taken "
        "up again, and in shards.",
    ]


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--build", type=pathlib.Path, required=True)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--quick", action="store_true", help="fewer cells, days and runs")
    arguments = parser.parse_args()
    build, out = arguments.build.resolve(), arguments.out.resolve()
    out.parent.mkdir(parents=True, exist_ok=True)
    try:
        steps = measure(build, "time", arguments.quick)
        mesh = measure(build, "mesh", arguments.quick)
        stories = measure(build, "closure", arguments.quick)
        cases = identity_cases(build, arguments.quick)
    except (OSError, RuntimeError, subprocess.CalledProcessError) as error:
        print(f"numerics: {error}", file=sys.stderr)
        return 1
    rows = time_rows(steps) + mesh_rows(mesh) + closure_rows(stories) + identity_rows(cases)
    same = all(d == runs[0][1] for _, runs in cases for _, d in runs)
    lines = summary(rows, stories, mesh)
    if not same:
        lines[-1] = "**The same run does not always give the same bytes.**"
    figures = [
        (draw_time(steps, out), "Order in time of the whole pile, on a problem without kinks: built "
         "warm, dry weather, no work. Errors against fixed steps of 3.5 s."),
        (draw_mesh(mesh, out), "Order in mesh: 30 days with showers, turned three times."),
        (draw_closure(stories, out), "Largest residual of each balance so far, over the throughput, "
         "hour by hour. Grey: limits for mass (line) and energy (dashes)."),
        (draw_identity(cases, out), "The same run gives the same bytes."),
    ]
    out.write_text(json.dumps({
        "section": "Numerics", "order": 4,
        "intro": "Whether the program solves its equations: order in time and mesh, closure of the "
                 "balances, and whether the same run gives the same result. It says nothing of "
                 "whether the equations are right. Piles and weather are invented.",
        "rows": rows,
        "tables": [time_table(steps), mesh_table(mesh), closure_table(stories), identity_table(cases)],
        "figures": [{"file": f, "caption": c} for f, c in figures],
        "summary": lines,
    }, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
