"""Rooms by what clearance says of them: hatch, outline and word say the same thing three times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from hgmap.decide.clearance.judge import Outcome
from hgmap.decide.clearance.outcome import LevelClearance, worst
from hgmap.report.drawing import Area, Drawing, Hatch, Item, Label, Pen
from hgmap.report.palette import PAPER
from hgmap.site.building import Floor

SIGNS: Final[dict[Outcome, str]] = {"does not meet": "■", "cannot tell yet": "▲", "meets": "●"}
"""A sign of its own for each outcome; the table has the same."""

# Hues after Okabe and Ito (2008), darkened, as those of the zones.
_LOOKS: Final[dict[Outcome, tuple[Hatch | None, Pen]]] = {
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


def release_scene(floor: Floor, outcomes: Mapping[str, Outcome]) -> Drawing:
    """Hatch the rooms; one that nothing was said of cannot be told yet."""
    items: list[Item] = []
    labels: list[Item] = []
    for room in floor.rooms:
        outcome = outcomes.get(room.id, "cannot tell yet")
        hatch, pen = _LOOKS[outcome]
        items.append(Area(room.polygon, fill=PAPER + "d8"))
        if hatch is not None:
            items.append(Area(room.polygon, hatch=hatch))
        inner = room.polygon.buffer(-0.06, join_style="mitre")
        if not inner.is_empty:
            items.append(Area(inner, pen=replace(pen, colour=PAPER, width_pt=4.0, dashes=())))
            items.append(Area(inner, pen=pen))
        place = room.polygon.representative_point()
        name = Label(place.x, place.y, room.name or room.id, _PT, "#1a1a1a", False, "centre",
                     "middle", PAPER, (0.0, 6.0))  # fmt: skip
        said = Label(place.x, place.y, f"{SIGNS[outcome]} {outcome}", _PT, pen.colour, True,
                     "centre", "middle", PAPER, (0.0, -6.0))  # fmt: skip
        labels += [name, said]
    return (*items, *labels)
