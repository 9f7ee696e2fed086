"""The zone sheet, from an invented survey; every number here is made up."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely

from hgmap.decide.model import (
    Evidence,
    FloorEvidence,
    ResampleList,
    ResamplePlace,
    Zone,
    Zones,
)
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface
from hgmap.field.validate import Scores
from hgmap.field.variogram import AveragedFit
from hgmap.report import drawing as d
from hgmap.report.paper import svg_bytes
from hgmap.report.sheet import zone_sheet
from hgmap.report.title_block import method_line
from hgmap.report.typeset import width_mm
from hgmap.report.words import reading_value
from hgmap.site.building import Floor, HeightBand, Opening, Room
from hgmap.site.model import ActionLevel, MapSettings, Round, Site, TitleBlock
from hgmap.site.reading import Reading

LEVEL = ActionLevel(
    name="homes, invented level",
    value=1000.0,
    unit="ng/m³",
    medium="air",
    concentration=1.0,
    averaging="8 h",
    height="breathing zone",
    scenario="normal occupancy of a dwelling",
    kind="occupancy",
    uses=("dwelling",),
    source="invented agency",
    year=2026,
)


def reading(name, x, y, value, *, qualifier="", height=1.2, unit="µg/m³", held=()):
    return Reading(
        id=name,
        round="first",
        floor="ground",
        room="",
        x=x,
        y=y,
        height_m=height,
        time=None,
        value=value,
        unit=unit,
        qualifier=qualifier,
        note="",
        concentration=value,
        band="breathing zone",
        placed="given",
        where=f"readings.csv, row {name}",
        held=held,
    )


def box_room(name, west, south, east, north):
    return Room(name.lower(), name, shapely.box(west, south, east, north))


def house():
    """Three rooms and a corridor, 12 cm walls, an open, a closed and a sealed door."""
    rooms = (
        box_room("Workshop", 0.0, 2.12, 5.0, 7.0),
        box_room("Kitchen", 5.12, 2.12, 8.6, 7.0),
        box_room("Bedroom", 8.72, 2.12, 12.5, 7.0),
        box_room("Corridor", 0.0, 0.0, 12.5, 2.0),
    )
    walls = (
        shapely.LineString([(0, 2.06), (12.5, 2.06)]),
        shapely.LineString([(5.06, 2.06), (5.06, 7.0)]),
        shapely.LineString([(8.66, 2.06), (8.66, 7.0)]),
    )
    openings = (
        Opening("a", shapely.LineString([(2.0, 2.06), (2.9, 2.06)]), "open"),
        Opening("b", shapely.LineString([(6.4, 2.06), (7.3, 2.06)]), "closed"),
        Opening("c", shapely.LineString([(10.2, 2.06), (11.1, 2.06)]), "sealed"),
    )
    return Floor("ground", "Ground floor", rooms, walls, openings, north_deg=30.0)


def evidence_for(floor, readings, level=LEVEL):
    items = []
    for one in readings:
        role = "used"
        if one.held:
            role = "held"
        elif one.height_m is not None and one.height_m < 0.5:
            role = "other height"
        above = one.qualifier == ">" or (
            one.qualifier == "" and (one.concentration or 0.0) > level.concentration
        )
        items.append(Evidence(one, role, above, one.held))
    used = [item.reading for item in items if item.role == "used"]
    return FloorEvidence(
        floor=floor,
        round="first",
        band="breathing zone",
        level=level,
        items=tuple(items),
        xy=np.array([(one.x, one.y) for one in used]).reshape(-1, 2),
        concentration=np.array([one.concentration for one in used], dtype=float),
        notes=("2 readings at 0.03 m belong to another height band.",),
    )


def surface_for(evidence, cell_m, reach_m):
    """A smooth made-up field through the readings: no estimate, only something to draw."""
    raster = Raster.over(evidence.floor, cell_m)
    points = raster.points()
    logs = np.log(np.maximum(evidence.concentration, 1e-3))
    weight = np.zeros(len(points))
    total = np.zeros(len(points))
    for place, value in zip(evidence.xy, logs, strict=True):
        near = 1.0 / (np.hypot(*(points - place).T) ** 2 + (0.05 * reach_m) ** 2)
        weight += near
        total += near * value
    mean = raster.spread(total / weight)
    return Surface(
        raster=raster,
        mean=mean,
        sd=np.where(np.isfinite(mean), 0.4, np.nan),
        scale="log",
        method="kriging",
        xy=evidence.xy,
        values=logs,
        degrees_of_freedom=10,
        variogram=None,
        scores=Scores(len(logs), 0.0, 0.3, 1.0, 0.95, np.zeros(len(logs))),
        notes=("Made-up surface.",),
    )


def zones_for(evidence, surface, level=LEVEL):
    """Cut the rooms by the made-up field; with no field everything is to be measured again."""
    import contourpy

    floor = evidence.floor
    zones, contours = [], []
    for room in floor.rooms:
        if surface is None:
            zones.append(Zone("no data", room.id, room.name, room.polygon, None, None, None, ()))
            continue
        raster = surface.raster
        filled = np.where(np.isfinite(surface.mean), surface.mean, np.nanmedian(surface.mean))
        generator = contourpy.contour_generator(raster.x, raster.y, filled)
        at = np.log(level.concentration)
        cuts = {"remediate": (at, 99.0), "resample": (at - 1.2, at), "clear": (-99.0, at - 1.2)}
        left = room.polygon
        for name, (low, high) in cuts.items():
            polygons, offsets = generator.filled(low, high)
            rings = [
                shapely.Polygon(points[o[0] : o[1]], [points[a:b] for a, b in pairwise(o[1:])])
                for points, o in zip(polygons, offsets, strict=True)
            ]
            shape = shapely.union_all(shapely.make_valid(rings)).intersection(left)
            if shape.area > 0.0:
                zones.append(Zone(name, room.id, room.name, shape, 1.0, None, 0.5, ("made up",)))
                left = left.difference(shape)
        if left.area > 1e-6 * room.polygon.area:
            zones.append(Zone("no data", room.id, room.name, left, None, None, None, ("far",)))
        for line in generator.lines(at):
            cut = shapely.LineString(line).intersection(room.polygon)
            contours += [
                part
                for part in shapely.get_parts(cut)
                if part.geom_type == "LineString" and not part.is_empty
            ]
    return Zones(floor, level, tuple(zones), tuple(contours), 0.5, 0.05)


def site_for(floor, *, level=LEVEL, invented=True):
    return Site(
        folder=Path("made-up"),
        name="House at $5 & <b>Mill_Lane</b>",
        analyte="mercury",
        medium="air",
        use="dwelling",
        invented=invented,
        level=level,
        floors=(floor,),
        rounds=(Round("first", "First survey", date(2026, 3, 2), ()),),
        height_bands=(HeightBand("breathing zone", 0.9, 1.6),),
        readings=(),
        settings=MapSettings(),
        title_block=TitleBlock(
            client="A family that does not exist",
            address="1 Nowhere Lane, Inventedville, with a second line that goes on for a while",
            prepared_by="N. Nobody",
            reviewed_by="",
            project="Made-up 12",
            instrument="invented direct-reading instrument, serial 000",
        ),
        problems=(),
    )


def places_for(floor, n, seed=3):
    random = np.random.default_rng(seed)
    places = []
    for rank in range(1, n + 1):
        room = floor.rooms[rank % len(floor.rooms)]
        west, south, east, north = room.polygon.bounds
        x = west + (0.1 + 0.8 * random.random()) * (east - west)
        y = south + (0.1 + 0.8 * random.random()) * (north - south)
        places.append(
            ResamplePlace(
                rank,
                "ground",
                room.id,
                room.name,
                x,
                y,
                1.2,
                ("the chance of being above the level is between 5 % and 50 % here",),
                4.0,
            )
        )
    return ResampleList(tuple(places))


WARNINGS = (
    "The survey was made at 14 °C: mercury readings in a cold house are low. Measure again warm.",
    "The span check of the instrument is 14 months old.",
)


def house_case():
    floor = house()
    readings = [
        reading("1", 1.0, 6.0, 8.2),
        reading("2", 2.4, 4.6, 999.0, qualifier=">"),
        reading("3", 4.2, 3.2, 2.1),
        reading("4", 0.9, 3.0, 3.3),
        reading("5", 6.2, 5.9, 0.31),
        reading("6", 7.8, 3.4, 0.22),
        reading("7", 9.5, 6.0, 0.05, qualifier="<"),
        reading("8", 11.6, 3.4, 0.05, qualifier="<"),
        reading("9", 1.4, 1.0, 1.4),
        reading("10", 5.2, 1.0, 0.62),
        reading("11", 9.3, 1.0, 0.11),
        reading("12", 12.0, 1.0, 0.08),
        reading("13", 2.6, 4.5, 85.0, height=0.03),
        reading("14", 7.0, 4.4, 0.9, held=("warm-up not finished",)),
        reading("15", 6.2, 5.9, 0.35),
    ]
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 0.1, 3.0)
    zones = zones_for(evidence, surface)
    site = site_for(floor)
    return site, site.rounds[0], evidence, surface, zones, places_for(floor, 6), WARNINGS


def bare_case():
    site, round_, evidence, _, _, places, _ = house_case()
    floor = replace(house(), north_deg=None, walls=())
    evidence = replace(evidence, floor=floor)
    reason = ("Three usable readings are too few for an estimate; five are needed.",)
    return site, round_, evidence, None, zones_for(evidence, None), places, reason


def closet_case():
    """One room, 3 m by 5 m, taller than wide."""
    floor = Floor("ground", "Cellar", (box_room("Store", 0, 0, 3.0, 5.0),), north_deg=200.0)
    level = replace(LEVEL, value=1.0, unit="µg/m³", from_memory=True)
    readings = [
        reading("1", 0.5, 0.5, 0.4),
        reading("2", 2.4, 0.7, 0.9),
        reading("3", 1.5, 4.0, 3.0),
        reading("4", 0.6, 4.4, 1.7),
        reading("5", 1.4, 2.2, 0.7),
    ]
    evidence = evidence_for(floor, readings, level)
    surface = surface_for(evidence, 0.05, 2.0)
    site = site_for(floor, level=level, invented=False)
    zones = zones_for(evidence, surface, level)
    return site, site.rounds[0], evidence, surface, zones, places_for(floor, 2), ()


def hospital_case():
    """Sixty rooms over 500 m, with names long and short and rooms too small for any."""
    rooms = []
    for row in range(4):
        for column in range(15):
            west, south = column * 33.0, row * 45.0
            east = west + (31.0 if column % 4 else 9.0)
            name = f"R{row}{column:02}" if column % 3 else f"Laboratory {row}.{column} preparation"
            rooms.append(Room(f"r{row}-{column}", name, shapely.box(west, south, east, south + 38)))
    floor = Floor("ground", "Level 3", tuple(rooms), north_deg=-45.0)
    random = np.random.default_rng(7)
    readings = []
    for index in range(110):
        room = rooms[index % 60].polygon.bounds
        x = room[0] + random.random() * (room[2] - room[0])
        y = room[1] + random.random() * (room[3] - room[1])
        readings.append(reading(str(index), x, y, float(np.exp(random.normal(-1.5, 1.2)))))
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 1.0, 60.0)
    site = site_for(floor)
    zones = zones_for(evidence, surface)
    return site, site.rounds[0], evidence, surface, zones, places_for(floor, 24), WARNINGS


def country_case():
    """A 'floor' of 1,000 km with 598 readings."""
    outline = shapely.Point(5e5, 3e5).buffer(3.2e5, quad_segs=12)
    outline = shapely.affinity.scale(outline, 1.5, 0.9)
    floor = Floor("ground", "Region", (Room("all", "Everything", outline),))
    random = np.random.default_rng(11)
    readings = []
    while len(readings) < 598:
        x, y = random.random() * 1e6, random.random() * 6e5
        if outline.contains(shapely.Point(x, y)):
            far = np.hypot(x - 3.5e5, y - 3e5) / 2.5e5
            value = float(np.exp(random.normal(1.0 - far, 0.6)))
            readings.append(reading(str(len(readings)), x, y, value))
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 5000.0, 1e5)
    site = site_for(floor)
    zones = zones_for(evidence, surface)
    return site, site.rounds[0], evidence, surface, zones, places_for(floor, 40), WARNINGS


def tower_case():
    """Rooms of odd shapes, taller than wide, no walls listed, rooms that share edges."""
    rooms = (
        Room("hall", "Hall", shapely.Polygon([(0, 0), (9, 0), (9, 4), (4, 4), (4, 22), (0, 22)])),
        Room("ward", "Treatment room with a very long name indeed", shapely.box(4, 4, 9, 10)),
        Room("office", "Office", shapely.box(4, 10, 9, 13)),
        Room("wc", "WC", shapely.box(4, 13, 5.2, 14.5)),
        Room("lab", "Laboratory", shapely.box(5.2, 13, 9, 22)),
        Room("shaft", "Shaft", shapely.box(4, 14.5, 5.2, 22)),
    )
    openings = (
        Opening("a", shapely.LineString([(4, 6), (4, 7)]), "open"),
        Opening("b", shapely.LineString([(4, 11), (4, 12)]), "closed"),
        Opening("c", shapely.LineString([(5.2, 18), (5.2, 19)]), "sealed"),
    )
    floor = Floor("ground", "Ground floor", rooms, (), openings, north_deg=0.0)
    random = np.random.default_rng(5)
    readings = []
    while len(readings) < 55:
        x, y = random.random() * 9, random.random() * 22
        value = float(np.exp(random.normal(0.6 - 0.12 * y, 0.7)))
        low = len(readings) % 9 == 0
        readings.append(
            reading(
                str(len(readings)),
                x,
                y,
                value,
                qualifier="<" if value < 0.1 else "",
                height=0.1 if low else 1.2,
            )
        )
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 0.1, 3.0)
    site = site_for(floor)
    zones = zones_for(evidence, surface)
    many = (
        *WARNINGS,
        *(f"Made-up warning number {n}, longer than one line of it." for n in range(30)),
    )
    return site, site.rounds[0], evidence, surface, zones, places_for(floor, 12), many


def cases():
    return {
        "house": house_case,
        "bare": bare_case,
        "closet": closet_case,
        "hospital": hospital_case,
        "country": country_case,
        "tower": tower_case,
    }


def sheet_of(case):
    *facts, warnings = case
    return zone_sheet(*facts, warnings=warnings, version="0.0-test")


def label_box_mm(label, place):
    """Where a text stands on the page: left, bottom, right, top, in mm."""
    x, y = place(label.x, label.y)
    x += label.offset_pt[0] / d.PT_PER_MM
    y += (label.offset_pt[1] + label.baseline_shift_pt) / d.PT_PER_MM
    wide = width_mm(label.text, label.size_pt, label.bold)
    left = x - {"left": 0.0, "centre": 0.5, "right": 1.0}[label.across] * wide
    high = d.CAP_HEIGHT * label.size_pt / d.PT_PER_MM
    return left, y, left + wide, y + high


def labels_mm(sheet):
    frame = sheet.frames[0]
    for item in frame.drawing:
        if isinstance(item, d.Label):
            yield item, label_box_mm(item, frame.to_page)
    for item in sheet.page:
        if isinstance(item, d.Label):
            yield item, label_box_mm(item, lambda x, y: (x, y))


@pytest.mark.parametrize("name", list(cases()))
def test_nothing_leaves_the_page(name):
    sheet = sheet_of(cases()[name]())
    for label, (left, bottom, right, top) in labels_mm(sheet):
        assert left >= 5.0, label
        assert right <= sheet.width_mm - 5.0, label
        assert bottom >= 5.0, label
        assert top <= sheet.height_mm - 5.0, label
    for item in sheet.page:
        if isinstance(item, d.Area | d.Path):
            west, south, east, north = item.shape.bounds
            assert west >= 5.0, item
            assert south >= 5.0, item
            assert east <= sheet.width_mm - 5.0, item
            assert north <= sheet.height_mm - 5.0, item


@pytest.mark.parametrize("name", list(cases()))
def test_no_two_texts_of_the_plan_cover_each_other(name):
    sheet = sheet_of(cases()[name]())
    frame = sheet.frames[0]
    labels = [item for item in frame.drawing if isinstance(item, d.Label)]
    boxes = shapely.box(*np.array([label_box_mm(one, frame.to_page) for one in labels]).T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert len(labels) > 5
    assert [
        (labels[a].text, labels[b].text) for a, b in zip(first, second, strict=True) if a < b
    ] == []


@pytest.mark.parametrize("name", list(cases()))
def test_no_two_texts_beside_the_plan_cover_each_other(name):
    sheet = sheet_of(cases()[name]())
    labels = [item for item in sheet.page if isinstance(item, d.Label)]
    boxes = shapely.box(*np.array([label_box_mm(one, lambda x, y: (x, y)) for one in labels]).T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    assert [
        (labels[a].text, labels[b].text) for a, b in zip(first, second, strict=True) if a < b
    ] == []


def test_the_mandatory_parts_are_on_the_sheet():
    found = d.texts(sheet_of(house_case()))
    together = " ".join(found)
    for text in (
        "House at $5 & <b>Mill_Lane</b>",
        "INVENTED DATA",
        "Action level 1000 ng/m³",
        "averaging: 8 h",
        "source: invented agency, 2026",
        "2 March 2026",
        "0.9 to 1.6 m above the floor",
        "A family that does not exist",
        "N. Nobody",
        "not stated",
        "ordinary kriging along straight lines, logarithms of concentration, 13 places",
        "hgmap 0.0-test",
        "Screening of the air at the time of the survey; not a health opinion.",
        "Local codes and licensed practice decide.",
        "Contours are interpretation",
        "Estimate, ng/m³",
        "level 1000",
        "1 : 75 on A4 paper",
        "2 m",
        "sealed",
    ):
        assert text in together, text
    assert {"Workshop", "Kitchen", "Bedroom", "Corridor", "N"} <= set(found)
    assert {"remediate", "resample", "clear", "no data"} <= set(found)


def test_values_are_in_the_unit_of_the_level():
    found = d.texts(sheet_of(house_case()))
    assert ">999000" in found
    assert found.count("<50") == 2
    assert "310; 350" in found  # two readings at one place
    assert "85000 at 0.03 m" in found


def test_a_value_written_in_the_unit_of_the_level_is_printed_as_written():
    found = d.texts(sheet_of(closet_case()))
    assert {"0.4", "0.9", "3", "1.7", "0.7"} <= set(found)


def test_a_level_from_memory_is_called_so():
    assert any("value from memory" in text for text in d.texts(sheet_of(closet_case())))
    assert not any("value from memory" in text for text in d.texts(sheet_of(house_case())))


def test_a_real_site_has_no_banner():
    assert "INVENTED DATA" not in d.texts(sheet_of(closet_case()))


def test_a_sheet_with_no_estimate_says_why():
    sheet = sheet_of(bare_case())
    together = " ".join(d.texts(sheet))
    assert "No estimate was made: Three usable readings are too few" in together
    assert "north not stated" in together
    assert "Estimate, ng/m³" not in together
    assert not any(isinstance(item, d.Picture) for item in sheet.frames[0].drawing)


def test_the_answer_adds_up_to_the_zones():
    case = house_case()
    zones = case[4]
    together = " ".join(d.texts(sheet_of(case)))
    assert f"{zones.area_m2('remediate'):.1f} m² to remediate" in together
    assert f"{zones.area_m2('clear'):.1f} m² clear" in together


def test_the_numbers_on_the_plan_are_the_ranks_of_the_list():
    case = house_case()
    sheet = sheet_of(case)
    on_plan = [
        item.text
        for item in sheet.frames[0].drawing
        if isinstance(item, d.Label) and item.colour == "#ffffff"
    ]
    assert on_plan == [str(place.rank) for place in case[5].places]


def test_a_place_of_another_floor_is_not_drawn():
    case = list(house_case())
    upstairs = replace(case[5].places[0], floor="upstairs", rank=7)
    case[5] = ResampleList((*case[5].places, upstairs))
    assert "7" not in d.texts(sheet_of(tuple(case)))


def test_zones_differ_without_colour():
    sheet = sheet_of(house_case())
    looks = set()
    for item in sheet.page:
        if isinstance(item, d.Area) and item.pen is not None and item.pen.dashes:
            looks.add((item.hatch.name if item.hatch else None, item.pen.dashes))
    assert len({hatch for hatch, _ in looks}) == 3
    assert len({dashes for _, dashes in looks}) == 3


def test_a_floor_taller_than_wide_stands_upright():
    tall, wide = sheet_of(tower_case()), sheet_of(house_case())
    assert tall.height_mm > tall.width_mm
    assert wide.height_mm < wide.width_mm


def test_too_many_readings_are_thinned_and_the_legend_says_so():
    case = country_case()
    sheet = sheet_of(case)
    together = " ".join(d.texts(sheet))
    assert "of 598 readings: those above the level first" in together
    bold = [i for i in sheet.frames[0].drawing if isinstance(i, d.Label) and i.bold]
    plain = [
        i
        for i in sheet.frames[0].drawing
        if isinstance(i, d.Label) and not i.bold and i.text[0].isdigit()
    ]
    assert len(bold) - len(case[5].places) > len(plain)


def test_a_reading_with_no_place_is_counted_in_the_notes():
    case = list(house_case())
    lost = reading("99", None, None, 0.2, held=("no place",))
    case[2] = replace(case[2], items=(*case[2].items, Evidence(lost, "held", False, ("no place",))))
    case[5], case[6] = ResampleList(()), ()
    together = " ".join(d.texts(sheet_of(tuple(case))))
    assert "1 reading held: no place" in together
    assert "1 reading held: warm-up not finished" in together
    assert "1 reading without a place on this plan" in together


def test_the_estimate_is_painted_only_inside_rooms():
    case = house_case()
    sheet = sheet_of(case)
    painted = [item for item in sheet.frames[0].drawing if isinstance(item, d.Picture)]
    assert len(painted) == len(case[2].floor.rooms)
    unknown = shapely.union_all([zone.geometry for zone in case[4].zones if zone.name == "no data"])
    known = shapely.union_all([room.polygon for room in case[2].floor.rooms]).difference(unknown)
    assert unknown.area > 0.5
    shown = shapely.union_all([picture.clip for picture in painted])
    assert shown.symmetric_difference(known).area < 1e-6


def test_texts_with_no_end_stay_on_the_page():
    case = list(house_case())
    endless = "Donau" * 80
    block = TitleBlock(*(endless + " " + "word " * 90 for _ in range(6)))
    case[0] = replace(case[0], name=endless, title_block=block)
    case[6] = (endless, "word " * 400)
    sheet = sheet_of(tuple(case))
    for label, (left, _, right, _) in labels_mm(sheet):
        assert left >= 5.0, label
        assert right <= sheet.width_mm - 5.0, label


def test_a_reading_at_another_height_does_not_hide_the_one_that_is_used():
    case = list(house_case())
    low = Evidence(reading("low", 7.8, 3.4, 0.5, height=0.03), "other height", False)
    case[2] = replace(case[2], items=(*case[2].items, low))
    sheet = sheet_of(tuple(case))
    frame = sheet.frames[0]
    dots = [item for item in frame.drawing if isinstance(item, d.Dot)]
    circle = next(dot for dot in dots if (dot.x, dot.y) == pytest.approx((7.8, 3.4)))
    triangles = [dot for dot in dots if dot.shape == "triangle"]
    apart = min(np.hypot(dot.x - circle.x, dot.y - circle.y) for dot in triangles)
    assert circle.shape == "circle"
    assert apart * frame.mm_per_m * d.PT_PER_MM > 5.0


def test_notes_that_find_no_room_beside_the_plan_go_under_it_and_none_is_lost():
    case = list(house_case())
    case[6] = tuple(f"made-up warning {n}, as long as such a sentence may be" for n in range(12))
    sheet = sheet_of(tuple(case))
    together = " ".join(d.texts(sheet))
    assert all(f"made-up warning {n}, as" in together for n in range(12))
    assert "more, in the results" not in together
    heading = next(one for one in sheet.page if getattr(one, "text", "") == "Notes and warnings")
    assert heading.x == pytest.approx(sheet.frames[0].left_mm)
    assert heading.y < sheet.frames[0].bottom_mm


def test_notes_that_no_page_holds_are_counted():
    case = list(house_case())
    case[6] = tuple(f"made-up warning {n}, longer than a line: {'word ' * 40}" for n in range(60))
    together = " ".join(d.texts(sheet_of(tuple(case))))
    shown = [n for n in range(60) if f"made-up warning {n}, longer" in together]
    assert shown == list(range(len(shown)))
    assert len(shown) > 5
    left = re.search(r"and (\d+) more, in the results", together)
    assert left is not None
    # two readings held for one reason, the evidence's own note, the surface's
    assert int(left.group(1)) == 60 - len(shown) + 3


def test_warnings_come_first_then_what_is_held_then_the_readings_then_cautions_then_the_rest():
    site, round_, evidence, surface, zones, places, warnings = house_case()
    sheet = zone_sheet(
        site, round_, evidence, surface, zones, places, warnings=warnings, cautions=("a caution",)
    )
    together = " ".join(d.texts(sheet))
    order = [
        together.index(text)
        for text in ("at 14 °C", "1 reading held", "2 readings at", "a caution", "Made-up surface")
    ]
    assert order == sorted(order)


def test_a_held_reading_that_may_be_of_this_floor_is_noted():
    case = list(house_case())
    stray = Evidence(reading("s", None, None, 9.0, held=("floor not stated",)), "held", True)
    case[2] = replace(case[2], strays=(replace(stray, reasons=("floor not stated",)),))
    together = " ".join(d.texts(sheet_of(tuple(case))))
    assert "1 reading that may be of this floor held: floor not stated" in together


def test_letters_that_the_font_lacks_are_noted():
    case = list(house_case())
    assert "another script" not in " ".join(d.texts(sheet_of(tuple(case))))
    case[0] = replace(case[0], name="\u5b66\u6821")
    together = " ".join(d.texts(sheet_of(tuple(case))))
    assert "letters of another script are printed as \u25a1; see the tables" in together
    assert "\u25a1\u25a1" in together


def test_a_sheet_with_no_estimate_gives_the_rule_of_a_sheet_with_none():
    without, with_one = (" ".join(d.texts(sheet_of(one()))) for one in (bare_case, house_case))
    assert "chance of being above it" not in without
    assert "a reading in the room is above it" in without
    assert "never without an estimate" in without
    assert "chance of being above it: 50 % or more" in with_one


def test_the_method_says_through_the_doors_and_that_inverse_distance_has_no_error_model():
    evidence, surface = house_case()[2:4]
    fit = AveragedFit(0.1, 0.9, 5.0, 51, "through doors")
    doors = replace(surface, variogram=fit, settings={"walls": True})
    assert method_line(doors, evidence) == (
        "kriging through the doors, logarithms of concentration, 13 places, cells of 0.1 m; "
        "weighed over 51 pairs of range and nugget; nothing estimated outside rooms"
    )
    assert "which has no error model" in method_line(replace(surface, method="idw"), evidence)


def crowded_case():
    """The region of 598 readings under a level that 16 of them are above."""
    site, round_, evidence, surface, _, places, warnings = country_case()
    at = float(np.sort(evidence.concentration)[-17:-15].mean())
    level = replace(LEVEL, value=1000.0 * at, concentration=at)
    readings = [item.reading for item in evidence.items]
    evidence = evidence_for(evidence.floor, readings, level)
    zones = zones_for(evidence, surface, level)
    return replace(site, level=level), round_, evidence, surface, zones, places, warnings


def test_every_value_above_the_level_is_printed_on_a_crowded_sheet():
    case = crowded_case()
    sheet = sheet_of(case)
    above = [item for item in case[2].items if item.above]
    assert len(above) == 16
    bold = [
        item.text
        for item in sheet.frames[0].drawing
        if isinstance(item, d.Label) and item.bold and item.colour != "#ffffff"
    ]
    assert sorted(bold) == sorted(reading_value(item.reading, case[2].level) for item in above)


@pytest.mark.parametrize("name", ["house", "hospital", "tower", "closet"])
def test_a_number_stands_in_its_own_room_or_a_plus_marks_the_true_place(name):
    case = cases()[name]()
    sheet = sheet_of(case)
    frame = sheet.frames[0]
    scale = frame.mm_per_m * d.PT_PER_MM
    plus = {(i.x, i.y) for i in frame.drawing if isinstance(i, d.Dot) and i.shape == "plus"}
    squares = [i for i in frame.drawing if isinstance(i, d.Dot) and i.shape == "square"]
    rooms = {room.id: room.polygon for room in case[2].floor.rooms}
    numbered = case[5].places[:20]
    for place in numbered:
        square = next(
            one for one in squares if (one.x, one.y) == (place.x, place.y) and one.size_pt > 5
        )
        right, up = square.offset_pt
        if abs(right) + abs(up) > 0.1:
            assert (place.x, place.y) in plus
            continue
        half = square.size_pt / 2.0 / scale
        box = shapely.box(place.x - half, place.y - half, place.x + half, place.y + half)
        assert rooms[place.room].covers(box) or (place.x, place.y) in plus


def test_a_name_too_long_for_its_room_stands_outside_with_a_leader():
    case = list(closet_case())
    floor = case[2].floor
    tiny = Room("tiny", "Preparation and weighing", shapely.box(3.0, 2.0, 3.2, 2.2))
    floor = replace(floor, rooms=(*floor.rooms, tiny))
    case[2] = replace(case[2], floor=floor)
    frame = sheet_of(tuple(case)).frames[0]
    label = next(
        item
        for item in frame.drawing
        if isinstance(item, d.Label) and item.text == "Preparation and weighing"
    )
    assert tiny.polygon.contains(shapely.Point(label.x, label.y))
    strokes = [i for i in frame.drawing if isinstance(i, d.Stroke)]
    assert any((one.x, one.y) == (label.x, label.y) for one in strokes)
    left, bottom, right, top = label_box_mm(label, frame.to_page)
    for room in floor.rooms:
        corners = [frame.to_page(*corner) for corner in room.polygon.exterior.coords]
        assert not shapely.Polygon(corners).intersects(shapely.box(left, bottom, right, top))


def test_the_same_survey_gives_the_same_sheet():
    first, second = (sheet_of(house_case()) for _ in range(2))
    assert list(labels_mm(first)) == list(labels_mm(second))
    assert svg_bytes(first) == svg_bytes(second)
