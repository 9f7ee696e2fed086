"""Score maps of simulated buildings: ``python -m tests.bench.truth``. Asserts nothing.

Each building's air is known everywhere (:mod:`tests.truth.buildings`); each method gets the same
readings, with an error of 10 %, and is scored on 0.2 m cells of the whole floor, log scale.
Targets: map rmse of wall-aware kriging at most a quarter of straight kriging's, its 95 % interval
covering 92 to 98 %.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np

from tests.truth.buildings import Building, make_building, take_readings
from tests.truth.methods import (
    Method,
    doors_idw,
    doors_kriging,
    room_averages,
    straight_idw,
    straight_kriging,
)
from tests.truth.scores import Score, number, score, table

NOISE_SD: Final = 0.1
COUNTS: Final = (10, 20, 40, 100)
REFERENCE: Final = "straight kriging"

METHODS: Final[dict[str, Method]] = {
    REFERENCE: straight_kriging(NOISE_SD),
    "kriging through doors": doors_kriging(NOISE_SD),
    "IDW through doors p=2": doors_idw(2.0),
    "straight IDW p=2": straight_idw(2.0),
    "room averages": room_averages(),
}
"""What is scored. Add a method here."""


class Result(NamedTuple):
    """One method on one building with one set of readings."""

    map: Score
    leave_one_out: float
    seconds: float


def run_one(method: Method, building: Building, n: int) -> Result:
    """Score one method on n readings of a building."""
    readings = take_readings(building, n, seed=0, noise_sd=NOISE_SD)
    targets, truth = building.targets, building.truth
    start = time.perf_counter()
    mean, sd = method.estimate(building.floor, readings.xy, readings.values, targets)
    seconds = time.perf_counter() - start
    left_out = np.nan
    if method.leave_one_out is not None:
        errors = method.leave_one_out(building.floor, readings.xy, readings.values)
        left_out = float(np.sqrt(np.nanmean(errors**2)))
    return Result(score(mean, sd, truth), left_out, seconds)


def summary(n: int, results: Mapping[str, Sequence[Result]]) -> list[list[str]]:
    """Return a row per method: means over the buildings."""
    rows = []
    for name, ours in results.items():
        rmse = np.array([one.map.rmse for one in ours])
        ratio = np.nan
        if REFERENCE in results:
            reference = np.array([one.map.rmse for one in results[REFERENCE]])
            ratio = float(np.nanmean(rmse) / np.nanmean(reference))
        rows.append(
            [
                name,
                str(n),
                number(float(np.nanmean(rmse))),
                number(float(np.nanmax(rmse))),
                number(ratio, ".2f"),
                number(float(np.mean([one.leave_one_out for one in ours]))),
                number(100 * float(np.mean([one.map.coverage for one in ours])), ".1f"),
                number(100 * float(np.mean([one.map.no_data for one in ours])), ".1f"),
                number(float(np.median([one.seconds for one in ours])), ".2f"),
            ]
        )
    return rows


HEADERS: Final = (
    "method", "n", "map rmse", "worst", "ratio", "left out", "cover %", "no data %", "s",
)  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--buildings", type=int, default=20)
    parser.add_argument("--counts", type=int, nargs="+", default=COUNTS)
    parser.add_argument("--methods", nargs="+", choices=tuple(METHODS), default=tuple(METHODS))
    chosen = parser.parse_args()
    buildings = [make_building(seed) for seed in range(chosen.buildings)]
    sd = float(np.mean([building.truth.std() for building in buildings]))
    print(
        f"{len(buildings)} simulated buildings, log scale; sd of the truth {sd:.3f}, of a reading "
        f"{NOISE_SD:g}.\nratio: to {REFERENCE}; worst: the worst building; left out: leave-one-out "
        "rmse (reading error included)"
    )
    rows: list[list[str]] = []
    for n in chosen.counts:
        rows += summary(
            n,
            {
                name: [run_one(METHODS[name], building, n) for building in buildings]
                for name in chosen.methods
            },
        )
    print(table(HEADERS, rows))


if __name__ == "__main__":
    main()
