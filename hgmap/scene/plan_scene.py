"""A floor before anything is known of its air: rooms, openings, names, and readings as written.

It is what the window paints first, so it imports nothing that estimates.
"""

from __future__ import annotations

from collections.abc import Sequence

from hgmap.report.drawing import Drawing, Frame, Item, Label
from hgmap.report.free_paper import free_paper, on_paper
from hgmap.report.marks import mark
from hgmap.report.palette import PAPER
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_values import VALUE_PT
from hgmap.report.room_names import names_in_rooms
from hgmap.scene.screen import screen_frame
from hgmap.site.building import Floor
from hgmap.site.reading import Reading


def plan_scene(floor: Floor, readings: Sequence[Reading], px_per_m: float) -> Drawing:
    """Draw a floor and its readings for a screen (pixels for a metre)."""
    frame = screen_frame(floor, px_per_m)
    return (
        *plan_outline(floor, px_per_m),
        *room_names(floor, frame),
        *plain_readings(readings),
    )


def plan_outline(floor: Floor, px_per_m: float) -> Drawing:
    """Draw rooms, walls and openings without a word: what can be shown at once."""
    return (*building(floor), *openings(floor, screen_frame(floor, px_per_m).mm_per_m))


def room_names(floor: Floor, frame: Frame) -> Drawing:
    """Set the names of rooms where there is room for them."""
    rooms = [on_paper(room.polygon, frame) for room in floor.rooms]
    names = [room.name or room.id for room in floor.rooms]
    return tuple(names_in_rooms(names, rooms, frame, free_paper(floor, frame, rooms))[0])


def plain_readings(readings: Sequence[Reading]) -> Drawing:
    """Draw readings for which there is no level yet: a dot or a cross, and what was written."""
    items: list[Item] = []
    for one in readings:
        if one.x is None or one.y is None:
            continue
        items += mark("held" if one.held else "used", one.x, one.y)
        if one.value is not None:
            text = f"{one.qualifier if one.qualifier in ('<', '>', '~') else ''}{one.value:g}"
            items.append(
                Label(one.x, one.y, text, VALUE_PT, halo=PAPER, up="middle", offset_pt=(4.0, 0.0))
            )
    return tuple(items)
