"""How to read a place again: heights, repeats, what the instrument has to see, the way in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely import Point

from hgmap.decide.candidates import Candidate, RoomCase
from hgmap.decide.evidence import TOO_CLOSE, describe
from hgmap.decide.exceedance import working_level
from hgmap.decide.guards import why_guarded
from hgmap.decide.model import Evidence, FloorEvidence
from hgmap.decide.whose import place_of
from hgmap.field.branch import READING_SD
from hgmap.site.building import HeightBand

HERE_M: Final = 1.0
"""A reading no farther than this (m) from a place is what that place is to repeat."""

WITHIN_ERROR: Final = 2
DISAGREE: Final = 3
"""Readings to take at a place: their mean has half the variance, and a third one says which of two
was wrong. Common practice, no source."""


@dataclass(frozen=True)
class HowToRead:
    """See the attributes of the same names in ``ResamplePlace``."""

    height_m: float | None
    also_m: tuple[float, ...]
    repeats: int
    repeats_reason: str
    instrument: str
    way_in: str


def how_to_read(
    case: RoomCase, one: Candidate, bands: Sequence[HeightBand], *, first: bool
) -> HowToRead:
    """Say how to read a place of a room, the ``first`` of it on the list or a further one."""
    height = usual_height(case.evidence, bands)
    here = _here(case, one)
    repeats, reason = repeats_of(case, one)
    return HowToRead(
        height, _also(case, here, height, bands, first=first), repeats, reason,
        _instrument(case, here), _way_in(case),
    )  # fmt: skip


def usual_height(evidence: FloorEvidence, bands: Sequence[HeightBand]) -> float | None:
    """Return the height (m) of most readings of a map, else the middle of its band."""
    heights = [i.reading.height_m for i in evidence.used if i.reading.height_m is not None]
    if heights:
        return _most(heights)
    band = next((one for one in bands if one.name == evidence.band), None)
    return None if band is None else round((band.from_m + band.to_m) / 2, 2)


def _most(heights: Sequence[float]) -> float:
    values, counts = np.unique(heights, return_counts=True)
    return float(values[counts.argmax()])


def _here(case: RoomCase, one: Candidate) -> list[Evidence]:
    at = Point(one.x, one.y)
    places = [(item, place_of(item, case.room)) for item in case.items]
    return [item for item, place in places if place is not None and place.distance(at) <= HERE_M]


def _also(
    case: RoomCase,
    here: Sequence[Evidence],
    height: float | None,
    bands: Sequence[HeightBand],
    *,
    first: bool,
) -> tuple[float, ...]:
    """Return further heights: of a reading above the level here, and of breathing bands.

    A room without a reading in a breathing band that this floor is read in elsewhere is read at
    that band's usual height too.
    """
    if height is None:
        return ()
    also = {item.reading.height_m for item in here
            if item.role == "other height" and item.above}  # fmt: skip
    if first and not any(item.role == "used" for item in case.items):
        by_band: dict[str, list[float]] = {}
        for item in case.evidence.items:
            if item.role == "other height" and item.reading.height_m is not None:
                by_band.setdefault(item.reading.band, []).append(item.reading.height_m)
        own = Counter(item.reading.band for item in case.items if item.role == "other height")
        for band in bands:
            if band.breathing and band.name in by_band and not own[band.name]:
                also.add(_most(by_band[band.name]))
    return tuple(sorted(v for v in also if v is not None and abs(v - height) > 1e-9))


def repeats_of(case: RoomCase, one: Candidate) -> tuple[int, str]:
    """Return how many readings to take at a place one after another, and why more than one."""
    here = _here(case, one)
    if any(text.startswith("replicates disagree") for text in one.reasons):
        return DISAGREE, "replicates here disagree: the third says which one was wrong"
    level = case.evidence.level.concentration
    for item in here:
        reason = why_guarded(item, level) if item.role == "used" and not item.above else None
        if reason is not None and reason.endswith("within its own error of the level"):
            return WITHIN_ERROR, f"{item.reading.id} is within its own error of the level"
    surface = case.surface
    if surface is not None:
        raster = surface.raster
        row = min(max(int((one.y - raster.south_m) / raster.cell_m), 0), raster.shape[0] - 1)
        column = min(max(int((one.x - raster.west_m) / raster.cell_m), 0), raster.shape[1] - 1)
        excess = surface.mean[row, column] - working_level(surface, level)
        near = 2.0 * READING_SD * (1.0 if surface.scale == "log" else level)
        if raster.room_index[row, column] == case.index and abs(excess) <= near:
            return WITHIN_ERROR, "the estimate here is within one reading's error of the level"
    return 1, ""


def _instrument(case: RoomCase, here: Sequence[Evidence]) -> str:
    """Say what the instrument has to see: half the level, and what saturated the last one."""
    level = case.evidence.level
    text = f"detection limit at most {TOO_CLOSE * level.value:.3g} {level.unit}"
    top = next((item for item in here if item.reading.qualifier == ">"), None)
    if top is not None:
        text += f"; a range to well above {describe(top.reading).removeprefix('>')}, or dilute"
    return text


def _way_in(case: RoomCase) -> str:
    floor, room = case.evidence.floor, case.room
    if len(floor.rooms) < 2:
        return ""
    states = [one.state for one in floor.openings if room.id in one.rooms]
    if not states:
        return "no way in is drawn: open the room first"
    return "its openings are sealed: open the room first" if set(states) == {"sealed"} else ""
