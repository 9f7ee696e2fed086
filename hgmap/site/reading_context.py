"""What the rows of a readings file are judged against."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

from hgmap.site.building import Floor, HeightBand
from hgmap.site.model import Conditions, Medium
from hgmap.site.whereabouts import RoomIndex

COLUMNS: Final = (
    "id", "floor", "room", "x", "y", "grid", "offsets", "height", "time", "value", "unit",
    "qualifier", "low", "detection_limit", "kind", "duplicate_of", "instrument", "temperature",
    "pressure", "round", "note",
)  # fmt: skip
"""The columns of a readings file, in the order that hgmap writes them."""

REQUIRED: Final = ("value", "unit")
NUMBERS: Final = ("x", "y", "height", "value", "low", "detection_limit", "temperature", "pressure")


@dataclass(frozen=True)
class ReadingContext:
    """What a row is judged against.

    ``floors`` maps names and titles (case-folded) to floors; ``lost_floors`` are those whose plan
    could not be read. ``detection_limit`` (value, unit) is what a zero means, where the site says.
    ``conditions`` are those of the rounds, by name.
    """

    medium: Medium
    analyte: str
    floors: Mapping[str, Floor]
    lost_floors: frozenset[str]
    rounds: frozenset[str]
    bands: Sequence[HeightBand]
    detection_limit: tuple[float, str] | None
    default_height_m: float | None
    conditions: Mapping[str, Conditions] = field(default_factory=dict)

    @cached_property
    def indices(self) -> dict[str, RoomIndex]:
        """The rooms of each floor, by the floor's name, to look up."""
        return {floor.name: RoomIndex.of(floor) for floor in self.floors.values()}

    @property
    def mercury_vapour(self) -> bool:
        """Whether physics bounds the readings: no air holds more than saturated vapour."""
        return self.medium == "air" and "mercury" in self.analyte.casefold()
