"""Every kind of sheet of one invented floor, and where their texts stand: no painting here."""

from __future__ import annotations

import functools
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import shapely

from hgmap.decide.change_model import Visit
from hgmap.decide.compare import compare_visits
from hgmap.decide.rooms import room_rows
from hgmap.report import drawing as d
from hgmap.report.change_sheet import change_sheet
from hgmap.report.levels_sheet import levels_sheet
from hgmap.report.readings_sheet import readings_sheet
from hgmap.report.room_sheet import room_sheet
from hgmap.report.sheet import zone_sheet
from hgmap.report.sheet_page import numbered
from hgmap.report.sheet_setup import PAPERS, PLAIN, SheetSetup, sheet_setup
from hgmap.report.surface_sheet import surface_sheet
from hgmap.report.uncertainty_sheet import uncertainty_sheet
from hgmap.site.quality.quality import quality_report
from tests.report.test_sheet import (
    LEVEL,
    evidence_for,
    house_case,
    label_box_mm,
    surface_for,
    zones_for,
)

KINDS = ("zones", "levels", "estimate", "uncertainty", "readings", "room", "change")
PAPER_NAMES = tuple(one.name for one in PAPERS)
ISOLATE = replace(LEVEL, name="isolation, invented level", value=3000.0, concentration=3.0)


def sheets_of(
    case: Any, setup: SheetSetup = PLAIN, only: tuple[str, ...] = KINDS
) -> dict[str, d.Sheet]:
    """Lay out the sheets of a case that it has, by kind, numbered; none is painted."""
    site, round_, evidence, surface, zones, places, warnings = case
    told = {"warnings": warnings, "version": "0.0-test", "setup": setup}
    facts = (site, round_, evidence, surface, zones)
    room = evidence.floor.rooms[0].id
    ways = {
        "zones": lambda: zone_sheet(*facts, places, **told),
        "levels": lambda: levels_sheet(*facts[:4], levels_of(case), **told),
        "estimate": lambda: surface_sheet(*facts, **told),
        "uncertainty": lambda: uncertainty_sheet(*facts, places, **told),
        "readings": lambda: readings_sheet(
            *facts, quality_report(site, evidence.level, round_.name), **told
        ),
        "room": lambda: room_sheet(*facts, places, room, **told),
        "change": lambda: change_sheet(site, rounds_of(case), change_of(case), **told),
    }
    able = KINDS if surface is not None else ("zones", "readings", "room")
    found = {kind: ways[kind]() for kind in only if kind in able}
    return dict(zip(found, numbered(list(found.values())), strict=True))


def levels_of(case: Any) -> tuple[Any, ...]:
    """Return the zones of a higher level, and those of the case."""
    _, _, evidence, surface, zones, *_ = case
    named = replace(zones_for(evidence, surface, ISOLATE), purpose="isolate")
    return named, replace(zones, purpose="back in", level=evidence.level)


def rounds_of(case: Any) -> tuple[Any, Any]:
    """Return the case's round, and a second one."""
    return case[1], replace(case[1], name="second", title="Second survey", date=date(2026, 4, 9))


def change_of(case: Any) -> Any:
    """Compare the case with a second visit that found a fifth of it."""
    _, _, evidence, surface, zones, *_ = case
    found = [one.reading for one in evidence.items]
    less = [one._replace(concentration=0.2 * one.concentration, value=0.2 * one.value)
            for one in found]  # fmt: skip
    after = replace(evidence_for(evidence.floor, less), round="second")
    fallen = replace(surface, mean=surface.mean + np.log(0.2), values=surface.values + np.log(0.2))
    visits = [
        Visit(seen, field, ruled, room_rows(seen, ruled, None))
        for seen, field, ruled in (
            (evidence, surface, zones),
            (after, fallen, zones_for(after, fallen)),
        )
    ]
    return compare_visits(*visits)


def timed(case: Any) -> Any:
    """Return the same case with the time of each reading, in rooms, and all of the title block."""
    site, round_, evidence, *rest = case
    start = datetime(2026, 3, 2, 9, 0)
    items = tuple(
        replace(one, reading=one.reading._replace(
            time=start + timedelta(hours=3 * n), instrument="analyser 1",
            room=room_at(evidence.floor, one.reading.x, one.reading.y),
        ))
        for n, one in enumerate(evidence.items)
    )  # fmt: skip
    block = replace(site.title_block, reviewed_by="R. Nobody", revision="B, second issue")
    return replace(site, title_block=block), round_, replace(evidence, items=items), *rest


def room_at(floor: Any, x: float, y: float) -> str:
    """Return the id of the room nearest a place."""
    return min(floor.rooms, key=lambda one: one.polygon.distance(shapely.Point(x, y))).id


@functools.cache
def house() -> Any:
    """Return the invented house with everything that a sheet can say of it."""
    site, round_, evidence, surface, zones, *rest = timed(house_case())
    blank = tuple(
        replace(one, name="no data") if one.room == "bedroom" and one.name == "clear" else one
        for one in zones.zones
    )
    return site, round_, evidence, surface, replace(zones, zones=blank), *rest


@functools.cache
def house_sheets(paper: str = "a4") -> dict[str, d.Sheet]:
    """Return every sheet of the house on a paper."""
    return sheets_of(house(), sheet_setup(paper))


def random_case(number: int, seed: int) -> Any:
    """Return a house with so many readings of every sort anywhere in its rooms."""
    from tests.report.test_sheet import house as empty_house
    from tests.report.test_sheet import places_for, reading, site_for

    floor, random = empty_house(), np.random.default_rng(seed)
    readings = []
    for n in range(number):
        room = floor.rooms[int(random.integers(len(floor.rooms)))]
        west, south, east, north = room.polygon.bounds
        x, y = west + random.random() * (east - west), south + random.random() * (north - south)
        one = reading(
            str(n), x, y, float(np.exp(random.normal(-0.5, 1.5))),
            qualifier=str(random.choice(["", "", "<", ">"])),
            height=float(random.choice([1.2, 1.2, 0.1])),
            held=("made up",) if random.random() < 0.1 else (),
        )  # fmt: skip
        readings.append(one._replace(room=room.id, cautions=("made up",) * (n % 7 == 0)))
    readings[0] = readings[0]._replace(qualifier="", height_m=1.2, held=())
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 0.25, 3.0)
    site = site_for(floor)
    return (site, site.rounds[0], evidence, surface, zones_for(evidence, surface),
            places_for(floor, 8, seed), ())  # fmt: skip


def boxes_of(sheet: d.Sheet) -> Any:
    """Yield every text with its box on the page (mm), and where its frame ends."""
    for frame in sheet.frames:
        edge = (frame.left_mm, frame.bottom_mm, frame.left_mm + frame.width_mm,
                frame.bottom_mm + frame.height_mm)  # fmt: skip
        for item in frame.drawing:
            if isinstance(item, d.Label):
                yield item.text, label_box_mm(item, frame.to_page), edge
    page = (5.0, 5.0, sheet.width_mm - 5.0, sheet.height_mm - 5.0)
    for item in sheet.page:
        if isinstance(item, d.Label):
            yield item.text, label_box_mm(item, lambda x, y: (x, y)), page


def overlaps(sheet: d.Sheet) -> list[tuple[str, str]]:
    """Return the pairs of texts of which one covers a part of the other."""
    found = list(boxes_of(sheet))
    boxes = shapely.box(*np.array([box for _, box, _ in found]).T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    shared = shapely.area(shapely.intersection(boxes[first], boxes[second]))
    over = (first < second) & (shared > 1e-6)
    return [(found[a][0], found[b][0]) for a, b in zip(first[over], second[over], strict=True)]


def outside(sheet: d.Sheet) -> list[str]:
    """Return the texts that leave the page, or the frame that they stand in."""
    return [
        text
        for text, (left, bottom, right, top), edge in boxes_of(sheet)
        if left < edge[0] or bottom < edge[1] or right > edge[2] or top > edge[3]
    ]
