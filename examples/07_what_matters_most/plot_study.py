#!/usr/bin/env python3
"""Opens the results of a study and plots it. Usage: plot_study.py STUDY.h5 [PICTURE.png]

Needs python3-xarray, python3-h5netcdf and python3-matplotlib (Debian's packages). What it shows can
be done with any results file of `heapcast sweep`; change NUMBER to look at another number.
"""

import pathlib
import sys

import matplotlib

matplotlib.use("Agg")  # into a file; leave this line out to see a window

import matplotlib.pyplot as plt
import numpy as np
import xarray as xr

NUMBER = "nitrogen_lost_fraction"  # of a run; `print(study)` lists all of them


def factor_names(study):
    """Names of the factors: the design without the numbers of point and year."""
    return [name for name in study.attrs["design"].split() if name not in ("point", "weather_year")]


def show_table(study, factors):
    """Prints what the study holds and how the number spreads."""
    failed = int((study.run_failure != "").sum())
    print(f"{study.attrs['title']}: {study.sizes['run']} runs, {failed} failed")
    values = study[NUMBER]
    low, mid, high = values.quantile([0.1, 0.5, 0.9]).values  # NaN left out
    print(f"{values.long_name}: median {mid:.3g}, 80 % between {low:.3g} and {high:.3g}")
    for name in factors:
        print(f"  factor {name} [{study[name].attrs.get('units', 'text')}]: {study[name].long_name}")


def plot_factor(axes, study, name):
    """The number against one factor; factors that are texts stand at the places of their values."""
    axes.plot(study[name].values, study[NUMBER].values, ".", alpha=0.4)
    axes.set_xlabel(f"{name} [{study[name].attrs.get('units', '')}]")
    axes.set_ylabel(f"{study[NUMBER].long_name} [{study[NUMBER].units}]")


def plot_curves(axes, study):
    """Core temperature, degC, over the days: median and where 80 % of the runs lie."""
    core = study["core_temperature"]
    low, mid, high = (core.quantile(share, dim="run") for share in (0.1, 0.5, 0.9))
    axes.fill_between(study.day, low, high, alpha=0.3, label="80 % of the runs")
    axes.plot(study.day, mid, label="median")
    axes.set_xlabel("day")
    axes.set_ylabel("core temperature [degC]")
    axes.legend()


def plot_indices(axes, study):
    """Sobol' indices with their 95 % bootstrap intervals: Saltelli et al. 2010, Jansen 1999."""
    place = list(study.number_name.values).index(NUMBER)
    at = np.arange(study.sizes["factor"])
    for offset, kind in ((-0.15, "first"), (0.15, "total")):
        value = study[f"sobol_{kind}"][place]
        low = value - study[f"sobol_{kind}_low"][place]
        high = study[f"sobol_{kind}_high"][place] - value
        axes.errorbar(at + offset, value, yerr=[low.clip(0), high.clip(0)], fmt="o", label=kind)
    axes.set_xticks(at, study.factor_name.values, rotation=20)
    axes.set_ylabel("share of the variance")
    axes.legend()


def main(path, picture):
    # Coordinates are what was varied: select by them, e.g. study.where(study.straw < 100).
    study = xr.open_dataset(path, engine="h5netcdf")
    factors = factor_names(study)
    show_table(study, factors)
    figure, all_axes = plt.subplots(2, 3, figsize=(13, 7), layout="constrained")
    axes = all_axes.flatten()
    for one, name in zip(axes, factors[:4]):
        plot_factor(one, study, name)
    plot_curves(axes[4], study)
    if "sobol_first" in study:
        plot_indices(axes[5], study)
    figure.suptitle(study.attrs["title"])
    figure.savefig(picture)
    print(picture)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    if not pathlib.Path(sys.argv[1]).is_file():
        sys.exit(f"{sys.argv[1]}: is not there; make it with: heapcast sweep study.toml")
    main(sys.argv[1], sys.argv[2] if len(sys.argv) > 2 else "study.png")
