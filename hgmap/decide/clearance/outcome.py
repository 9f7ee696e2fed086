"""What clearance says of rooms and floors: figures by height, rulings by rule."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from hgmap.shows_itself import OnPlans

if TYPE_CHECKING:  # the window asks for the worst outcome before anything is reckoned
    from hgmap.decide.clearance.judge import Outcome, Ruling
    from hgmap.decide.clearance.rules import ClearanceRule
    from hgmap.decide.clearance.statistics import RoomStatistics
    from hgmap.site.building import Floor, Room
    from hgmap.site.model import ActionLevel

WORST_FIRST: Final[tuple[Outcome, ...]] = ("does not meet", "cannot tell yet", "meets")


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """Return the worst of some outcomes; of none, nothing can be told.

    Examples
    --------
    >>> worst(["meets", "does not meet"]), worst([])
    ('does not meet', 'cannot tell yet')
    """
    found = set(outcomes) or {"cannot tell yet"}
    return next(one for one in WORST_FIRST if one in found)


@dataclass(frozen=True, slots=True)
class HoldBack:
    """One thing outside the numbers that takes a ``meets`` back, and what would lift it."""

    reason: str
    missing: str


@dataclass(frozen=True, slots=True)
class BandFigures:
    """The figures of a room, or of a floor, at one breathing height.

    Attributes
    ----------
    band : str
    statistics : RoomStatistics
        In the unit that the level is published in.
    readings : tuple of str
        Ids of the readings behind them, each place once.
    nowhere : float or None
        The map's probability that nowhere is above the level; None without a map.
    """

    band: str
    statistics: RoomStatistics
    readings: tuple[str, ...] = ()
    nowhere: float | None = None


@dataclass(frozen=True, slots=True)
class RuleOutcome:
    """What one rule says; ``band`` is the height that decides, whose figures are shown."""

    rule: ClearanceRule
    ruling: Ruling
    band: str


@dataclass(frozen=True, slots=True)
class RoomClearance:
    """One room against one level; ``bands`` is never empty.

    ``held_back`` is what takes a ``meets`` of this room back, whatever the rule.
    """

    room: Room
    bands: tuple[BandFigures, ...]
    outcomes: tuple[RuleOutcome, ...]
    held_back: tuple[HoldBack, ...] = ()

    def figures(self, band: str) -> BandFigures:
        """Return the figures of a height."""
        return next(one for one in self.bands if one.band == band)


@dataclass(frozen=True, slots=True)
class FloorClearance:
    """One floor against one level: its rooms, and their readings together.

    A floor is as its worst room: what is pooled is shown, and never judged.
    """

    floor: Floor
    rooms: tuple[RoomClearance, ...]
    bands: tuple[BandFigures, ...]
    outcomes: tuple[RuleOutcome, ...]

    def figures(self, band: str) -> BandFigures:
        """Return the pooled figures of a height."""
        return next(one for one in self.bands if one.band == band)


@dataclass(frozen=True, slots=True)
class LevelClearance(OnPlans):
    """Every floor against one level; ``held_back`` is what holds for the whole round."""

    level: ActionLevel
    floors: tuple[FloorClearance, ...]
    held_back: tuple[HoldBack, ...]
    notes: tuple[str, ...]

    @property
    def rooms(self) -> tuple[RoomClearance, ...]:
        """The rooms of all floors."""
        return tuple(room for floor in self.floors for room in floor.rooms)
