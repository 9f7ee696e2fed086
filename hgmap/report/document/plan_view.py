"""A floor's plan for a screen, small or large: what prints, and what a pointer can be on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import Final

import shapely
from shapely import Point

from hgmap.decide.model import Evidence, ResampleList
from hgmap.report import title_block
from hgmap.report.document.content import Key, PlanView, Target
from hgmap.report.document.survey import SurveyFloor
from hgmap.report.drawing import Area, Drawing, Frame
from hgmap.report.extent import extent
from hgmap.report.legend import READING_WORDS
from hgmap.report.marks import badge, mark
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.plan_drawing import building, contour_lines, opening_sample, openings, zone_areas
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.shades import pictures, shades_of
from hgmap.report.words import (
    chance,
    metres,
    number,
    published_per_computed,
    reading_value,
    square_metres,
)

WIDTH_MM: Final = 190.0
TALLEST_MM: Final = 240.0
LEAST_WIDTH_MM: Final = 90.0
"""A plan as wide as a phone is held, in CSS millimetres (96 pixels an inch)."""

_PAD_MM: Final = 6.0
_BELOW_MM: Final = 13.0
_SWATCH_MM: Final = (10.0, 5.0)
_PIXEL_MM: Final = 2.0
"""Pixels of the estimate are this much coarser on the screen than on paper."""


def plan_view(one: SurveyFloor) -> PlanView:
    """Lay out a floor's plan to be read at its own size, with everything it can be asked."""
    floor = one.floor
    west, south, east, north = extent(floor)
    wide, high = max(east - west, 1e-3), max(north - south, 1e-3)
    mm_per_m = min((WIDTH_MM - 2.0 * _PAD_MM) / wide, (TALLEST_MM - 2.0 * _PAD_MM) / high)
    width = max(wide * mm_per_m + 2.0 * _PAD_MM, LEAST_WIDTH_MM)
    height = high * mm_per_m + 2.0 * _PAD_MM
    empty = Frame(
        (), 0.0, 0.0, width, height,
        (west + east - width / mm_per_m) / 2.0, (south + north - height / mm_per_m) / 2.0, mm_per_m,
    )  # fmt: skip
    here = ResampleList(tuple(p for p in one.resample.places if p.floor == floor.name))
    marks = marks_on_plan(one.evidence, here, empty, one.zones, near=True)
    ground: Drawing = ()
    if one.surface is not None:
        unknown = shapely.union_all([z.geometry for z in one.zones.zones if z.name == "no data"])
        ground = pictures(
            one.surface, floor, shades_of(one.surface, one.evidence),
            published_per_computed(one.evidence.level), mm_per_m / _PIXEL_MM, unknown,
        )  # fmt: skip
    drawing = (
        *ground, *zone_areas(one.zones, mm_per_m), *contour_lines(one.zones), *building(floor),
        *openings(floor, mm_per_m), *marks.drawing,
    )  # fmt: skip
    frame = Frame(drawing, 0.0, 0.0, width, height, empty.west_m, empty.south_m, mm_per_m)
    # the bar without its ratio, which would be that of no screen
    bar = title_block.scale_bar(3.0, 6.0, 0.45 * width, mm_per_m, "")[:-1]
    below = (
        *bar,
        *title_block.north_arrow(0.7 * width, 7.4, floor),
    )
    return PlanView(floor.title, frame, below, _BELOW_MM, tuple(_targets(one)))


def _targets(one: SurveyFloor) -> Iterator[Target]:
    level = one.evidence.level
    factor = published_per_computed(level)
    for zone in one.zones.zones:
        parts = [f"{zone.room_name}: {zone.name}, {square_metres(zone.area_m2)}"]
        parts[0] += f" ({zone.id})" if zone.id else ""
        if zone.highest_estimate is not None:
            parts.append(f"highest estimate {number(zone.highest_estimate * factor)} {level.unit}")
        if zone.probability is not None:
            parts.append(f"chance of being above {chance(zone.probability)}")
        yield Target("zone", zone.geometry, "\n".join([*parts, *zone.reasons]))
    at: dict[tuple[float, float], list[Evidence]] = defaultdict(list)
    for item in one.evidence.items:
        reading = item.reading
        if reading.x is not None and reading.y is not None and item.role != "off the map":
            at[round(reading.x, 2), round(reading.y, 2)].append(item)
    for place in one.resample.places:
        if place.floor == one.floor.name:
            heights = [metres(h) for h in (place.height_m, *place.also_m) if h is not None]
            text = f"Measure again, no. {place.rank}: {place.room_name}, {', '.join(heights)}"
            lines = [text, *place.reasons, *filter(None, [place.instrument])]
            yield Target("place", Point(place.x, place.y), "\n".join(lines))
    for (x, y), items in at.items():
        yield Target("reading", Point(x, y), "\n".join(_told(item, one) for item in items))


def _told(item: Evidence, one: SurveyFloor) -> str:
    reading, level = item.reading, one.evidence.level
    parts = [f"{reading.id}: {reading_value(reading, level)} {level.unit}"]
    if reading.height_m is not None:
        parts.append(f"at {metres(reading.height_m)}")
    if reading.time is not None:
        parts.append(f"{reading.time:%Y-%m-%d %H:%M}")
    parts.append("above the level" if item.above else reading.verdict)
    if item.role != "used":
        parts.append(READING_WORDS.get(item.role, item.role))
    parts += [*item.reasons, *(text for text in reading.cautions if text not in item.reasons)]
    return "; ".join(parts)


def plan_key() -> Key:
    """Show every sign of the plans with what it means."""
    wide, high = _SWATCH_MM
    middle = wide / 2.0, high / 2.0
    entries: list[tuple[Drawing, str]] = []
    for name in reversed(ZONE_LOOKS):
        look = ZONE_LOOKS[name]
        box = shapely.box(0.5, 0.5, wide - 0.5, high - 0.5)
        entries.append(((Area(box, hatch=look.hatch, pen=look.pen),), name))
    entries += [(mark(kind, *middle), words) for kind, words in READING_WORDS.items()]
    entries.append((mark("used", *middle, above=True), "a ring: above the level"))
    entries.append((badge(1, *middle), "measure again here, number 1 first"))
    for state in ("open", "closed", "sealed"):
        sample = opening_sample(state, 3.0, high / 2.0, wide - 6.0)
        entries.append((sample, f"opening, {state}"))
    return Key(tuple(entries), wide, high)
