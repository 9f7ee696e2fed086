"""Places that both rounds measured: pairs, and the paired tests on them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from hgmap.decide.change_model import SHARED_SD, ChangeWord, bounded_exp, quantile, word_for
from hgmap.decide.guards import ONE_PLACE_M
from hgmap.decide.model import Evidence, FloorEvidence, bounds_of

Floats = NDArray[np.float64]

PAIR_M: Final = 0.5
"""Places of two rounds no farther apart than this (m) are one place (ours, no source)."""

LEAST_T: Final = 3
"""Pairs of numbers below which no interval and no rank sum is made of them."""

MOST_EXACT: Final = 50
"""Pairs up to which the signed-rank distribution is enumerated."""


@dataclass(frozen=True, slots=True)
class Place:
    """Readings of one round at one place; their true mean (of logarithms) is in low to high."""

    room: str
    room_name: str
    x: float
    y: float
    readings: tuple[str, ...]
    low: float
    high: float

    @property
    def number(self) -> float | None:
        """Its concentration (computing unit), where no reading of it is only a bound."""
        return self.low if 0.0 < self.low == self.high else None


@dataclass(frozen=True, slots=True)
class PlacePair:
    """One place in both rounds."""

    before: Place
    after: Place
    apart_m: float

    @property
    def log_ratio(self) -> float | None:
        """Logarithm of after over before; None where either is only a bound."""
        old, new = self.before.number, self.after.number
        return None if old is None or new is None else math.log(new / old)

    @property
    def ratio(self) -> float | None:
        """Ratio of after to before; None where either is only a bound."""
        return None if self.log_ratio is None else math.exp(self.log_ratio)

    def way(self, factor: float = 1.0) -> int:
        """Return -1 where it fell by more than a factor, 1 where it rose, 0 where none is known.

        Whatever the bounds hide: ``<0.05`` after 0.04 is neither.
        """
        if self.after.high * factor < self.before.low:
            return -1
        return 1 if self.after.low > self.before.high * factor else 0


@dataclass(frozen=True, slots=True)
class PairedStatistics:
    """Paired statistics; None where there are too few pairs.

    Attributes
    ----------
    pairs, numbers : int
        All pairs, and those of two numbers: only they are in the t interval and the signed ranks.
    ratio, low, high : float or None
        Geometric mean of the ratios, 95 % interval by Student's t on their logarithms.
    t_statistic, p_t : float or None
    wilcoxon, p_wilcoxon : float or None
        The smaller rank sum and its two-sided probability, exact for up to 50 pairs.
    fell, rose, undecided : int
        Pairs by their sign, non-detects as what they can lie in; ``undecided`` are those that
        either overlap or are equal, and are no part of the sign test.
    p_sign : float or None
        Two-sided, exact.
    word : {"fell", "rose", "cannot tell"}
        Of the pairs as a whole, allowing for the calibrations of the two visits: by the t interval
        widened for them where every pair is of numbers; else by the sign test on pairs that moved
        by more than the calibrations can, every other pair counted against it.
    """

    pairs: int
    numbers: int
    ratio: float | None
    low: float | None
    high: float | None
    t_statistic: float | None
    p_t: float | None
    wilcoxon: float | None
    p_wilcoxon: float | None
    fell: int
    rose: int
    undecided: int
    p_sign: float | None
    word: ChangeWord


def paired_places(before: FloorEvidence, after: FloorEvidence) -> tuple[PlacePair, ...]:
    """Pair the places of two rounds: within 0.5 m, in one room and one height band, nearest first.

    Each place is in one pair at most. A place that was made up from the room is none.
    """
    old, new = _places(before), _places(after)
    if not old or not new:
        return ()
    tree = KDTree([(one.x, one.y) for one in new])
    found = tree.query_ball_point([(one.x, one.y) for one in old], PAIR_M)
    near = sorted(
        (math.hypot(old[i].x - new[j].x, old[i].y - new[j].y), i, j)
        for i, others in enumerate(found)
        for j in others
        if old[i].room == new[j].room
    )
    pairs: list[tuple[int, PlacePair]] = []
    taken: tuple[set[int], set[int]] = (set(), set())
    for apart, i, j in near:
        if i not in taken[0] and j not in taken[1]:
            taken[0].add(i)
            taken[1].add(j)
            pairs.append((i, PlacePair(old[i], new[j], apart)))
    return tuple(pair for _, pair in sorted(pairs, key=lambda one: one[0]))


def paired_statistics(pairs: Sequence[PlacePair]) -> PairedStatistics:
    """Return the paired statistics of some pairs."""
    logs = np.array([one.log_ratio for one in pairs if one.log_ratio is not None])
    ways = [one.way() for one in pairs]
    fell, rose = ways.count(-1), ways.count(1)
    ratio = low = high = t_statistic = p_t = None
    wide: tuple[float, float] | None = None
    if len(logs) >= LEAST_T:
        mean, error = float(logs.mean()), float(logs.std(ddof=1) / math.sqrt(len(logs)))
        reach = quantile(len(logs) - 1) * error
        ratio, low, high = (bounded_exp(mean + step) for step in (0.0, -reach, reach))
        whole = math.hypot(reach, quantile(None) * SHARED_SD)
        wide = bounded_exp(mean - whole), bounded_exp(mean + whole)
        if error > 0.0:
            t_statistic = mean / error
            from scipy import stats  # takes a second to import

            p_t = float(2.0 * stats.t(len(logs) - 1).sf(abs(t_statistic)))
    wilcoxon, p_wilcoxon = _signed_ranks(logs)
    word: ChangeWord = "cannot tell"
    if wide is not None and len(logs) == len(pairs):
        word = word_for(*wide)
    elif pairs:
        word = _by_sign(pairs)
    return PairedStatistics(
        len(pairs), len(logs), ratio, low, high, t_statistic, p_t, wilcoxon, p_wilcoxon,
        fell, rose, len(pairs) - fell - rose, sign_test(fell, rose), word,
    )  # fmt: skip


def sign_test(fell: int, rose: int) -> float | None:
    """Return the exact two-sided probability of the sign test; None without a sign.

    Examples
    --------
    >>> sign_test(8, 2)
    0.109375
    """
    if fell + rose == 0:
        return None
    from scipy import stats

    return float(stats.binomtest(fell, fell + rose, 0.5).pvalue)


def _signed_ranks(logs: Floats) -> tuple[float | None, float | None]:
    """Wilcoxon's signed ranks; equal pairs are left out, as he did.

    Pairs alike share their mean rank. Up to 50 pairs the distribution is enumerated with those
    ranks: the normal one gives 5 pairs alike p = 0.037 where 2 in 32 is the least there is.
    """
    moved = logs[np.abs(logs) > 1e-12].round(12)
    if len(moved) < LEAST_T:
        return None, None
    from scipy import stats

    ranks = stats.rankdata(np.abs(moved))
    least = float(min(ranks[moved < 0].sum(), ranks[moved > 0].sum()))
    if len(moved) > MOST_EXACT:
        found = stats.wilcoxon(moved, method="asymptotic", correction=True)
        return float(found.statistic), float(found.pvalue)
    ways = np.ones(1)  # in how many of the 2ⁿ signs the ranks (doubled: whole) add up to each sum
    for rank in np.rint(2.0 * ranks).astype(np.int64):
        more = np.zeros(len(ways) + rank)
        more[: len(ways)] += ways
        more[rank:] += ways
        ways = more / 2.0
    p = 2.0 * float(ways[: round(2.0 * least) + 1].sum())
    return least, min(1.0, p)


def _by_sign(pairs: Sequence[PlacePair]) -> ChangeWord:
    factor = math.exp(quantile(None) * SHARED_SD)
    ways = [one.way(factor) for one in pairs]
    for word, way in (("fell", -1), ("rose", 1)):
        count = ways.count(way)
        p = sign_test(count, len(ways) - count)
        if 2 * count > len(ways) and p is not None and p < 0.05:
            return "fell" if word == "fell" else "rose"
    return "cannot tell"


def _places(evidence: FloorEvidence) -> list[Place]:
    """Gather the readings of the map's band by room and place; replicates are one place."""
    by_room: dict[str, list[Evidence]] = {}
    called = {room.id: room.name for room in evidence.floor.rooms}
    for item in evidence.items:
        reading = item.reading
        known = reading.x is not None and reading.y is not None and reading.placed != "room"
        if item.role in ("used", "cannot see the level") and known and reading.room in called:
            by_room.setdefault(reading.room, []).append(item)
    places = []
    for room, items in by_room.items():
        xy = np.array([(one.reading.x, one.reading.y) for one in items], dtype=np.float64)
        near = KDTree(xy).query_ball_point(xy, ONE_PLACE_M)
        taken: set[int] = set()
        for first in range(len(items)):
            if first in taken:
                continue
            here = sorted(set(near[first]) - taken)
            taken.update(here)
            low, high = np.array([ends_of(items[k]) for k in here]).T
            with np.errstate(divide="ignore"):
                ends = np.exp(np.log(low).mean()), np.exp(np.log(high).mean())
            if np.array_equal(low, high):
                ends = ends[0], ends[0]
            x, y = xy[here].mean(axis=0)
            ids = tuple(items[k].reading.id for k in here)
            places.append(Place(room, called[room], float(x), float(y), ids, *map(float, ends)))
    return places


def ends_of(item: Evidence) -> tuple[float, float]:
    """Return what a reading can lie between: a non-detect from nothing to its limit.

    The measured error moves a limit up by two standard deviations, as in the estimate.
    """
    reading, value = item.reading, item.reading.concentration or 0.0
    if reading.qualifier == "<":
        return 0.0, bounds_of(reading)[1]
    if reading.qualifier == ">":
        return value, math.inf
    if reading.qualifier in ("to", "up to"):
        return reading.concentration_low or 0.0, value + 2.0 * reading.error
    return max(value, 0.0), value
