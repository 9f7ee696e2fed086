"""The site map: the buildings of a site on its one map, each place with the worst of its floors."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import ZoneName
from hgmap.report.drawing import Area, Item, Label, Path, Pen, Sheet
from hgmap.report.layers import on_map
from hgmap.report.map_page import OTHER, building_name, map_net, map_page, near, paper_of, whole
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.paper import write
from hgmap.report.plan_page import (
    KEY_LEFT_MM,
    MARGIN_MM,
    SMALL_PT,
    Head,
    filled,
)
from hgmap.report.run_facts import MappedFloor, RunFacts
from hgmap.report.words import answer, band_line, level_value, named, round_line
from hgmap.site.building import Floor
from hgmap.site.buildings import footprints
from hgmap.site.model import Site

SITE_MAP: Final = ("site-map.pdf", "site-map.png")
WORST_FIRST: Final[tuple[ZoneName, ...]] = ("remediate", "resample", "no data", "clear")
MOST_LINES: Final = 8
"""Floors whose areas stand in the head; zones.csv has all."""
_WALL: Final = Pen("#33373b", 0.9)
_SWATCH_MM: Final = 23.0
FOOT: Final = (
    "Floors of a building lie over one another: a place shows the worst zone of all floors there, "
    "and no data where one of them was not mapped. Map coordinates in metres."
)


def several_buildings(floors: Sequence[MappedFloor]) -> bool:
    """Tell whether there is more than one building on the map to show together."""
    return len({one.floor.building for one in floors if one.floor.map_frame}) > 1


def write_site_map(folder: FilePath, facts: RunFacts, floors: Sequence[MappedFloor]) -> None:
    """Write the site map as PDF and PNG, where there are several buildings; else nothing."""
    if not several_buildings(floors):
        return
    sheet = site_map(facts, floors)
    for name in SITE_MAP:
        write(folder / name, sheet)


def worst_zones(
    floors: Sequence[MappedFloor], unmapped: Sequence[Floor] = ()
) -> dict[ZoneName, BaseGeometry]:
    """Return the ground (m, on the map) of each zone, a place once: by the worst of its floors.

    Of ``unmapped`` floors nothing is known: no place on them is clear because of another floor.
    """
    unknown = [on_map(floor.outline, floor) for floor in unmapped]
    taken: BaseGeometry = shapely.Polygon()
    found: dict[ZoneName, BaseGeometry] = {}
    for name in WORST_FIRST:
        ground = shapely.union_all([
            on_map(zone.geometry, one.floor)
            for one in floors for zone in one.zones.zones if zone.name == name
        ] + (unknown if name == "no data" else []))  # fmt: skip
        found[name] = ground.difference(taken)
        taken = taken.union(ground)
    return found


def site_map(facts: RunFacts, floors: Sequence[MappedFloor]) -> Sheet:
    """Lay out the site map on A4."""
    site = facts.site
    placed = [one for one in floors if one.floor.map_frame is not None]
    grounds = footprints(site.floors)
    title = "Site map, all buildings"
    told = (round_line(facts.round), band_line(facts.band, site.height_bands),
            f"action level {level_value(facts.level)}")  # fmt: skip
    head = Head(site.name, title, ("  ·  ".join(told), *_answers(placed), *_missing(site, placed)),
                site.invented)  # fmt: skip
    page, base = map_page(head, list(grounds.values()), FOOT)
    frame = page.frame
    mapped = {one.floor.building for one in placed}
    shapes = {name: whole(near(ground, base)) for name, ground in grounds.items()}
    paper = paper_of(list(shapes.values()), frame)
    lines, ticks = map_net(frame, base, paper)
    drawing: list[Item] = [*lines]
    # the worst of a building is that of its own floors, also where another overlaps it
    for building in sorted(mapped):
        own = [one for one in placed if one.floor.building == building]
        rest = [one for one in site.floors if one.building == building and one.map_frame
                and one.name not in {made.floor.name for made in own}]  # fmt: skip
        drawing += _zones(worst_zones(own, rest), base, frame.mm_per_m)
    for name, shape in shapes.items():
        drawing.append(Path(shape.boundary, _WALL if name in mapped else OTHER))
    for name, shape in shapes.items():
        drawing += building_name(name, shape, paper, frame, beside=True) if name else ()
    items = (*page.items, *ticks, *_key(page.strip_mm, unmapped=set(shapes) - mapped))
    return Sheet(page.width_mm, page.height_mm, (filled(frame, tuple(drawing)),), items,
                 f"{site.name}: {title}", site.title_block.prepared_by)  # fmt: skip


def _answers(floors: Sequence[MappedFloor]) -> list[str]:
    lines = [
        f"{named([text for text in (one.floor.building, one.floor.title) if text])}: "
        f"{answer(one.zones)}"
        for one in floors
    ]
    more = len(lines) - MOST_LINES
    return lines if more <= 0 else [*lines[:MOST_LINES], f"and {more} floors more: see zones.csv"]


def _missing(site: Site, placed: Sequence[MappedFloor]) -> list[str]:
    """Say which floors the map does not speak for: ground may be clear for want of them."""
    shown = {one.floor.name for one in placed}
    lost = [one.title for one in site.floors if one.name not in shown]
    lost += site.floors_without_a_plan
    return [f"not in this map, and not known: {named(lost)}"] if lost else []


def _zones(
    grounds: dict[ZoneName, BaseGeometry], base: NDArray[np.float64], mm_per_m: float
) -> list[Item]:
    items: list[Item] = []
    for name in reversed(WORST_FIRST):
        ground, look = near(grounds[name], base), ZONE_LOOKS[name]
        if ground.area < 0.01:
            continue
        inset = (0.25 + look.pen.width_pt * 0.18) / mm_per_m
        if look.hatch is not None:
            items += [Area(ground, hatch=look.hatch_rim), Area(ground, hatch=look.hatch)]
        inner = ground.buffer(-inset, join_style="mitre")
        outline = ground if inner.is_empty else inner
        items += [Area(outline, pen=look.pen_rim), Area(outline, pen=look.pen)]
    return items


def _key(strip_mm: float, *, unmapped: set[str]) -> list[Item]:
    left, y = MARGIN_MM + KEY_LEFT_MM, strip_mm - 5.0
    items: list[Item] = []
    for k, name in enumerate(WORST_FIRST):
        x, look = left + k * _SWATCH_MM, ZONE_LOOKS[name]
        box = shapely.box(x, y - 2.0, x + 7.0, y + 2.0)
        items += [Area(box, hatch=look.hatch, pen=look.pen),
                  Label(x + 8.5, y, name, SMALL_PT, up="middle")]  # fmt: skip
    if unmapped:
        line = shapely.LineString([(left, y - 6.0), (left + 7.0, y - 6.0)])
        items += [Path(line, OTHER),
                  Label(left + 8.5, y - 6.0, "building that this run did not map", SMALL_PT,
                        up="middle")]  # fmt: skip
    return items
