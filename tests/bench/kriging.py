"""Time kriging and IDW against PyKrige and a numpy loop: ``python -m tests.bench.kriging``.

Asserts nothing. Everything is timed in this one process, theirs and ours in turn, on the same
invented readings, grid and variogram; medians and their ratios are printed, and the largest
difference of the estimates. ``--whole`` adds 5,000 readings over 1e7 cells, run whole, and
``--quick`` leaves out what takes minutes. Peak memory is that of a process which does nothing else.

Targets: 500 readings, 1e5 cells: at least 8 times the vectorized back end and 5 times the C one;
500, 1e6: at least 12 times the C one, within 400 MB; 5,000, 1e7: within 300 s and 2 GiB; IDW at
500, 1e6: at least 30 times the loop. Those for the way through the doors: ``tests.bench.walls``.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pykrige.ok import OrdinaryKriging
from scipy.spatial.distance import cdist

from hgmap.field.idw import idw_grid
from hgmap.field.kriging import krige_grid
from hgmap.field.models import MODELS, Model
from tests.bench.timing import RUNS, time_in_turn

Floats = NDArray[np.float64]
ROOT = Path(__file__).parents[2]
SIDE_M = 100.0
RANGE_M = 40.0


def invent(readings: int, cells: int) -> tuple[Floats, Floats, Floats]:
    """Return invented places and values on a square floor, and the centres of its columns."""
    random = np.random.default_rng(20260302)
    xy = random.uniform(0, SIDE_M, (readings, 2))
    values = 5 + np.sin(xy[:, 0] / 15) + 0.01 * xy[:, 1] + random.normal(0, 0.3, readings)
    side = round(cells**0.5)
    return xy, values, (np.arange(side) + 0.5) * SIDE_M / side


def ours(xy: Floats, values: Floats, axis: Floats, model: Model) -> Any:
    """Return our mean and variance."""
    return krige_grid(xy, values, axis, axis, model=model, nugget=0.1, psill=1.0, range_=RANGE_M)


def theirs(xy: Floats, values: Floats, axis: Floats, model: Model, backend: str) -> Any:
    """Return PyKrige's mean and variance."""
    # its Gaussian range is another (see the docstring of ``krige``)
    range_ = RANGE_M * 7 / (4 * 3**0.5) if model == "gaussian" else RANGE_M
    system = OrdinaryKriging(
        *xy.T,
        values,
        variogram_model=model,
        variogram_parameters={"psill": 1.0, "range": range_, "nugget": 0.1},
    )
    mean, variance = system.execute("grid", axis, axis, backend=backend)
    return np.asarray(mean).ravel(), np.asarray(variance).ravel()


def blocked_loop(xy: Floats, values: Floats, axis: Floats, power: float) -> Floats:
    """Return IDW as it is usually written: distances, a power, two sums, a block at a time."""
    places = np.column_stack([np.tile(axis, len(axis)), np.repeat(axis, len(axis))])
    estimate = np.empty(len(places))
    for start in range(0, len(places), 2000):
        block = slice(start, start + 2000)
        weight = cdist(places[block], xy) ** -power
        estimate[block] = weight @ values / weight.sum(axis=1)
    return estimate


def difference(one: Any, other: Any) -> str:
    """Return the largest differences of means and of variances."""
    return (
        f"largest difference {np.abs(one[0] - other[0]).max():.0e} (mean), "
        f"{np.abs(one[1] - other[1]).max():.0e} (variance)"
    )


def peak_mib(readings: int, cells: int) -> tuple[float, float]:
    """Return time (s) and peak memory (MiB) of a process that does our kriging alone."""
    start = time.perf_counter()
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.bench.kriging", "--alone", str(readings), str(cells)],
        cwd=ROOT,
    )
    _, _, usage = os.wait4(child.pid, 0)
    return time.perf_counter() - start, usage.ru_maxrss / 1024


def compare_kriging(cells: int, model: Model, backends: tuple[str, ...]) -> None:
    """Print a kriging row: 500 readings, and PyKrige's back ends beside ours."""
    floor = invent(500, cells)
    works = [partial(theirs, *floor, model, backend) for backend in backends]
    (own, *other), (mine, *right) = time_in_turn(RUNS, partial(ours, *floor, model), *works)
    rows = ", ".join(
        f"{backend} {taken:.2f} s ({taken / own:.1f}x)"
        for backend, taken in zip(backends, other, strict=True)
    )
    print(
        f"500 readings, {cells:.0e} cells, {model}: {own:.3f} s; PyKrige {rows}; "
        f"{difference(mine, right[-1])}",
        flush=True,
    )


def compare_idw(power: float) -> None:
    """Print an IDW row."""
    xy, values, axis = invent(500, 1_000_000)
    (own, loop), (mine, other) = time_in_turn(
        RUNS,
        partial(idw_grid, xy, values, axis, axis, power=power),
        partial(blocked_loop, xy, values, axis, power),
    )
    print(
        f"IDW, power {power:g}, 500 readings, 1e6 cells: {own:.3f} s; blocked numpy loop "
        f"{loop:.2f} s ({loop / own:.1f}x); largest relative difference "
        f"{np.abs(mine / other - 1).max():.0e}",
        flush=True,
    )


def run_alone(readings: int, cells: int) -> None:
    """Print time and peak memory of a process that does our kriging and nothing else."""
    taken, peak = peak_mib(readings, cells)
    print(
        f"{readings} readings, {cells:.0e} cells, exponential, on its own: {taken:.1f} s, "
        f"{peak:.0f} MiB peak",
        flush=True,
    )


def main() -> None:
    """Print the figures."""
    words = argparse.ArgumentParser()
    words.add_argument("--quick", action="store_true")
    words.add_argument("--whole", action="store_true")
    words.add_argument("--alone", nargs=2, type=int)
    given = words.parse_args()
    if given.alone:
        ours(*invent(*given.alone), "exponential")
        return
    # first, while this process is small: a child's peak counts what it was forked from, and its own
    # imports, so what the way through the doors needs is imported later
    run_alone(500, 1_000_000)
    if given.whole:
        run_alone(5000, 10_000_000)
    for power in (2.0, 4.0, 3.0):
        compare_idw(power)
    for model in MODELS:
        compare_kriging(100_000, model, ("vectorized", "C"))
    from tests.bench.walls import compare_walls

    compare_walls(quick=given.quick)
    if not given.quick:
        compare_kriging(1_000_000, "exponential", ("C",))


if __name__ == "__main__":
    main()
