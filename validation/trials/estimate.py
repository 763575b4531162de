"""Estimates the uncertain parameters from the trials of the first group, by one command from a seed.

    /usr/bin/python3 validation/trials/estimate.py --build build/release

Writes estimate.toml beside this file (committed; run.py scores with it) and the draws with their
log-likelihoods into the build folder. The method, fixed before the second group was run:

1. Prior: the program's own, in normal scores u (see trials.py). Assumed inputs and weather of every
   trial are drawn with every set of parameters and are never estimated.
2. Likelihood: trials.log_likelihood of every observation of the first group, with the errors stated
   in trials.toml and an outlier share of 0.05. Observations of one row in several cases (turned and
   static, two mixes) share the row: each counts 1/(their number). The likelihood of all goes in
   with the power 0.5: observations of one trial are not independent, since they have the pile, the
   weather and the model's own faults in common (a power posterior, Miller & Dunson 2019, J. Am.
   Stat. Assoc. 114:1113-1125, memory). The power is judgement. It was set after a first try with
   power 1, which left an effective sample size of 8 of 384 draws, and before the second group was
   run.
3. Adaptive multiple importance sampling (Cornuet, Marin, Mira & Robert 2012, Scand. J. Stat. 39:
   798-812, memory): a first stage from the prior, then stages from a normal distribution about the
   weighted draws so far. All draws of all stages are weighted by prior times likelihood over the
   mixture of what they were drawn from. The proposal is fitted to weights whose likelihood is
   tempered until the effective sample size is at least a quarter of the draws but at least 40.
4. Only parameters that the data inform are moved: those whose score correlates with the
   log-likelihood over all draws so far (Spearman's, above 2.5/sqrt(draws) in size) or whose weighted
   mean lies 2.5/sqrt(effective sample size) from 0. All others keep their prior. Spreads of moved
   ones are the weighted ones, at most the prior's, at least 0.3; correlations are shrunk by
   ess/(ess + 50).
5. The estimate: mean, spread and correlations of the normal scores of the moved parameters under
   the final weights (likelihood with the power of 2, not tempered further). A draw from the estimate is normal in the scores, so
   it cannot leave a parameter's published range.
6. A check of overconfidence: each trial of the group is left out in turn, by the same draws
   weighted without its observations, and predicted.
"""

import argparse
import pathlib

import numpy as np
from scipy.stats import norm, spearmanr

import trials

OUTLIER = 0.05
POWER = 0.5
SIGNIFICANT = 2.5
LEAST_ESS_SHARE, LEAST_ESS = 0.25, 40
LEAST_SPREAD = 0.3
SHRINK = 50.0


def effective_size(weights):
    """1/sum of squares of the normalised weights."""
    return 1.0 / np.sum((weights / np.sum(weights)) ** 2)


def log_normal(scores, proposal):
    """ln density of u (draws x parameters) over that of the prior, under a proposal."""
    moved = proposal["moved"]
    if len(moved) == 0:
        return np.zeros(len(scores))
    part = scores[:, moved]
    root = np.linalg.cholesky(proposal["covariance"])
    away = np.linalg.solve(root, (part - proposal["mean"]).T)
    return (-0.5 * np.sum(away**2, axis=0) - np.sum(np.log(np.diag(root)))
            + 0.5 * np.sum(part**2, axis=1))


def weights_of(scores, log_like, stages):
    """Importance weights of all draws: likelihood over the mixture of the stages' proposals."""
    mixture = np.array([np.log(stage["draws"] / len(scores)) + log_normal(scores, stage)
                        for stage in stages])
    log_weight = log_like - np.logaddexp.reduce(mixture, axis=0)
    weights = np.exp(log_weight - np.max(log_weight))
    return weights / np.sum(weights)


def tempered(scores, log_like, stages, least):
    """Weights with the largest power of the likelihood that leaves an effective size of `least`."""
    if effective_size(weights_of(scores, log_like, stages)) >= least:
        return 1.0, weights_of(scores, log_like, stages)
    low, high = 0.0, 1.0
    for _ in range(40):
        power = 0.5 * (low + high)
        enough = effective_size(weights_of(scores, power * log_like, stages)) >= least
        low, high = (power, high) if enough else (low, power)
    return low, weights_of(scores, low * log_like, stages)


def informed(scores, log_like, weights):
    """Indices of the parameters that the data inform, see 4."""
    size = effective_size(weights)
    mean = weights @ scores
    found = []
    for j in range(scores.shape[1]):
        together = abs(spearmanr(scores[:, j], log_like).statistic)
        if together > SIGNIFICANT / np.sqrt(len(scores)) or \
                abs(mean[j]) > SIGNIFICANT / np.sqrt(size):
            found.append(j)
    return np.array(found, dtype=int)


def fitted(scores, weights, moved):
    """Mean and covariance of the moved scores, see 4."""
    part = scores[:, moved]
    size = effective_size(weights)
    mean = weights @ part
    away = part - mean
    covariance = (away * weights[:, None]).T @ away / (1 - 1 / size)
    spread = np.clip(np.sqrt(np.diag(covariance)), LEAST_SPREAD, 1.0)
    correlation = covariance / np.sqrt(np.outer(np.diag(covariance), np.diag(covariance)))
    correlation = correlation * size / (size + SHRINK)
    np.fill_diagonal(correlation, 1.0)
    return mean, correlation * np.outer(spread, spread)


def observation_share(spec, chosen):
    """1/(number of observations that share a row of a file), see 2."""
    rows = [(one["trial"], one["row"]) for one in chosen]
    return {one["id"]: 1.0 / rows.count((one["trial"], one["row"])) for one in chosen}


def likelihoods(spec, computed):
    """ln likelihood by trial over the draws."""
    chosen = [one for one in spec["observation"] if one["id"] in computed]
    share = observation_share(spec, chosen)
    by_trial = {}
    for one in chosen:
        part = POWER * share[one["id"]] * trials.log_likelihood(one, computed[one["id"]], OUTLIER)
        by_trial[one["trial"]] = by_trial.get(one["trial"], 0.0) + part
    return by_trial


def sample(spec, runner, parameters, first, later, stage_count, seed):
    """All draws: scores, computed observations, log-likelihood by trial, and the stages."""
    root = trials.correlation_root(parameters)
    rng = np.random.default_rng([seed, 99])
    scores = np.empty((0, len(parameters)))
    computed, stages = {}, []
    proposal = {"moved": np.array([], dtype=int)}
    for stage in range(stage_count + 1):
        draws = first if stage == 0 else later
        fresh = trials.prior_scores(parameters, draws, seed + 1000 * stage)
        if len(proposal["moved"]):
            fresh[:, proposal["moved"]] = rng.multivariate_normal(
                proposal["mean"], proposal["covariance"], draws)
        columns = trials.share_columns(parameters, root, fresh)
        numbers = trials.compute(spec, runner, columns, spec["estimated_from"], draws,
                                 seed + 1000 * stage)
        scores = np.vstack([scores, fresh])
        computed = {name: np.append(computed.get(name, []), values)
                    for name, values in numbers.items()}
        stages.append({**proposal, "draws": draws})
        by_trial = likelihoods(spec, computed)
        log_like = sum(by_trial.values())
        least = max(LEAST_ESS, LEAST_ESS_SHARE * len(scores))
        power, weights = tempered(scores, log_like, stages, least)
        moved = informed(scores, log_like, weights)
        mean, covariance = fitted(scores, weights, moved)
        proposal = {"moved": moved, "mean": mean, "covariance": covariance}
        full = weights_of(scores, log_like, stages)
        print(f"stage {stage}: {len(scores)} draws, power {power:.3f}, effective size "
              f"{effective_size(weights):.0f} tempered, {effective_size(full):.0f} in full, "
              f"mean log-likelihood of the stage {np.mean(log_like[-draws:]):.2f}, "
              f"best {np.max(log_like):.2f}, moved {len(moved)}", flush=True)
    return scores, computed, by_trial, stages


def left_out(spec, computed, by_trial, scores, stages):
    """Each trial predicted by draws weighted without it: share of its observations inside."""
    lines = []
    for trial in spec["estimated_from"]:
        log_like = sum(part for name, part in by_trial.items() if name != trial)
        weights = weights_of(scores, log_like, stages)
        own = [one for one in spec["observation"]
               if one["trial"] == trial and one["id"] in computed]
        inside = sum(trials.judge(one, computed[one["id"]], weights)["inside"] for one in own)
        lines.append({"trial": trial, "observations": len(own), "inside": int(inside),
                      "effective_size": round(float(effective_size(weights)), 1)})
    return lines


def write_estimate(path, options, parameters, scores, weights, moved, checks, failed):
    """estimate.toml."""
    root = trials.correlation_root(parameters)
    mean, covariance = fitted(scores, weights, moved)
    spread = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(spread, spread)
    values = trials.parameter_values(options.runner, parameters, scores @ root.T)
    prior = trials.parameter_values(
        options.runner, parameters,
        trials.prior_scores(parameters, 1024, 7) @ root.T)
    lines = [
        "# Written by estimate.py: do not edit. Estimated from the trials of the first group alone.",
        f"seed = {options.seed}",
        f"draws = {len(scores)}",
        f"effective_sample_size = {effective_size(weights):.1f}",
        "",
        "# Trials of the group predicted from the others: observations inside the 80 % interval.",
    ]
    for one in checks:
        lines += ["[[left_out]]", f"trial = \"{one['trial']}\"",
                  f"observations = {one['observations']}", f"inside = {one['inside']}",
                  f"effective_sample_size = {one['effective_size']}", ""]
    lines += ["# score_mean and score_spread: of the normal score u, 0 and 1 under the prior.",
              "# 10, 50 and 90 % points in the parameter's own unit."]
    for j, row in enumerate(parameters):
        is_moved = j in moved
        place = list(moved).index(j) if is_moved else None
        points = [trials.weighted_quantile(values[:, j], weights, s) for s in (0.1, 0.5, 0.9)]
        before = [float(np.quantile(prior[:, j], s)) for s in (0.1, 0.5, 0.9)]
        lines += ["[[parameter]]", f"name = \"{row['name']}\"", f"unit = \"{row['unit']}\"",
                  f"informed = {'true' if is_moved else 'false'}",
                  f"score_mean = {mean[place] if is_moved else 0.0:.4f}",
                  f"score_spread = {spread[place] if is_moved else 1.0:.4f}",
                  "prior = [" + ", ".join(f"{v:.4g}" for v in before) + "]",
                  "posterior = [" + ", ".join(f"{v:.4g}" for v in points) + "]", ""]
    lines.append("# Correlations of the scores beyond 0.15.")
    for a in range(len(moved)):
        for b in range(a):
            if abs(correlation[a, b]) > 0.15:
                lines += ["[[correlation]]",
                          f"of = [\"{parameters[moved[b]]['name']}\", "
                          f"\"{parameters[moved[a]]['name']}\"]",
                          f"coefficient = {correlation[a, b]:.3f}", ""]
    path.write_text("\n".join(lines) + "\n")


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--build", default="build/release")
    parser.add_argument("--seed", type=int, default=2026)
    parser.add_argument("--first", type=int, default=256, help="draws from the prior")
    parser.add_argument("--later", type=int, default=96, help="draws of each later stage")
    parser.add_argument("--stages", type=int, default=5, help="later stages")
    parser.add_argument("--out", default=str(trials.HERE / "estimate.toml"))
    options = parser.parse_args()
    spec = trials.load()
    runner = options.runner = trials.Runner(options.build)
    parameters = trials.parameter_table(runner.program)
    scores, computed, by_trial, stages = sample(
        spec, runner, parameters, options.first, options.later, options.stages, options.seed)
    log_like = sum(by_trial.values())
    weights = weights_of(scores, log_like, stages)
    moved = informed(scores, log_like, weights)
    checks = left_out(spec, computed, by_trial, scores, stages)
    write_estimate(pathlib.Path(options.out), options, parameters, scores, weights, moved, checks,
                   runner.failed)
    np.savez(runner.store.parent / "trials_draws.npz", scores=scores, weights=weights,
             log_likelihood=log_like, names=[row["name"] for row in parameters],
             first=options.first,
             **{f"computed_{name}": values for name, values in computed.items()})
    print(f"effective sample size {effective_size(weights):.0f}; informed: "
          + ", ".join(parameters[j]["name"] for j in moved))
    for one in checks:
        print(one)


if __name__ == "__main__":
    main()
