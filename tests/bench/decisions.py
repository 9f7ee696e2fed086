"""Do the rulings hold, does the list help? ``python -m tests.bench.decisions``. Asserts nothing.

First: simulated surveys (:mod:`tests.truth.surveys`), sparse to dense, with non-detects, saturated
readings and an error of 10 to 20 %, are ruled on as ``hgmap map`` does, and held against the known
air. Targets: less than 5 % of the ground that is truly above the level is called clear.

Then: how many further readings it takes to halve the ground in doubt, from the list of places to
measure again (as the first map ranks it; where it ends, the next map's), from as many places at
random, and from a regular grid of as many (a fresh one for every number). All are read with an
instrument that sees a tenth of the level, as the list asks for. Target: the list needs 1.5 times
fewer than either.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hgmap.floor_map import FloorMap, MapOptions, map_floor
from tests.truth.buildings import ARM_M, make_building
from tests.truth.scores import number, table
from tests.truth.surveys import BAND, ROUND, Survey, make_survey, zone_of

Floats = NDArray[np.float64]
Places = Callable[[int], Floats]
"""The first so many further places of a way to choose them; fewer where it has no more."""

COUNTS: Final = (10, 20, 40, 100)
SURVEYS: Final = 40
HALLS: Final = 12
MOST_FURTHER: Final = 60
GROWTH: Final = 1.2
"""Each try has a reading or this factor more than the last one."""


class Ruled(NamedTuple):
    """One survey: its group, and shares of the floor by truth and by ruling."""

    group: str
    above: float
    false_clear: float
    below: float
    false_remediate: float
    doubt: float
    no_data: float


def rule_on(survey: Survey) -> FloorMap:
    """Map the survey as the command line does."""
    return map_floor(
        survey.site, survey.building.floor, ROUND, BAND.name, survey.level, MapOptions()
    )


def ruled(seed: int, n: int, hall: bool) -> Ruled:
    """Make survey ``seed`` of n readings, rule on it, and compare."""
    survey = make_survey(make_building(seed, hall=hall), n, seed=0)
    zone = zone_of(rule_on(survey).zones, survey.building.targets)
    above = survey.above
    return Ruled(
        "with a large hall" if hall else f"{n} readings",
        float(above.mean()),
        float((above & (zone == "clear")).mean()),
        float((~above).mean()),
        float((~above & (zone == "remediate")).mean()),
        float((zone == "resample").mean()),
        float((zone == "no data").mean()),
    )


def rulings_table(found: Iterable[Ruled]) -> str:
    """Return a row for each group, in the order they come, and one for all."""
    found = list(found)
    groups = {
        name: [one for one in found if one.group == name] for name in (f.group for f in found)
    }
    rows = []
    for name, group in {**groups, "all": found}.items():
        above, false_clear, below, false_remediate, doubt, no_data = (
            np.array([one[k] for one in group]) for k in range(1, 7)
        )
        each = false_clear / np.maximum(above, 1e-12)
        rows.append([
            name,
            str(len(group)),
            _percent(above.mean()),
            _percent(false_clear.sum() / above.sum(), ".2f"),
            _percent(each.max()),
            str(int((each > 0.05).sum())),
            _percent(false_remediate.sum() / below.sum(), ".2f"),
            _percent(doubt.mean()),
            _percent(no_data.mean()),
        ])  # fmt: skip
    return table(
        ("", "surveys", "above %", "above, clear %", "worst %", "over 5 %",
         "below, remediate %", "doubt %", "no data %"),
        rows,
    )  # fmt: skip


class Further(NamedTuple):
    """How many further readings halve the doubt of one survey, by each way of choosing.

    ``printed`` is the ground to resample as it is taped off, ``ruled`` as the contours run: a
    taped zone has a rim of doubt that no reading can take away.
    """

    printed: tuple[float, ...]
    ruled: tuple[float, ...]


def halving(seed: int, n: int) -> Further | None:
    """Count further readings from our list, from random places and from a grid.

    None where less than a twentieth of the floor is in doubt. A way that does not get there
    within ``MOST_FURTHER``, or before its places end, counts as that many.
    """
    survey = make_survey(make_building(seed), n, seed=1, cell_m=0.4)
    first = rule_on(survey)
    if first.zones.area_m2("resample") < 0.05 * survey.building.floor.area_m2:
        return None
    ways: tuple[Places, ...] = (
        _Lists(survey, first),
        partial(_at_random, survey, seed),
        partial(_on_a_grid, survey),
    )
    needed = [_needed(survey, way, doubts(first)) for way in ways]
    printed, ruled = zip(*needed, strict=True)
    return Further(printed, ruled)


class _Lists:
    """Our list; once all of it is read the floor is mapped again, and the new list goes on."""

    def __init__(self, survey: Survey, first: FloorMap) -> None:
        self.survey = survey
        self.places = _listed(first)

    def __call__(self, count: int) -> Floats:
        while len(self.places) < count:
            more = _listed(rule_on(self.survey.with_readings(self.places, seed=0)))
            if not len(more):
                break
            self.places = np.concatenate([self.places, more])
        return self.places[:count]


def _listed(made: FloorMap) -> Floats:
    return np.array([(one.x, one.y) for one in made.resample.places]).reshape(-1, 2)


def doubts(made: FloorMap) -> tuple[float, float]:
    """Return the ground to resample (m²) as printed, and as the contours run."""
    ruled = made.ruled or made.zones
    return made.zones.area_m2("resample"), ruled.area_m2("resample")


def _needed(survey: Survey, way: Places, start_m2: tuple[float, float]) -> list[float]:
    needed: list[float] = [MOST_FURTHER, MOST_FURTHER]
    count = 1
    while count < MOST_FURTHER and MOST_FURTHER in needed:
        places = way(count)
        if len(places) < count:
            break
        left = doubts(rule_on(survey.with_readings(places, seed=count)))
        for k in (0, 1):
            if left[k] <= 0.5 * start_m2[k]:
                needed[k] = min(needed[k], count)
        count = max(count + 1, int(count * GROWTH))
    return needed


def _at_random(survey: Survey, seed: int, count: int) -> Floats:
    """Return places anywhere on the floor, by area."""
    random = np.random.default_rng([seed, 3])
    free = _off_the_walls(survey)
    return free[random.permutation(len(free))[:count]]


def _on_a_grid(survey: Survey, count: int) -> Floats:
    """Return a square grid of that many places: the widest spacing that has them."""
    west, south, east, north = np.array(
        [room.polygon.bounds for room in survey.building.floor.rooms]
    ).T
    box = west.min(), south.min(), east.max(), north.max()
    free = _off_the_walls(survey)
    spacing = math.sqrt(survey.building.floor.area_m2 / count)
    while True:
        x, y = (
            np.arange(low + 0.5 * spacing, high, spacing)
            for low, high in ((box[0], box[2]), (box[1], box[3]))
        )
        grid = np.column_stack([one.ravel() for one in np.meshgrid(x, y)])
        # a point in a wall is read at the nearest place where one can stand
        near = np.unique([int(np.argmin(np.sum((free - at) ** 2, axis=1))) for at in grid])
        if len(near) >= count:
            chosen = np.random.default_rng(count).permutation(near)[:count]
            return np.asarray(free[chosen])
        spacing *= 0.97


def _off_the_walls(survey: Survey) -> Floats:
    building = survey.building
    bounds = np.array([room.polygon.bounds for room in building.floor.rooms])
    west, south, east, north = bounds[building.target_room].T
    x, y = building.targets.T
    off = (
        (x > west + ARM_M) & (x < east - ARM_M) & (y > south + ARM_M) & (y < north - ARM_M)
    )  # fmt: skip
    return np.asarray(building.targets[off])


def halving_table(found: Iterable[Further | None]) -> str:
    """Return a row for each way of choosing and each way to count the doubt."""
    there = [one for one in found if one is not None]
    rows = []
    for what in ("printed", "ruled"):
        every = np.array([getattr(one, what) for one in there])
        some = every[(every < MOST_FURTHER).any(axis=1)]
        for k, name in enumerate(("the list", "at random", "regular grid")):
            rows.append([
                f"{name}, {what}",
                str(len(every)),
                number(float(every[:, k].mean()), ".1f"),
                number(float(np.median(every[:, k])), ".0f"),
                str(int((every[:, k] >= MOST_FURTHER).sum())),
                number(float(every[:, k].mean() / every[:, 0].mean()), ".2f"),
                number(float(some[:, k].mean()), ".1f"),
                number(float(some[:, k].mean() / some[:, 0].mean()), ".2f"),
            ])  # fmt: skip
    return table(
        ("further readings", "surveys", "mean", "median", "never", "to the list",
         "mean where any does", "to the list"),
        rows,
    )  # fmt: skip


def _percent(value: float, form: str = ".1f") -> str:
    return number(100.0 * float(value), form)


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--surveys", type=int, default=SURVEYS, help="of each number of readings")
    parser.add_argument("--halls", type=int, default=HALLS, help="of each number, with a hall")
    parser.add_argument("--counts", type=int, nargs="+", default=COUNTS)
    parser.add_argument("--halving", type=int, default=8, help="surveys of 10, 20, 40 readings")
    parser.add_argument("--only-halving", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    chosen = parser.parse_args()
    with ProcessPoolExecutor(chosen.processes) as pool:
        cases = [
            (seed, n, hall)
            for hall, surveys in ((False, chosen.surveys), (True, chosen.halls))
            for n in chosen.counts
            for seed in range(surveys)
        ]
        if not chosen.only_halving:
            print(rulings_table(pool.map(ruled, *zip(*cases, strict=True))), flush=True)
        further = [(100 + seed, n) for n in (10, 20, 40) for seed in range(chosen.halving)]
        print()
        print(halving_table(pool.map(halving, *zip(*further, strict=True))))


if __name__ == "__main__":
    main()
