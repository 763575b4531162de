#!/usr/bin/env python3
"""What others compute: steam tables, FAO-56 anew, one cell in SciPy, CVODE, closed forms.

Usage: run.py --build build/release --out build/validation/independent.json [--quick]

Needs validation/heapcast_one_cell, validation/heapcast_print_laws and the tests of the build. Piles
and weather are invented. Exits 1 when it could not do its work.
"""

import argparse
import json
import math
import pathlib
import subprocess
import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt  # noqa: E402
import numpy as np  # noqa: E402

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
import one_cell_pile  # noqa: E402

TEMPERATURE_LIMIT_K = 0.1  # what the second implementation has to agree to
# Within 1e-3 of the range of a run, which is what a forecast allows itself: tests PileConvergence.
RANGE_LIMIT = 1e-3
CVODE_LIMIT_K = 0.06  # 1e-3 of a range of 60 K


def row(identity, quantity, unit, published, computed, tolerance, agrees, source, provenance,
        note=""):
    """One row of the document."""
    return {"id": identity, "quantity": quantity, "unit": unit, "published": published,
            "computed": computed, "tolerance": tolerance,
            "verdict": "agrees" if agrees else "MISS", "source": source, "provenance": provenance,
            "note": note}


def laws(build, lines):
    """Values of heapcast_print_laws for lines of `law,argument,...`."""
    done = subprocess.run([str(build / "validation/heapcast_print_laws")], check=True, text=True,
                          input="\n".join(lines) + "\n", capture_output=True)
    return [float(line.rsplit(",", 1)[1]) for line in done.stdout.split()]


def steam(build):
    """Saturation and latent heat against python3-iapws (IAPWS-97, IAPWS R14-08 below 0 degC)."""
    try:
        from iapws import IAPWS97, _iapws
    except ImportError:
        return [{"id": "iapws", "quantity": "saturation pressure and latent heat",
                 "verdict": "not computed", "note": "Debian's python3-iapws is not installed"}]
    kelvin = [273.16 + 0.5 * i for i in range(200)]
    ours = laws(build, [f"saturation_pressure,{t}" for t in kelvin])
    theirs = [IAPWS97(T=t, x=0).P * 1e6 for t in kelvin]
    pressure = max(abs(a / b - 1.0) for a, b in zip(ours, theirs))
    ours = laws(build, [f"latent_heat,{t}" for t in kelvin])
    theirs = [(IAPWS97(T=t, x=1).h - IAPWS97(T=t, x=0).h) * 1e3 for t in kelvin]
    latent = max(abs(a / b - 1.0) for a, b in zip(ours, theirs))
    source = "IAPWS-IF97 as computed by Debian's python3-iapws"
    rows = [row("iapws.saturation", "saturation pressure, 0 to 100 degC", "%", "0",
                f"{100 * pressure:.4f}", "0.01", pressure <= 1e-4, source, "computed",
                "the header promises 0.006 %"),
            row("iapws.latent", "latent heat, 0 to 100 degC", "%", "0", f"{100 * latent:.4f}",
                "0.03", latent <= 3e-4, source, "computed", "the header promises 0.02 %")]
    cold = [253.15 + i for i in range(20)]
    over_ice = [_iapws._Sublimation_Pressure(t) * 1e6 for t in cold]
    ours = laws(build, [f"saturation_pressure,{t}" for t in cold])
    rows.append({"id": "iapws.ice", "quantity": "saturation over water against over ice, -20 to -1 degC",
                 "unit": "ratio", "published": "above 1, growing with cold",
                 "computed": f"{ours[-1] / over_ice[-1]:.3f} to {ours[0] / over_ice[0]:.3f}",
                 "verdict": "reported", "source": source, "provenance": "computed",
                 "note": "the model takes supercooled water below 0 degC on purpose"})
    rows.append(moist_air(build))
    return rows


def moist_air(build):
    """Humidity ratio, density and enthalpy anew from ideal gases and the printed vapour pressure."""
    worst = 0.0
    for celsius in range(-40, 96, 5):
        t = celsius + 273.15
        saturated = laws(build, [f"saturation_pressure,{t}"])[0]
        e, p = 0.7 * saturated, 101325.0
        got = laws(build, [f"humidity_ratio,{t},{e},{p}", f"moist_air_density,{t},{e},{p}"])
        ratio = 18.01528 / 28.9647 * e / (p - e)
        density = ((p - e) * 0.0289647 + e * 0.01801528) / (8.314462618 * t)
        worst = max(worst, abs(got[0] / ratio - 1.0), abs(got[1] / density - 1.0))
    return row("ideal.moist_air", "humidity ratio and density of air at 70 % humidity, -40 to 95 degC",
               "%", "0", f"{100 * worst:.2e}", "1e-6", worst <= 1e-8,
               "ideal gas law written out here", "computed")


def fao56(build):
    """Penman-Monteith and what leads to it, written out from the paper's equations."""
    def es(t):
        return 0.6108 * math.exp(17.27 * t / (t + 237.3))

    def delta(t):
        return 4098.0 * es(t) / (t + 237.3) ** 2

    def radiation(latitude, day):
        phi = math.radians(latitude)
        d_r = 1.0 + 0.033 * math.cos(2.0 * math.pi * day / 365.0)
        tilt = 0.409 * math.sin(2.0 * math.pi * day / 365.0 - 1.39)
        w_s = math.acos(-math.tan(phi) * math.tan(tilt))
        return (24.0 * 60.0 / math.pi * 0.0820 * d_r *
                (w_s * math.sin(phi) * math.sin(tilt) +
                 math.cos(phi) * math.cos(tilt) * math.sin(w_s)))

    def eto(t, u2, sat, ea, gamma, rn, g):
        return ((0.408 * delta(t) * (rn - g) + gamma * 900.0 / (t + 273.0) * u2 * (sat - ea)) /
                (delta(t) + gamma * (1.0 + 0.34 * u2)))

    rows = []

    def compare(name, what, lines, expected):
        got = laws(build, lines)
        worst = max(abs(a / b - 1.0) for a, b in zip(got, expected))
        rows.append(row(f"fao56.{name}", what, "%", "0", f"{100 * worst:.2e}", "1e-8",
                        worst <= 1e-10, "FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), "
                        "equations written out here", "computed"))

    temperatures = [-20.0 + 2.5 * i for i in range(29)]
    compare("es", "saturation pressure (eq. 11)", [f"fao56_es,{t}" for t in temperatures],
            [es(t) for t in temperatures])
    compare("delta", "slope of the saturation pressure (eq. 13)",
            [f"fao56_delta,{t}" for t in temperatures], [delta(t) for t in temperatures])
    places = [(lat, day) for lat in (-55, -33, -10, 0, 13.7, 40, 60) for day in range(5, 366, 30)]
    compare("Ra", "extraterrestrial radiation (eq. 21)",
            [f"fao56_Ra,{lat},{day}" for lat, day in places],
            [radiation(lat, day) for lat, day in places])
    days = [(t, u, es(t) * 1.05, es(t) * h, 0.0665, 3.0 + 0.4 * t, g)
            for t in (5.0, 15.0, 30.0) for u in (0.5, 2.0, 6.0) for h in (0.4, 0.8)
            for g in (0.0, 0.3)]
    compare("ETo", "reference evapotranspiration (eq. 6)",
            ["fao56_ETo_day," + ",".join(map(str, d)) for d in days], [eto(*d) for d in days])
    return rows


def one_cell(build, out, quick):
    """Every pile of heapcast_one_cell against the second implementation."""
    program = str(build / "validation/heapcast_one_cell")
    names = subprocess.run([program], check=True, capture_output=True, text=True).stdout.split()
    days = 10 if quick else 60
    rows = []
    figure, axes = plt.subplots(2, 1, figsize=(8, 6), sharex=True)
    for name in names:
        case = json.loads(subprocess.run([program, name, str(days)], check=True,
                                         capture_output=True, text=True).stdout)
        theirs = one_cell_pile.simulate(case)

        def ours(key):
            return np.array([hour[key] for hour in case["hours"]])

        kelvin = ours("temperature_K")
        difference = kelvin - theirs["temperature_K"]
        worst = float(np.max(np.abs(difference)))
        rows.append(row(f"one_cell.{name}.temperature", f"{case['words']}: temperature, {days} d, "
                        "largest difference of any hour", "K", "0", f"{worst:.4f}",
                        f"{TEMPERATURE_LIMIT_K}", worst <= TEMPERATURE_LIMIT_K,
                        "validation/independent/one_cell_pile.py, SciPy LSODA", "computed",
                        f"temperature {kelvin.min() - 273.15:.1f} to {kelvin.max() - 273.15:.1f} degC"))
        carbon = sum(ours(k) for k in ("fast", "medium", "slow", "resistant", "humus", "biomass"))
        carbon_2 = sum(theirs[k] for k in ("fast", "medium", "slow", "resistant", "humus", "biomass"))
        for what, a, b in (("carbon", carbon, carbon_2), ("water", ours("water"), theirs["water"]),
                           ("ammonia lost", ours("total_ammonia_nitrogen")
                            if "total_ammonia_nitrogen" in case["hours"][0]
                            else ours("total_nh3_n"), theirs["total_nh3_n"])):
            extent = max(float(np.max(b) - np.min(b)), 1e-12)
            share = float(np.max(np.abs(a - b))) / extent
            rows.append(row(f"one_cell.{name}.{what.replace(' ', '_')}", f"{what}, largest difference "
                            "over its range", "%", "0", f"{100 * share:.3f}", f"{100 * RANGE_LIMIT}",
                            share <= RANGE_LIMIT, "validation/independent/one_cell_pile.py",
                            "computed"))
        time_days = np.arange(1, len(kelvin) + 1) / 24.0
        axes[0].plot(time_days, kelvin - 273.15, label=name, linewidth=1)
        axes[1].plot(time_days, difference, linewidth=1)
    axes[0].set_ylabel("temperature, degC")
    axes[0].legend(fontsize=7, ncol=4)
    axes[1].set_ylabel("C++ less Python, K")
    axes[1].set_xlabel("days")
    figure.tight_layout()
    figure.savefig(out.parent / "independent_one_cell.svg", metadata={"Date": None})
    table = {"title": "Forms that the text left open, read in the program",
             "columns": ["where", "the text says", "the program does"],
             "rows": [list(form) for form in one_cell_pile.OPEN_FORMS]}
    return rows, table


def properties(build, program, suites, out):
    """What the tests of a program recorded: {test: {property: text}}; raises when one failed."""
    report = out.parent / "tests" / f"{program}.json"
    report.parent.mkdir(exist_ok=True)
    report.unlink(missing_ok=True)
    subprocess.run([str(build / "tests" / program), f"--gtest_filter={suites}",
                    f"--gtest_output=json:{report}"], check=True, capture_output=True)
    usual = {"name", "file", "line", "status", "result", "timestamp", "time", "classname",
             "value_param", "type_param", "failures"}
    found = {}
    for suite in json.loads(report.read_text())["testsuites"]:
        for test in suite["testsuite"]:
            own = {k: v for k, v in test.items() if k not in usual}
            if own:
                found[f"{suite['name']}.{test['name']}"] = own
    return found


def cvode(build, out, quick):
    """Whole piles through CVODE, from what the tests record."""
    if quick:
        return [{"id": "cvode", "quantity": "piles through CVODE", "verdict": "not computed",
                 "note": "left out by --quick"}]
    rows = []
    for test in properties(build, "test_models_cvode_slow", "*", out).values():
        for name, text in test.items():
            if name.startswith("pile "):
                values = dict(part.split(" ", 1) for part in text.split("|"))
                core = abs(float(values["core_K"].split()[0]))
                rows.append(row(f"cvode.{name[5:].replace(' ', '_')}", f"{name[5:]}: core temperature, "
                                "largest difference of any hour", "K", "0", f"{core:.4f}",
                                f"{CVODE_LIMIT_K}", core <= CVODE_LIMIT_K,
                                "SUNDIALS CVODE, BDF, tolerance 1e-9, pore oxygen as a state",
                                "computed", text.replace("|", ", ")))
    return rows


def closed_forms(build, out):
    """Errors against closed forms by cell count, and the order they fall with."""
    points = {}
    for program in ("test_engine_convergence", "test_engine_reference"):
        for test in properties(build, program, "*", out).values():
            for name, text in test.items():
                what, _, cells = name.rpartition(" ")
                if what and cells.isdigit():
                    points.setdefault(what, []).append((int(cells), float(text.split()[0])))
    table = {"title": "Error against the closed form by number of cells or layers",
             "columns": ["case", "cells", "error", "order"], "rows": []}
    figure, axis = plt.subplots(figsize=(7, 4.5))
    for what, pairs in sorted(points.items()):
        pairs.sort()
        axis.loglog([p[0] for p in pairs], [max(p[1], 1e-16) for p in pairs], marker="o", label=what)
        for i, (cells, error) in enumerate(pairs):
            order = ""
            if i > 0 and error > 0 and pairs[i - 1][1] > 0:
                order = f"{math.log(pairs[i - 1][1] / error) / math.log(cells / pairs[i - 1][0]):.2f}"
            table["rows"].append([what, str(cells), f"{error:.3g}", order])
    axis.set_xlabel("cells or layers")
    axis.set_ylabel("error")
    axis.legend(fontsize=6)
    figure.tight_layout()
    figure.savefig(out.parent / "independent_closed_forms.svg", metadata={"Date": None})
    return table


def main():
    """Writes the part's JSON and figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--build", type=pathlib.Path, required=True)
    parser.add_argument("--out", type=pathlib.Path, required=True)
    parser.add_argument("--quick", action="store_true")
    arguments = parser.parse_args()
    arguments.out.parent.mkdir(parents=True, exist_ok=True)
    cells, forms = one_cell(arguments.build, arguments.out, arguments.quick)
    rows = (steam(arguments.build) + fao56(arguments.build) + cells +
            cvode(arguments.build, arguments.out, arguments.quick))
    worst = max(float(r["computed"]) for r in cells if r["id"].endswith(".temperature"))
    document = {
        "section": "Independent computations",
        "order": 2,
        "intro": "The same laws and the same equations, computed by something that shares no code "
                 "with the program: a steam library, FAO-56 written out again, a pile of one cell "
                 "written again in Python from the text of the model and integrated by SciPy with "
                 "pore oxygen as a state, SUNDIALS CVODE on whole piles, and closed forms of "
                 "conduction and transport.",
        "rows": rows,
        "tables": [forms, closed_forms(arguments.build, arguments.out)],
        "figures": [
            {"file": "independent_one_cell.svg",
             "caption": "Piles of one cell: temperature, and the difference to the second "
                        "implementation."},
            {"file": "independent_closed_forms.svg",
             "caption": "Error against closed forms of conduction and transport."}],
        "summary": [f"One cell, C++ against SciPy: at most {worst:.3f} K apart in any hour."],
    }
    arguments.out.write_text(json.dumps(document, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
