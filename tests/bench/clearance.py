"""How often a rule clears an invented room that it should not: ``python -m tests.bench.clearance``.

The argument is the number of surveys of each room (200). A room is a distribution of its places:
lognormal, with or without a tenth of the places five times higher. The level stands just below what
the rule speaks of, the hardest case: the room's true mean, its true 95th percentile, or its true
maximum (of 200 places: the quantile 0.995). Readings stand at random places. With a share of
non-detects the detection limit is that quantile of the room; where it is above the level nothing is
cleared. Under 5 in 100 is wanted; a cell over it is marked with *. Behind the slash stands how
often a room meets that is far below, a fifth of the level: a rule that never meets is of no use.

The rule that asks the map is not here: it needs a plan. Nor are the conditions of a round, the
errors of the analyser and the laboratory: they only take a *meets* back.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from typing import Final, NamedTuple

import numpy as np

from hgmap.decide.clearance.judge import judge
from hgmap.decide.clearance.rules import clearance_rules
from hgmap.decide.clearance.sample import Flags, Floats
from hgmap.decide.clearance.statistics import room_statistics

WANTED: Final = 0.05
JUST_BELOW: Final = 0.999
FAR_ABOVE: Final = 5.0
"""Of the level over the truth: the hardest false case, and a room that should meet."""
NUMBERS: Final = (3, 5, 8, 12, 20, 30, 60)
NON_DETECTS: Final = (0.0, 0.3, 0.6)
HOT_SHARE: Final = 0.1
HOT_TIMES: Final = 5.0


class Room(NamedTuple):
    """A kind of room: geometric scatter of its places, and whether a tenth of them is hot."""

    log_sd: float
    hot: bool

    @property
    def title(self) -> str:
        """What it is called in the table."""
        return f"sd of ln {self.log_sd:g}" + (", a tenth five times higher" if self.hot else "")

    def places(self, draw: np.random.Generator, n: int) -> Floats:
        """Return the air at n random places."""
        air = np.exp(self.log_sd * draw.standard_normal(n))
        if self.hot:
            air = np.where(draw.random(n) < HOT_SHARE, HOT_TIMES * air, air)
        return np.asarray(air)


ROOMS: Final = tuple(Room(sd, hot) for hot in (False, True) for sd in (0.1, 0.3, 0.6, 1.0))
CLAIMS: Final = {
    "every reading": ("mean", "maximum"), "mean": ("mean",), "ucl": ("mean",),
    "utl": ("95th percentile",),
}  # fmt: skip
WHY: Final = {
    ("every reading", "mean"): "it compares readings, not the room: n readings all miss a tenth of "
    "it with 0.9^n, which each meets of few readings says",
    ("every reading", "maximum"): "no number of readings at random places shows a maximum",
    ("mean", "mean"): "the mean of the readings carries no confidence: at the level it is below "
    "about every other time; a meets says where its upper limit is not below",
}


def survey(room: Room, n: int, limit: float, draw: np.random.Generator) -> tuple[Floats, Flags]:
    """Return the readings of one survey and which are detects."""
    air = room.places(draw, n)
    seen = air >= limit
    return np.where(seen, air, limit), seen


Shares = dict[tuple[str, str], dict[tuple[Room, float], list[tuple[float, float]]]]


def shares_of_meets(surveys: int) -> Shares:
    """Return the share of *meets* by rule and claim, room, share of non-detects and n.

    First the false ones, the level just below the truth; then those of a room a fifth of the level.
    """
    found: Shares = defaultdict(lambda: defaultdict(list))
    rules = [one for one in clearance_rules() if one.test in CLAIMS and one.laboratory is None]
    for room in ROOMS:
        many = room.places(np.random.default_rng(0), 2_000_000)
        truth = {"mean": float(many.mean()), "95th percentile": float(np.quantile(many, 0.95)),
                 "maximum": float(np.quantile(many, 0.995))}  # fmt: skip
        for share in NON_DETECTS:
            limit = float(np.quantile(many, share)) if share else 0.0
            for n in NUMBERS:
                draw = np.random.default_rng(n)
                count: dict[tuple[str, str, float], int] = defaultdict(int)
                for _ in range(surveys):
                    values, seen = survey(room, n, limit, draw)
                    made = room_statistics("room", values, seen, truth["mean"])
                    for rule in rules:
                        for claim in CLAIMS[rule.test]:
                            for times in (JUST_BELOW, FAR_ABOVE):
                                ruling = judge(rule, made, times * truth[claim])
                                count[rule.name, claim, times] += ruling.outcome == "meets"
                for rule in rules:
                    for claim in CLAIMS[rule.test]:
                        found[rule.name, claim][room, share].append(
                            (
                                count[rule.name, claim, JUST_BELOW] / surveys,
                                count[rule.name, claim, FAR_ABOVE] / surveys,
                            )
                        )
    return found


def _cell(false: float, right: float) -> str:
    return f"{100 * false:.1f}{'*' if false >= WANTED else ' '}/ {100 * right:.0f}"


def main(surveys: int) -> None:
    """Print a table for each rule and what it is held against."""
    start = time.perf_counter()
    found = shares_of_meets(surveys)
    tests = {one.name: one.test for one in clearance_rules()}
    for (name, claim), rows in found.items():
        print(
            f"\n{name}: false meets in 100 surveys, the true {claim} just above the level / "
            "meets, far below it"
        )
        print(f"{'room':40}{'not detected':>14}" + "".join(f"{f'n = {n}':>12}" for n in NUMBERS))
        for (room, share), shares in rows.items():
            cells = "".join(f"{_cell(*both):>12}" for both in shares)
            print(f"{room.title:40}{f'{100 * share:.0f} %':>14}{cells}")
        false = [one for shares in rows.values() for one, _ in shares]
        missed, worst = sum(one >= WANTED for one in false), max(false)
        why = WHY.get((tests[name], claim), "a room that it misses, or scatter of the simulation")
        print(f"worst {100 * worst:.1f}; {missed} cells at {100 * WANTED:.0f} or more"
              + (f": {why}" if missed else ""))  # fmt: skip
    print(f"\n{surveys} surveys a cell, {time.perf_counter() - start:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
