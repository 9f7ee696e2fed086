"""What a comparison of two rounds is made of; ratios are *after* over *before*."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence, ZoneName, Zones
from hgmap.decide.rooms import RoomRow
from hgmap.field.branch import READING_SD
from hgmap.field.surface import Surface
from hgmap.shows_itself import OnAPlan
from hgmap.site.building import Room

if TYPE_CHECKING:
    from hgmap.decide.paired import PairedStatistics, PlacePair

ChangeWord = Literal["fell", "rose", "cannot tell"]

CONFIDENCE: Final = 0.95
"""Of every interval of a ratio; a word is said only where its interval does not cover 1."""

REBOUND_AT: Final = 0.95
"""Probability of a rise from which a room has rebounded (ours, no source)."""

SHARED_SD: Final = math.sqrt(2.0) * READING_SD
"""Sd of the logarithm of a ratio that the calibrations of two visits leave, however many readings:
the stated relative error of one reading, once for each visit. That of one instrument may cancel
between two visits; nobody can know that it does, so nothing is taken off for it."""


MOST_LOG: Final = 700.0


@dataclass(frozen=True, slots=True)
class Visit:
    """One floor as one round left it."""

    evidence: FloorEvidence
    surface: Surface | None
    zones: Zones
    rooms: tuple[RoomRow, ...]


@dataclass(frozen=True)
class CellChange:
    """The change in every cell of a floor.

    Attributes
    ----------
    log_ratio, sd : arrays of shape (ny, nx)
        Natural logarithm of the ratio of the two estimates and its standard deviation; NaN where
        either round knows nothing.
    low, high : arrays of shape (ny, nx)
        95 % interval of the ratio.
    probability_fell : array of shape (ny, nx)
        That the air fell, whatever by.
    degrees_of_freedom : int
        Of Student's t, the fewer of the two rounds.
    """

    log_ratio: NDArray[np.float64]
    sd: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    probability_fell: NDArray[np.float64]
    degrees_of_freedom: int


@dataclass(frozen=True, slots=True)
class RoomChange:
    """What became of one room; None where nothing can be said.

    Attributes
    ----------
    ratio, low, high : float or None
        Ratio of the room's mean concentrations and its 95 % interval; ``low`` is 0 and ``high``
        infinite where readings that are only bounds leave that end open.
    probability_fell : float or None
    word : {"fell", "rose", "cannot tell"}
    rebounded : bool
        It rose with a probability of 0.95 or more, has a reading above the level that it had not
        before, or a place above the level that was not.
    stayed_clear : bool
        The whole room was clear before and is clear after.
    reasons : tuple of str
    by_bounds : bool
        The estimates alone would say more: readings that are only bounds forbid it.
    """

    room: Room
    before: RoomRow
    after: RoomRow
    ratio: float | None
    low: float | None
    high: float | None
    probability_fell: float | None
    word: ChangeWord
    rebounded: bool
    stayed_clear: bool
    reasons: tuple[str, ...]
    by_bounds: bool = False


@dataclass(frozen=True, slots=True)
class ZoneMove:
    """Ground of one room that was in one zone before and is in one after."""

    room: str
    room_name: str
    before: ZoneName
    after: ZoneName
    area_m2: float

    @property
    def worse(self) -> bool:
        """Whether ground left ``clear``, or came into ``remediate``."""
        return self.before != self.after and (self.before == "clear" or self.after == "remediate")


@dataclass(frozen=True, slots=True)
class Grounds:
    """Ground of a floor by what became of it (m); the four tile the rooms.

    ``unknown`` is ground of rooms that a round did not read, or where it knows nothing.
    """

    fell: BaseGeometry
    rose: BaseGeometry
    doubtful: BaseGeometry
    unknown: BaseGeometry


@dataclass(frozen=True)
class FloorChange(OnAPlan):
    """One floor compared between two rounds; ``cells`` is None where either has no surface."""

    before: Visit
    after: Visit
    cells: CellChange | None
    rooms: tuple[RoomChange, ...]
    moves: tuple[ZoneMove, ...]
    grounds: Grounds
    pairs: tuple[PlacePair, ...]
    paired: PairedStatistics


def ratio_interval(
    log_ratio: float, sd: float, degrees_of_freedom: int | None = None
) -> tuple[float, float]:
    """Return the 95 % interval of a ratio from its logarithm and the sd of that.

    Student's t where ``degrees_of_freedom`` is given, else the normal.
    """
    reach = quantile(degrees_of_freedom) * sd
    return bounded_exp(log_ratio - reach), bounded_exp(log_ratio + reach)


def bounded_exp(logarithm: float) -> float:
    """Return the exponential, within what a number can hold: very few readings know no bounds."""
    return math.exp(min(max(logarithm, -MOST_LOG), MOST_LOG))


@lru_cache(maxsize=256)
def quantile(degrees_of_freedom: int | None) -> float:
    """Return the two-sided 95 % quantile of Student's t, or of the normal."""
    share = (1.0 + CONFIDENCE) / 2.0
    if degrees_of_freedom is None:
        return float(ndtri(share))
    return float(stdtrit(float(degrees_of_freedom), share))


def word_for(low: float | None, high: float | None) -> ChangeWord:
    """Say what an interval of a ratio says; where it covers 1, nothing.

    Examples
    --------
    >>> word_for(0.2, 0.9), word_for(0.2, 1.0), word_for(1.1, 3.0), word_for(None, None)
    ('fell', 'cannot tell', 'rose', 'cannot tell')
    """
    if low is None or high is None:
        return "cannot tell"
    if high < 1.0:
        return "fell"
    return "rose" if low > 1.0 else "cannot tell"
