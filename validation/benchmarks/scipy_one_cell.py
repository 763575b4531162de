"""SciPy on the one-cell pile, with the program's compiled rates called through ctypes.

Runs inside heapcast_rivals (`heapcast_rivals python scipy_one_cell.py ...`), which exports the
functions used here (python_bridge.cpp). A right-hand side written in Python would be slower: this
is the stricter rival. Prints one line of JSON.
"""

import argparse
import ctypes
import json
import pathlib
import time

import numpy as np
from scipy.integrate import odeint, solve_ivp

DOUBLES = ctypes.POINTER(ctypes.c_double)
ADVANCE = ctypes.CFUNCTYPE(None, DOUBLES, ctypes.c_double, ctypes.c_double)
HOUR_S = 3600.0
UNCONTROLLED = 1e30  # scale of totals, which feed nothing back, as for the other rivals


def peak_MB():
    """Largest memory of this process so far, the solver's and Python's."""
    status = pathlib.Path("/proc/self/status").read_text(encoding="ascii")
    return float(status.split("VmHWM:")[1].split()[0]) / 1024.0


def library():
    """The functions of the program that this runs in."""
    lib = ctypes.CDLL(None)
    lib.heapcast_new.restype = ctypes.c_void_p
    lib.heapcast_new.argtypes = [ctypes.c_double, ctypes.c_char_p, ctypes.c_int]
    lib.heapcast_size.argtypes = [ctypes.c_void_p]
    lib.heapcast_rates.argtypes = [ctypes.c_void_p, ctypes.c_double, ctypes.c_void_p,
                                   ctypes.c_void_p]
    lib.heapcast_scale.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_void_p]
    lib.heapcast_jumps.argtypes = [ctypes.c_void_p, ctypes.c_double]
    lib.heapcast_hour.argtypes = [ctypes.c_void_p, ADVANCE, ctypes.c_void_p]
    return lib


class Solver:
    """Takes the hours of a run. Integrates ahead to where rain sets in or stops, at most a day,
    and hands out the hours of that; starts anew when an event changed the state."""

    def __init__(self, lib, run, method, factor):
        self.lib, self.run, self.method, self.factor = lib, run, method, factor
        self.size = lib.heapcast_size(run)
        self.slope = np.zeros(self.size)
        self.scale = np.ones(self.size)
        self.hours = {}  # end of hour, s: state
        self.last = None
        self.calls = 0
        self.seconds = 0.0

    def rates(self, t_s, z):
        """d z/dt, z in units of its error scale."""
        self.calls += 1
        y = z * self.scale
        bad = self.lib.heapcast_rates(self.run, t_s, y.ctypes.data, self.slope.ctypes.data)
        return np.full(self.size, np.nan) if bad else self.slope / self.scale

    def integrate(self, y, t_s):
        """Fills `hours` from y at t on."""
        self.lib.heapcast_scale(self.run, y.ctypes.data, self.scale.ctypes.data)
        self.scale[np.isinf(self.scale)] = UNCONTROLLED
        ends = [t_s + HOUR_S]
        while len(ends) < 24 and not self.lib.heapcast_jumps(self.run, ends[-1]):
            ends.append(ends[-1] + HOUR_S)
        z = y / self.scale
        if self.method == "odeint":
            states = odeint(self.rates, z, [t_s] + ends, tfirst=True, rtol=0.0, atol=self.factor,
                            tcrit=[ends[-1]], mxstep=100000)[1:]
        else:
            states = solve_ivp(self.rates, (t_s, ends[-1]), z, method=self.method, rtol=1e-10,
                               atol=self.factor, t_eval=ends).y.T
        self.hours = {end: state * self.scale for end, state in zip(ends, states)}

    def advance(self, pointer, t_s, t_end_s):
        began = time.process_time()
        y = np.ctypeslib.as_array(pointer, (self.size,))
        if t_end_s not in self.hours or self.last is None or not np.array_equal(y, self.last):
            self.integrate(y.copy(), t_s)
        y[:] = self.hours[t_end_s]
        self.last = y.copy()
        self.seconds += time.process_time() - began


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--method", default="odeint", help="odeint, LSODA or BDF")
    parser.add_argument("--equations", default="full")
    parser.add_argument("--days", type=float, default=60)
    parser.add_argument("--factor", type=float, default=1.0)
    parser.add_argument("--reference", required=True)
    parser.add_argument("--most-error", type=float, default=float("inf"))
    given = parser.parse_args()

    lib = library()
    run = lib.heapcast_new(given.days, b"one_cell", int(given.equations == "full"))
    quantities = lib.heapcast_quantities()
    exact = np.fromfile(given.reference).reshape(-1, quantities)
    span = exact.max(axis=0) - exact.min(axis=0)
    span[span <= 1e-10] = np.inf  # rounding, see course.cpp
    solver = Solver(lib, run, given.method, given.factor)
    advance = ADVANCE(solver.advance)
    observed = np.zeros(quantities)
    error = 0.0
    end = "done"
    hours = round(24 * given.days)
    for hour in range(hours):
        try:
            lib.heapcast_hour(run, advance, observed.ctypes.data)
        except ArithmeticError as fault:
            end = f"failed: {fault}"
            break
        share = np.abs(observed - exact[hour]) / span
        share[0] = 0.0  # oxygen is shown and not judged, as for the others
        error = max(error, share.max()) if np.isfinite(share).all() else float("inf")
        if not error <= given.most_error:
            end = "too inaccurate"
            break
    print(json.dumps({
        "solver": f"scipy-{given.method}", "equations": given.equations, "mesh": "one_cell",
        "cells": 1, "days": given.days, "factor": given.factor, "end": end, "hours": hour + 1,
        "ms": 1e3 * solver.seconds, "calls": solver.calls, "error": error,
        "ns_per_cell_and_call": 1e9 * solver.seconds / max(solver.calls, 1),
        "peak_MB": peak_MB()}), flush=True)


if __name__ == "__main__":
    main()
