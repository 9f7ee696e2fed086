"""Rooms by what clearance says of them: hatch, outline and word say the same thing three times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.clearance.judge import Outcome
from hgmap.decide.clearance.outcome import LevelClearance, worst
from hgmap.report.drawing import PT_PER_MM, Area, Drawing, Hatch, Item, Label, Pen
from hgmap.report.extent import extent
from hgmap.report.palette import INK, PAPER
from hgmap.report.plan_drawing import building, openings
from hgmap.site.building import Floor

SIGNS: Final[dict[Outcome, str]] = {"does not meet": "■", "cannot tell yet": "▲", "meets": "●"}
"""A sign of its own for each outcome; the table has the same."""

# Hues after Okabe and Ito (2008), darkened, as those of the zones.
LOOKS: Final[dict[Outcome, tuple[Hatch | None, Pen]]] = {
    "does not meet": (Hatch("diagonal", "#c74a00", 7.0, 1.3), Pen("#c74a00", 2.4)),
    "cannot tell yet": (Hatch("dots", "#00508a", 7.0, 1.8), Pen("#00508a", 1.8, (4.5, 2.2))),
    "meets": (None, Pen("#00694c", 1.8, (8.0, 2.0, 1.6, 2.0))),
}
_PT: Final = 8.0


def room_outcomes(levels: Sequence[LevelClearance], floor: str) -> dict[str, Outcome]:
    """Return the worst outcome of each room of a floor, over all levels and rules, by room id.

    What is held back for the whole round or for a room is never shown as met.
    """
    found: dict[str, list[Outcome]] = {}
    for level in levels:
        for one in level.floors:
            if one.floor.name != floor:
                continue
            for room in one.rooms:
                outcomes = found.setdefault(room.room.id, [])
                outcomes.append(worst(ruled.ruling.outcome for ruled in room.outcomes))
                if level.held_back or room.held_back:
                    outcomes.append("cannot tell yet")
    return {room: worst(outcomes) for room, outcomes in found.items()}


def release_scene(floor: Floor, outcomes: Mapping[str, Outcome], mm_per_m: float) -> Drawing:
    """Hatch the rooms in place of what is below; one that nothing was said of cannot be told yet.

    The word stands where the room is wide enough for it, else its sign alone.
    """
    items: list[Item] = [Area(paper_under(floor), fill=PAPER)]
    labels: list[Item] = []
    for room in floor.rooms:
        outcome = outcomes.get(room.id, "cannot tell yet")
        hatch, pen = LOOKS[outcome]
        if hatch is not None:
            items.append(Area(room.polygon, hatch=hatch))
        inner = room.polygon.buffer(-0.06, join_style="mitre")
        if not inner.is_empty:
            items.append(Area(inner, pen=replace(pen, colour=PAPER, width_pt=4.0, dashes=())))
            items.append(Area(inner, pen=pen))
        place = room.polygon.representative_point()
        west, south, east, north = room.polygon.bounds
        # a word is centred in the room: it may reach to the nearer wall
        wide_pt = 2.0 * min(place.x - west, east - place.x) * mm_per_m * PT_PER_MM
        tall_pt = 2.0 * min(place.y - south, north - place.y) * mm_per_m * PT_PER_MM
        said, name = f"{SIGNS[outcome]} {outcome}", room.name or room.id
        if _width(said) > wide_pt:
            said = SIGNS[outcome]
        both = _width(name) <= wide_pt and tall_pt >= 3.2 * _PT
        labels.append(
            Label(place.x, place.y, said, _PT, pen.colour, True, "centre", "middle", PAPER,
                  (0.0, -6.0 if both else 0.0))
        )  # fmt: skip
        if both:
            labels.append(
                Label(place.x, place.y, name, _PT, INK, False, "centre", "middle", PAPER,
                      (0.0, 6.0))
            )  # fmt: skip
    return (*items, *building(floor), *openings(floor, mm_per_m), *labels)


def paper_under(floor: Floor) -> BaseGeometry:
    """Return paper (m) that hides what the plan shows of a floor and beside it."""
    west, south, east, north = extent(floor)
    beside = max(east - west, north - south)
    return shapely.box(west - beside, south - beside, east + beside, north + beside)


def _width(text: str) -> float:
    """Return about how wide a text is (pt)."""
    return 0.66 * _PT * len(text)
