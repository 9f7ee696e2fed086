"""Nested zones as they are drawn and listed: each level by colour, hatch and line."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.model import ZONE_NAMES, Zones
from hgmap.report.column import SMALL_PT, TEXT_PT, Column
from hgmap.report.drawing import Area, Drawing, Hatch, Item, Label, Path, Pen
from hgmap.report.palette import INK, PAPER, SOFT, ZONE_LOOKS, ZoneLook
from hgmap.report.typeset import width_mm
from hgmap.report.words import level_value, square_metres

# From the highest level down; hues after Okabe and Ito (2008), darkened; from memory.
LEVEL_LOOKS: Final[tuple[ZoneLook, ...]] = (
    ZoneLook(Hatch("cross", "#8f2d6b", 5.0, 0.9), Pen("#8f2d6b", 2.4)),
    ZoneLook(Hatch("diagonal", "#c74a00", 5.5, 1.1), Pen("#c74a00", 2.0, (9.0, 2.2))),
    ZoneLook(Hatch("dots", "#00508a", 6.0, 1.7), Pen("#00508a", 1.7, (4.5, 2.2))),
    ZoneLook(Hatch("diagonal", "#4d5358", 11.0, 0.6), Pen("#4d5358", 1.4, (1.6, 2.0))),
)
CLEAR_FILL: Final = "#dcefe6"
_APART_MM: Final = 0.85
"""Outlines that coincide are drawn this far apart, the higher level inside."""
_SWATCH: Final = (10.0, 4.8)


def nested_areas(levels: Sequence[Zones], mm_per_m: float) -> Drawing:
    """Draw the zones of several levels, the highest first in ``levels`` (m).

    Ground carries the hatch of the highest level at which it is to remediate; a thick outline goes
    round all that is so at a level, a thin one round all that is not clear at it.
    """
    items: list[Item] = []
    clear = _ground(levels[-1], "clear")
    if not clear.is_empty:
        items.append(Area(clear, fill=CLEAR_FILL))
    unknown = _ground(levels[-1], "no data")
    look = ZONE_LOOKS["no data"]
    if not unknown.is_empty:
        items.append(Area(unknown, hatch=look.hatch))
    higher: BaseGeometry = shapely.Polygon()
    for zones, look in zip(levels, LEVEL_LOOKS, strict=False):
        ground = _ground(zones, "remediate")
        ring = polygonal(shapely.difference(ground, higher))
        higher = ground
        if not ring.is_empty:
            items.append(Area(ring, hatch=look.hatch_rim))
            items.append(Area(ring, hatch=look.hatch))
    for place in reversed(range(len(levels))):  # the highest on top
        zones, look = levels[place], LEVEL_LOOKS[place]
        apart = _APART_MM * (len(levels) - 1 - place)
        inset = (0.3 + 0.18 * look.pen.width_pt + apart) / mm_per_m
        thin = _thin(look)
        for room in sorted({zone.room for zone in zones.zones}):
            own = [one for one in zones.zones if one.room == room]
            doubtful = shapely.union_all([one.geometry for one in own if one.name != "clear"])
            # a room that is nowhere clear has its line too: bare ground would be taken for clear
            if any(one.name in ("clear", "resample") for one in own):
                items += _outline(doubtful, inset, thin, mm_per_m)
            remediate = [one.geometry for one in own if one.name == "remediate"]
            items += _outline(shapely.union_all(remediate), inset, look.pen, mm_per_m)
    return tuple(items)


def levels_panel(column: Column, levels: Sequence[Zones], main: Zones) -> None:
    """List the levels with their signs and what each rules (m²)."""
    highest, lowest = levels[0], levels[-1]
    column.text(
        f"{square_metres(highest.area_m2('remediate'))} to remediate at "
        f"{level_value(highest.level)}, {square_metres(lowest.area_m2('remediate'))} at "
        f"{level_value(lowest.level)}; {square_metres(lowest.area_m2('clear'))} clear at every "
        "level.",
        9.5, bold=True,
    )  # fmt: skip
    column.skip(2.0)
    column.heading("Levels, the highest first")
    wide, high = _SWATCH
    for zones, look in zip(levels, LEVEL_LOOKS, strict=False):
        top, left = column.top_mm, column.left_mm
        column.draw(Area(shapely.box(left, top - high, left + wide, top), hatch=look.hatch,
                         pen=look.pen))  # fmt: skip
        value = level_value(zones.level)
        right = left + column.width_mm
        column.draw(Label(right, top, value, TEXT_PT, INK, bold=True, across="right", up="top"))
        used = width_mm(value, TEXT_PT, bold=True) + 2.0
        column.line(zones.purpose or "level", TEXT_PT, bold=True, indent_mm=wide + 2.5,
                    right_mm=used)  # fmt: skip
        name = zones.level.name if zones.level.kind != "stated" else "stated by the user"
        of_run = "; zone map and resample list are of this level" if zones is main else ""
        column.text(f"{name}{of_run}", SMALL_PT, colour=SOFT, indent_mm=wide + 2.5, most_lines=2)
        column.skip(1.2)
    column.skip(0.8)
    _table(column, levels)
    column.heading("On the plan")
    _signs(column, LEVEL_LOOKS[0])


def _table(column: Column, levels: Sequence[Zones]) -> None:
    column.heading("Area at each level")
    first = 17.0
    step = (column.width_mm - first) / len(ZONE_NAMES)
    for k, name in enumerate(ZONE_NAMES, start=1):
        column.draw(Label(column.left_mm + first + k * step, column.top_mm, name, SMALL_PT, SOFT,
                          across="right", up="top"))  # fmt: skip
    column.skip(3.2)
    for zones in levels:
        for k, name in enumerate(ZONE_NAMES, start=1):
            text = square_metres(zones.area_m2(name)).replace("under 0.1", "<0.1")
            column.draw(Label(column.left_mm + first + k * step, column.top_mm, text, SMALL_PT,
                              INK, across="right", up="top"))  # fmt: skip
        column.line(level_value(zones.level), SMALL_PT, bold=True,
                    right_mm=column.width_mm - first)  # fmt: skip
        column.skip(0.5)
    column.skip(1.6)


def _signs(column: Column, look: ZoneLook) -> None:
    wide, high = _SWATCH
    lines = (
        (look.pen, "thick: to remediate at a level, in its line"),
        (_thin(look), "thin: not clear at a level, in its line"),
    )
    for pen, words in lines:
        y = column.top_mm - 1.0
        line = shapely.LineString([(column.left_mm, y), (column.left_mm + wide, y)])
        column.draw(Path(line, pen))
        column.line(words, SMALL_PT, indent_mm=wide + 2.5)
        column.skip(1.2)
    grounds = (
        (CLEAR_FILL, None, "clear at every level"),
        (PAPER, None, "bare: to remediate at none, clear not at all of them"),
        (None, ZONE_LOOKS["no data"].hatch, "no data"),
    )
    for fill, hatch, words in grounds:
        left, top = column.left_mm, column.top_mm
        box = shapely.box(left, top - high, left + wide, top)
        column.draw(Area(box, fill=fill, hatch=hatch, pen=Pen(SOFT, 0.5)))
        column.skip(1.0)
        column.line(words, SMALL_PT, indent_mm=wide + 2.5)
        column.skip(2.4)
    column.text(
        "A higher level lies inside every lower one: ground to remediate at a level is so at each "
        "lower one, and ground that is not clear at a level is clear at no lower one.",
        SMALL_PT, colour=SOFT, most_lines=4,
    )  # fmt: skip
    column.skip(1.6)


def _thin(look: ZoneLook) -> Pen:
    return Pen(look.pen.colour, 0.8, look.pen.dashes or (12.0, 1.6))


def _ground(zones: Zones, name: str) -> BaseGeometry:
    return shapely.union_all([one.geometry for one in zones.zones if one.name == name])


def _outline(ground: BaseGeometry, inset_m: float, pen: Pen, mm_per_m: float) -> list[Item]:
    if ground.is_empty:
        return []
    inner = ground.buffer(-inset_m, join_style="mitre")
    shape = ground if inner.is_empty else inner.simplify(0.05 / mm_per_m)
    return [Area(shape, pen=Pen(PAPER, pen.width_pt + 1.2)), Area(shape, pen=pen)]
