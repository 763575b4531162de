"""How far one parameter alone can move each observation: a search for structural misses.

    /usr/bin/python3 validation/trials/scan.py --build build/release --group 1 --out scan_1.json

Every parameter is put to the low and to the high end of its published range, one at a time, with
all others and the inputs as the pile files and the program have them. An observation that no single
parameter reaches is no proof of a structural miss, but where the widest reach stays far away the
physics is the place to look; which parameters lead there says where.
"""

import argparse
import json
import pathlib

import numpy as np

import trials


def columns_of(parameters):
    """One row with the defaults, then each parameter at its low and its high end."""
    rows = [[row["value"] for row in parameters]]
    for j, row in enumerate(parameters):
        for end in ("low", "high"):
            changed = list(rows[0])
            changed[j] = row[end]
            rows.append(changed)
    return {f"value:{row['name']}": [f"{values[j]:.12g}" for values in rows]
            for j, row in enumerate(parameters)}


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--build", default="build/release")
    parser.add_argument("--group", type=int, default=1, choices=[1, 2])
    parser.add_argument("--trials", nargs="*", help="these alone")
    parser.add_argument("--out", default="build/validation/trials_scan.json")
    options = parser.parse_args()
    spec = trials.load()
    runner = trials.Runner(options.build)
    parameters = trials.parameter_table(runner.program)
    chosen = options.trials or spec["estimated_from" if options.group == 1 else "scored_only"]
    spec["input"] = []
    columns = columns_of(parameters)
    draws = 2 * len(parameters) + 1
    kept = trials.draw_inputs
    # The pile files' own inputs and weather instead of drawn ones.
    trials.draw_inputs = lambda *arguments: {case: {} for case in spec["trial_of_case"]}
    computed = trials.compute(spec, runner, columns, chosen, draws, 0)
    trials.draw_inputs = kept
    result = []
    for one in spec["observation"]:
        if one["id"] not in computed:
            continue
        values = computed[one["id"]]
        reach = [(row["name"], values[1 + 2 * j], values[2 + 2 * j])
                 for j, row in enumerate(parameters)]
        by_size = sorted(reach, key=lambda r: -abs(np.nan_to_num(r[2] - r[1])))
        within = (values >= one["low"] - one["error"]) & (values <= one["high"] + one["error"])
        result.append({"id": one["id"], "low": one["low"], "high": one["high"],
                       "default": values[0], "least": float(np.nanmin(values)),
                       "most": float(np.nanmax(values)), "reached": bool(np.any(within)),
                       "strongest": [[n, float(a), float(b)] for n, a, b in by_size[:8]]})
        strongest = ", ".join(f"{n} {a:.3g}..{b:.3g}" for n, a, b in by_size[:5])
        print(f"{one['id']:26s} observed {one['low']:.3g}..{one['high']:.3g}; default "
              f"{values[0]:.3g}, reach {np.nanmin(values):.3g}..{np.nanmax(values):.3g}"
              f"{'' if np.any(within) else ' NOT REACHED'}; {strongest}", flush=True)
    pathlib.Path(options.out).parent.mkdir(parents=True, exist_ok=True)
    pathlib.Path(options.out).write_text(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
