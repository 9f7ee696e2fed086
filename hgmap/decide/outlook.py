"""What further readings are expected to leave in doubt, and which of them to take one by one.

The estimate's error is jointly normal in the cells and at the places to read, so a reading at a
place p changes the covariance of any two of them by a rank one (conditioning of a normal vector):

C(a, b) - C(a, p) C(p, b) / (C(p, p) + noise)

whatever it reads. What the places chosen so far take from a cell's variance adds up, and gives the
probability that the cell is ruled remediate or clear (:mod:`hgmap.decide.settle`). A cell does not
become clear where a guard would stand after the readings (:mod:`hgmap.decide.guards`): a room gets
one only through a reading of its own, ground about a reading that guards it only as far as a
reading to come stands nearer, and that one must come out below the level and its own error. What a
held reading or replicates that disagree keep is not counted as lifted: a person has to settle them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial.distance import cdist

from hgmap.decide.doubt_ground import DoubtGround
from hgmap.decide.guards import ANSWERS_M
from hgmap.decide.settle import ruling_probabilities

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

UNKNOWN: Final = 0.5
"""Chance that a first reading settles ground of which nothing is known, half of it as clear. Our
rule, no source."""

AS_GOOD: Final = 0.01
"""Places that settle this share less than the best are as good: the first offered is taken."""

LEAST_APART_M: Final = 1.0
"""Places of a room stand no nearer than this (m). Our rule, no source."""

NAMED: Final = 0.2
"""What keeps less than this share of the rest in doubt is not named."""

KEPT: Final = (
    "ground about readings that are above the level or within their own error of it, are held or "
    "disagree (a person has to settle the last two)"
)

NEGLIGIBLE: Final = 1e-2
"""Share of a place's variance below which a reading elsewhere does not count for it."""


@dataclass(frozen=True)
class Offers:
    """Places that could be read.

    Attributes
    ----------
    xy, room : arrays of shape (c, 2) and (c,)
        Place (m) and position of its room in the floor.
    to_cells, to_offers : arrays of shape (m, c) and (c, c)
        Error covariance of the estimate, 0 where nothing is known (working scale).
    noise : array of shape (c,)
        Variance of the reading's own error there: of their mean where several are taken.
    high : array of shape (c,)
        Probability of a reading above the level or within its own error of it.
    """

    xy: Floats
    room: Ints
    to_cells: Floats
    to_offers: Floats
    noise: Floats
    high: Floats


@dataclass(frozen=True)
class Outlook:
    """Places in the order chosen.

    Attributes
    ----------
    chosen : array of shape (k,)
        Positions of offers.
    doubt_m2 : array of shape (k + 1,)
        Area expected in doubt before the first and after each; it never rises.
    why : str
        What keeps most of the rest in doubt, in words.
    """

    chosen: Ints
    doubt_m2: Floats
    why: str


class Forecast:
    """The state after some readings that are planned, none of them taken yet."""

    def __init__(self, ground: DoubtGround, offers: Offers) -> None:
        self.ground, self.offers = ground, offers
        self.to_cells, self.to_offers = offers.to_cells.copy(), offers.to_offers.copy()
        cells = len(ground.xy)
        self.gain = np.zeros(cells)
        self.near_m = np.full(cells, np.inf)
        self.low = np.ones(cells)
        self.planned = 0
        self.open_answers = np.ones(len(ground.answer_xy), dtype=bool)
        self.distance = np.where(
            ground.room[:, None] == offers.room, cdist(ground.xy, offers.xy), np.inf
        )
        self.answers = (ground.answer_room[:, None] == offers.room) & (
            cdist(ground.answer_xy, offers.xy) <= ANSWERS_M
        )
        self.doubt_m2 = float(self._total(self._now())[0])

    def after(self, some: Ints) -> Floats:
        """Return the area expected in doubt (m²) were one of some offers read next, each alone."""
        step = self._steps(some)
        gain = self.gain[:, None] + step**2
        distance = self.distance[:, some]
        nearer = distance < self.near_m[:, None]
        near = np.where(nearer, distance, self.near_m[:, None])
        low = np.where(nearer, 1.0 - self.offers.high[some], self.low[:, None])
        guard = np.broadcast_to(self._guard()[:, None], near.shape)
        answering = np.flatnonzero(self.answers[self.open_answers][:, some].any(axis=0))
        if len(answering):
            guard = guard.copy()
            for k in answering:
                guard[:, k] = self._guard(~self.answers[:, some[k]])
        return self._total(self._settled(gain, near, low, guard, self.planned + 1))

    def choose(self, one: int) -> Bools:
        """Plan a reading at an offer; return which offers it changes the worth of."""
        before = np.diag(self.to_offers).copy()
        (step,) = self._steps(np.array([one])).T
        at = self.to_offers[:, one] / np.sqrt(self.to_offers[one, one] + self.offers.noise[one])
        self.gain += step**2
        self.planned += 1
        nearer = self.distance[:, one] < self.near_m
        self.near_m = np.where(nearer, self.distance[:, one], self.near_m)
        self.low = np.where(nearer, 1.0 - self.offers.high[one], self.low)
        self.open_answers &= ~self.answers[:, one]
        self.to_cells -= np.outer(step, at)
        self.to_offers -= np.outer(at, at)
        self.doubt_m2 = float(self._total(self._now())[0])
        same = self.offers.room == self.offers.room[one]
        return np.asarray((at**2 > NEGLIGIBLE * before) | same)

    def what_stays(self) -> str:
        """Say what keeps most of the ground in doubt that is left."""
        left, ground = self.ground.area_m2 * (1.0 - self._now()[:, 0]), self.ground
        guard = self._guard()
        no_reading = ~ground.read & ~np.isfinite(self.near_m)
        far = ~no_reading & (np.minimum(ground.used_m, self.near_m) > ground.far_m)
        kept = ground.guarded(guard, np.minimum(ground.low_m, self.near_m))
        at_door = np.zeros(len(left), dtype=bool)
        for side in ground.doors:
            at_door[side.before] |= ground.excess[side.beyond] >= 0
        parts = {
            "rooms without a reading": no_reading,
            "ground far from every reading of its room": far,
            KEPT: kept,
            "ground before doors to ground above the level": at_door,
            "an estimate too near the level to settle": np.ones(len(left), dtype=bool),
        }
        share: dict[str, float] = {}
        open_ = np.ones(len(left), dtype=bool)
        for text, here in parts.items():
            share[text] = float(left[here & open_].sum())
            open_ &= ~here
        most = sorted(share, key=lambda text: -share[text])[:2]
        whole = max(sum(share.values()), 1e-12)
        return ", and ".join(text for text in most if share[text] > NAMED * whole)

    def _steps(self, some: Ints) -> Floats:
        """Return what each offer takes off the cells, as square roots of variance with a sign."""
        own = np.maximum(np.diag(self.to_offers)[some], 0.0) + self.offers.noise[some]
        return np.asarray(self.to_cells[:, some] / np.sqrt(np.maximum(own, 1e-300)))

    def _guard(self, still: Bools | None = None) -> Floats:
        """Return how far each cell is from the nearest reading that guards its ground (m)."""
        still = self.open_answers if still is None else self.open_answers & still
        answered = self.ground.answered_m[:, still].min(axis=1, initial=np.inf)
        return np.asarray(np.minimum(self.ground.standing_m, answered))

    def _now(self) -> Floats:
        """Return the probability that each cell is settled by what is planned, shape (m, 1)."""
        gain, near, low = self.gain[:, None], self.near_m[:, None], self.low[:, None]
        return self._settled(gain, near, low, self._guard()[:, None], self.planned)

    def _settled(
        self, gain: Floats, near: Floats, low: Floats, guard: Floats, readings: int
    ) -> Floats:
        """Return the probability that each cell is settled after so many readings, shape (m, n)."""
        ground = self.ground
        remediate_z, clear_z = ground.quantiles(readings)
        above, below = ruling_probabilities(
            ground.excess[:, None],
            ground.variance[:, None],
            gain,
            remediate_z=remediate_z,
            clear_z=clear_z,
            least=ground.least[:, None],
        )
        unknown = ~ground.known
        if unknown.any():
            reached = UNKNOWN / 2.0 * (near[unknown] <= ground.far_m)
            above[unknown], below[unknown] = reached, reached
        read = np.minimum(ground.used_m[:, None], near)
        speaks = np.minimum(ground.low_m[:, None], near)
        clear = (read <= ground.far_m) & ~ground.guarded(guard, speaks)
        clear &= ground.read[:, None] | np.isfinite(near)
        # a reading to come is high where the ground about it is: they agree as far as they can
        own = near < ground.low_m[:, None]
        below = np.where(clear, np.where(own, np.minimum(below, low), below), 0.0)
        for side in ground.doors:
            beyond = 1.0 - above[side.beyond]
            below[side.before] = np.minimum(below[side.before], beyond)
        return np.asarray(np.minimum(above + below, 1.0))

    def _total(self, settled: Floats) -> Floats:
        return np.asarray(self.ground.area_m2 @ (1.0 - settled))


def choose_in_turn(
    ground: DoubtGround,
    offers: Offers,
    *,
    enough_m2: float,
    most: int,
    least_gain_m2: float,
    then: Sequence[tuple[int, bool]] = (),
) -> Outlook:
    """Choose places one after another, each the one expected to leave the least in doubt.

    Stops where no more than ``enough_m2`` is expected in doubt, at ``most`` places, or where no
    place moves ``least_gain_m2``. Of equally good ones (:data:`AS_GOOD`) the first offer is taken.
    Offers that a choice says nothing about keep the worth that they had.

    Parameters
    ----------
    ground : DoubtGround
    offers : Offers
    enough_m2, least_gain_m2 : float
        Areas (m²).
    most : int
    then : sequence of (int, bool)
        Offers that come after the chosen ones in any case: always, or (False) only where their room
        has no other place.
    """
    state = Forecast(ground, offers)
    count = len(offers.xy)
    left = np.ones(count, dtype=bool)
    gain = np.zeros(count)
    stale = np.ones(count, dtype=bool)
    chosen: list[int] = []
    doubt = [state.doubt_m2]
    free = _Apart(ground, offers)
    while len(chosen) < most and doubt[-1] > enough_m2:
        open_ = left & free.now()
        some = np.flatnonzero(open_ & stale)
        if len(some):
            gain[some] = state.doubt_m2 - state.after(some)
            stale[some] = False
        most_m2 = gain[open_].max(initial=-np.inf)
        if most_m2 < least_gain_m2:
            break
        best = int(np.flatnonzero(open_ & (gain >= (1.0 - AS_GOOD) * most_m2))[0])
        stale |= state.choose(best)
        left[best] = False
        free.take(best)
        chosen.append(best)
        doubt.append(state.doubt_m2)
    why = state.what_stays()
    for one, always in then:
        if one in chosen or not (always or offers.room[one] not in offers.room[chosen]):
            continue
        state.choose(one)
        chosen.append(one)
        # it is read for its own reason: that it may raise doubts elsewhere is no reason not to
        doubt.append(min(doubt[-1], state.doubt_m2))
    return Outlook(np.array(chosen, dtype=np.int64), np.array(doubt), why)


class _Apart:
    """Keeps places of a room apart: by half the width of the ground that each would have, 1 m."""

    def __init__(self, ground: DoubtGround, offers: Offers) -> None:
        self._offers = offers
        rooms = int(max(ground.room.max(initial=0), offers.room.max(initial=0))) + 1
        self._area = np.bincount(ground.room, ground.area_m2, minlength=rooms)
        self._count = np.zeros(rooms)
        self._nearest = np.full(len(offers.xy), np.inf)

    def now(self) -> Bools:
        """Tell which offers stand far enough from all that were taken."""
        share = 0.5 * np.sqrt(self._area / (self._count + 1.0))
        return np.asarray(self._nearest >= np.maximum(LEAST_APART_M, share)[self._offers.room])

    def take(self, one: int) -> None:
        """Take an offer."""
        offers = self._offers
        own = offers.room == offers.room[one]
        away = np.where(own, cdist(offers.xy[[one]], offers.xy)[0], np.inf)
        self._nearest = np.minimum(self._nearest, away)
        self._count[offers.room[one]] += 1
