"""Field trials as cases: reading trials.toml, drawing what is uncertain, running, likelihood.

A draw is one set of model parameters with one set of assumed inputs and weather for every trial.
Parameters are handled by their normal scores: a parameter is the `share` point of its prior, and
share = Phi(z), z = L u, where L L' is the matrix of the program's own correlations between priors
and u are independent standard normal numbers under the prior.
"""

import csv
import hashlib
import json
import pathlib
import subprocess
import tempfile
import tomllib

import numpy as np
from scipy.stats import norm, qmc

HERE = pathlib.Path(__file__).resolve().parent
REFERENCE = HERE.parent / "reference" / "trials"
KINDS = ["temperature", "time", "carbon and mass", "nitrogen", "volume", "gas"]


def load():
    """trials.toml, with the observed bounds taken from the reference files."""
    spec = tomllib.loads((HERE / "trials.toml").read_text())
    spec["trial_of_case"] = {case["id"]: case["trial"] for case in spec["case"]}
    spec["slow_cases"] = {case["id"] for case in spec["case"] if case.get("slow")}
    files = {path.name[6:8]: path for path in sorted(REFERENCE.glob("trial_*.csv"))}
    spec["rows"] = {trial: read_reference(path) for trial, path in files.items()}
    spec["sources"] = {trial: path.read_text().splitlines()[0].removeprefix("# source: ")
                       for trial, path in files.items()}
    for one in spec["observation"]:
        row = spec["rows"][one["trial"]][one["row"] - 1]
        low, high = one.get("bounds", [row["low"], row["high"]])
        one["low"] = float(low) if low != "" else -np.inf
        one["high"] = float(high) if high != "" else np.inf
        one["unit"] = one.get("unit", row["unit"])
        one["reference"] = row
        one["group"] = 1 if one["trial"] in spec["estimated_from"] else 2
        one["cases"] = sorted({text.split("|")[0] for text in one["want"].values()})
    return spec


def read_reference(path):
    """Rows of one reference file, without its comments."""
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


def parameter_table(program):
    """The program's parameters that are drawn: name, unit, value, low, high, prior."""
    text = subprocess.run([program, "parameters", "--json"], check=True, capture_output=True,
                          text=True).stdout
    return [row for row in json.loads(text) if row["prior"] != "fixed"]


def correlation_root(parameters):
    """L of the program's correlations between the priors' normal scores."""
    names = [row["name"] for row in parameters]
    matrix = np.eye(len(names))
    for i, row in enumerate(parameters):
        for pair in row.get("correlations", []):
            if pair["with"] in names:
                j = names.index(pair["with"])
                matrix[i, j] = matrix[j, i] = pair["coefficient"]
    return np.linalg.cholesky(matrix)


def even_shares(draws, columns, seed):
    """Scrambled Sobol' numbers in random order, draws x columns, inside 0..1."""
    rng = np.random.default_rng(seed)
    power = int(np.ceil(np.log2(max(draws, 2))))
    shares = qmc.Sobol(columns, seed=rng).random_base2(power)[:draws]
    return np.clip(shares[rng.permutation(draws)], 1e-9, 1 - 1e-9)


def prior_scores(parameters, draws, seed):
    """u of `draws` draws from the prior."""
    return norm.ppf(even_shares(draws, len(parameters), [seed, 0]))


def draw_inputs(spec, trials, draws, seed):
    """Assumed inputs of every case: {case: {key: list of texts}}."""
    inputs = {case: {} for case, trial in spec["trial_of_case"].items() if trial in trials}
    for trial in trials:
        own = [one for one in spec["input"]
               if spec["trial_of_case"][one["cases"][0]] == trial]
        shares = even_shares(draws, len(own) + 1, [seed, 1, int(trial)])
        for column, one in enumerate(own):
            for case in one["cases"]:
                for key, texts in input_texts(one, shares[:, column]).items():
                    inputs[case][key] = texts
        for case in inputs:
            if spec["trial_of_case"][case] == trial:
                inputs[case]["site.normals.seed"] = [str(1 + int(1e9 * s)) for s in shares[:, -1]]
    return inputs


def input_texts(one, shares):
    """The texts that one [[input]] gives its keys at these shares."""
    if "choices" in one:
        count = len(one["choices"])
        return {one["key"]: [one["choices"][min(int(s * count), count - 1)] for s in shares]}
    return {key: [form.format(low + s * (high - low)) for s in shares]
            for key, low, high, form in one["set"]}


class Runner:
    """Runs cases with run_cases; keeps the numbers of runs that were made before."""

    def __init__(self, build):
        self.program = str(pathlib.Path(build).resolve() / "heapcast")
        self.driver = str(pathlib.Path(build).resolve() / "validation" / "run_cases")
        self.store = pathlib.Path(build).resolve().parent / "validation" / "trials_runs"
        self.store.mkdir(parents=True, exist_ok=True)
        self.version = hashlib.sha256(pathlib.Path(self.driver).read_bytes()).hexdigest()
        self.failed = {}

    def run(self, case, columns, wanted):
        """Numbers wanted of every draw, {wanted: array}. columns: {name: list of texts}."""
        rows = "\t".join(columns) + "\n"
        rows += "".join("\t".join(row) + "\n" for row in zip(*columns.values()))
        pile = HERE / "piles" / f"{case}.toml"
        key = hashlib.sha256("\n".join(
            [self.version, pile.read_text(), rows, *wanted]).encode()).hexdigest()
        kept = self.store / f"{case}_{key[:24]}.tsv"
        if not kept.exists():
            with tempfile.NamedTemporaryFile("w", suffix=".tsv") as table:
                table.write(rows)
                table.flush()
                done = subprocess.run([self.driver, str(pile), table.name, *wanted], check=True,
                                      capture_output=True, text=True)
            if done.stderr:
                (self.store / f"{case}_{key[:24]}.log").write_text(done.stderr)
            kept.write_text(done.stdout)
        lines = kept.read_text().splitlines()
        values = np.array([[float(cell) for cell in line.split("\t")] for line in lines[1:]])
        self.failed[case] = int(np.sum(np.all(np.isnan(values), axis=1)))
        return dict(zip(wanted, values.T))


def share_columns(parameters, root, scores):
    """Columns of the parameters' shares for u (draws x parameters)."""
    shares = np.clip(norm.cdf(scores @ root.T), 1e-12, 1 - 1e-12)
    return {f"share:{row['name']}": [f"{s:.12g}" for s in shares[:, i]]
            for i, row in enumerate(parameters)}


def cardinal(celsius, low, best, high):
    """Temperature factor of Rosso et al. 1993, as in models/properties/growth.hpp."""
    upper = (celsius - high) * (celsius - low) ** 2
    lower = (best - low) * ((best - low) * (celsius - best)
                            - (best - high) * (best + low - 2 * celsius))
    return upper / lower


def communities(celsius, low, best, high, mesophiles):
    """Temperature factor of mesophiles and thermophiles together, as in growth.hpp."""
    over = np.clip((celsius - 37) / 11, 0, 1)
    fall = 1 - over * over * (3 - 2 * over)
    cool = mesophiles * fall * cardinal(np.minimum(celsius, 37.0), low, 37.0, 48.0)
    return 1 - (1 - cardinal(celsius, low, best, high)) * (1 - cool)


def greenhouse(carbon_dioxide_kgC, methane_kgC, nitrous_oxide_kgN):
    """kg CO2 equivalents; 100-year factors 25 and 298 of IPCC 2007 (memory)."""
    return (carbon_dioxide_kgC * 44.01 / 12.011 + methane_kgC * 16.043 / 12.011 * 25
            + nitrous_oxide_kgN * 44.013 / 28.014 * 298)


def never(days, horizon):
    """The horizon where it never comes; a run that failed stays without a number."""
    return np.where(np.isnan(days), horizon, days)


def compute(spec, runner, columns, trials, draws, inputs_seed, slow=False):
    """The computed counterpart of every observation of the trials, {id: array over draws}."""
    inputs = draw_inputs(spec, trials, draws, inputs_seed)
    chosen = [one for one in spec["observation"] if one["trial"] in trials
              and any(case in spec["slow_cases"] for case in one["cases"]) == slow]
    wanted = {}
    for one in chosen:
        for text in one["want"].values():
            case, number = text.split("|")
            if number not in wanted.setdefault(case, []):
                wanted[case].append(number)
    numbers = {case: runner.run(case, {**columns, **inputs[case]}, sorted(of_case))
               for case, of_case in wanted.items()}
    names = {"communities": communities, "greenhouse": greenhouse, "never": never, "np": np}
    computed = {}
    for one in chosen:
        values = {name: numbers[text.split("|")[0]][text.split("|")[1]]
                  for name, text in one["want"].items()}
        with np.errstate(invalid="ignore", divide="ignore"):
            computed[one["id"]] = eval(one["value"], names, values)  # texts of trials.toml alone
    return computed


def log_likelihood(one, values, outlier):
    """ln of the chance of the observation given the model's values.

    The observed number is a range (or one bound, or one number) known with a normal error: with
    computed x the chance is Phi((high - x)/e) - Phi((low - x)/e), over its largest value, for one
    number exp(-((x - low)/e)^2/2). A share `outlier` is added, so that an observation that the
    model cannot reach does not decide everything. No number: as the share.
    """
    low, high, error = one["low"], one["high"], one["error"]
    if low == high:
        chance = np.exp(-0.5 * ((values - low) / error) ** 2)
    else:
        chance = norm.cdf((high - values) / error) - norm.cdf((low - values) / error)
        if np.isfinite(low) and np.isfinite(high):
            chance = chance / (2 * norm.cdf((high - low) / 2 / error) - 1)
    chance = np.where(np.isfinite(values), chance, 0.0)
    return np.log((1 - outlier) * chance + outlier)


def weighted_quantile(values, weights, share):
    """The share point of weighted values; infinite values count as the largest."""
    order = np.argsort(values)
    place = (np.cumsum(weights[order]) - 0.5 * weights[order]) / np.sum(weights)
    return float(np.interp(share, place, values[order]))


def judge(one, values, weights=None):
    """Median, 80 % interval and verdict of one observation.

    The rule: an observed number is inside when it lies in the model's 80 % interval (10 to 90 %
    point); an observed range when it overlaps it; a one-sided bound when the model gives it a
    probability of at least 10 %. The interval holds parameters, assumed inputs and weather, not
    the error of measuring. Runs without a number (failed) are left out.
    """
    there = np.isfinite(values)
    weights = np.ones(len(values)) if weights is None else weights
    values, weights = values[there], weights[there]
    if len(values) == 0:
        return {"low": np.nan, "median": np.nan, "high": np.nan, "inside": False, "probability":
                np.nan, "bias": np.nan, "runs": 0}
    low, median, high = (weighted_quantile(values, weights, s) for s in (0.1, 0.5, 0.9))
    within = (values >= one["low"]) & (values <= one["high"])
    probability = float(np.sum(weights[within]) / np.sum(weights))
    if np.isfinite(one["low"]) and np.isfinite(one["high"]):
        inside = low <= one["high"] and high >= one["low"]
    else:
        inside = probability >= 0.1
    nearest = float(np.clip(median, one["low"], one["high"]))
    return {"low": low, "median": median, "high": high, "inside": bool(inside),
            "probability": probability, "bias": median - nearest, "runs": len(values)}


def parameter_values(runner, parameters, correlated_scores):
    """Parameters in their own units from correlated normal scores z (draws x parameters).

    The points of the priors are asked of the program's own prior_quantile, at a table of shares,
    and interpolated in the score.
    """
    grid = np.linspace(-4.5, 4.5, 181)
    columns = {f"share:{row['name']}": [f"{s:.12g}" for s in norm.cdf(grid)]
               for row in parameters}
    columns["run.days"] = ["1"] * len(grid)
    numbers = runner.run("t11_garden", columns, [f"parameter:{row['name']}" for row in parameters])
    values = np.empty_like(correlated_scores)
    for j, row in enumerate(parameters):
        values[:, j] = np.interp(correlated_scores[:, j], grid,
                                 numbers[f"parameter:{row['name']}"])
    return values
