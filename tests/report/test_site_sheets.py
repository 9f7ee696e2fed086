"""Every sheet of a floor: what must stand on it, that nothing overlaps, odd names, its size."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from hgmap.report import drawing as d
from hgmap.report.paper import pdf_bytes
from hgmap.report.readings_sheet import readings_sheet
from hgmap.report.room_sheet import crowded_rooms, room_sheet
from hgmap.report.settings_digest import settings_digest
from hgmap.report.sheet import marked_zone_sheet, zone_sheet
from hgmap.report.sheet_page import numbered
from hgmap.report.sheet_setup import PLAIN, sheet_setup
from hgmap.report.surface_sheet import isolines, surface_sheet
from hgmap.report.typeset import NO_GLYPH
from hgmap.report.uncertainty_sheet import uncertainty_sheet
from hgmap.site.quality.quality import quality_report
from tests.report.test_sheet import (
    bare_case,
    closet_case,
    evidence_for,
    hospital_case,
    house,
    house_case,
    label_box_mm,
    places_for,
    reading,
    site_for,
    surface_for,
    tower_case,
    zones_for,
)

KINDS = ("zones", "estimate", "uncertainty", "readings", "room")


def sheets_of(case, setup=PLAIN, only=KINDS):
    site, round_, evidence, surface, zones, places, warnings = case
    told = {"warnings": warnings, "version": "0.0-test", "setup": setup}
    quality = quality_report(site, evidence.level, round_.name)
    facts = (site, round_, evidence, surface, zones)
    room = evidence.floor.rooms[0].id
    ways = {
        "zones": lambda: zone_sheet(*facts, places, **told),
        "estimate": lambda: surface_sheet(*facts, **told),
        "uncertainty": lambda: uncertainty_sheet(*facts, places, **told),
        "readings": lambda: readings_sheet(*facts, quality, **told),
        "room": lambda: room_sheet(*facts, places, room, **told),
    }
    estimated = () if surface is None else ("estimate", "uncertainty")
    kinds = [one for one in only if one in ("zones", "readings", "room", *estimated)]
    found = {kind: ways[kind]() for kind in kinds}
    return dict(zip(found, numbered(list(found.values())), strict=True))


def timed(case):
    """The same case with the time of each reading."""
    site, round_, evidence, *rest = case
    start = datetime(2026, 3, 2, 9, 0)
    items = tuple(
        replace(one, reading=one.reading._replace(time=start + timedelta(hours=3 * n),
                                                  instrument="analyser 1", room="workshop"))
        for n, one in enumerate(evidence.items)
    )  # fmt: skip
    block = replace(site.title_block, reviewed_by="R. Nobody", revision="B, second issue")
    return replace(site, title_block=block), round_, replace(evidence, items=items), *rest


def pdf_text(sheet):
    """The selectable text of a sheet's PDF without white space: lines break anywhere."""
    text = PdfReader(io.BytesIO(pdf_bytes([sheet]))).pages[0].extract_text()
    return re.sub(r"\s", "", text)


@pytest.fixture(scope="module")
def house_sheets():
    return timed(house_case()), sheets_of(timed(house_case()))


@pytest.mark.parametrize("kind", KINDS)
def test_every_mandatory_element_is_text_in_the_pdf(house_sheets, kind):
    (site, _, evidence, surface, *_), sheets = house_sheets
    text = pdf_text(sheets[kind])
    scale = f"{1000.0 / sheets[kind].frames[0].mm_per_m:g}"
    for wanted in (
        "House at $5 & <b>Mill_Lane</b>",
        "Ground floor",
        "First survey",
        "2 March 2026",
        "2 March 2026 to 4 March 2026",
        "A family that does not exist",
        "Made-up 12",
        "N. Nobody",
        "R. Nobody",
        "B, second issue",
        "invented direct-reading instrument, serial 000",
        f"sheet {KINDS.index(kind) + 1} of 5",
        f"settings {settings_digest(site, evidence, surface)}",
        f"1 : {scale} on A4 paper",
        "ft",
        "INVENTED DATA",
        "Action level 1000 ng/m³",
        "source: invented agency, 2026",
        "Screening of the air at the time of the survey; not a health opinion.",
        "Local codes and licensed practice decide.",
        "hgmap 0.0-test",
    ):
        assert re.sub(r"\s", "", wanted) in text, wanted
    assert "N" in d.texts(sheets[kind])


def test_a_sheet_names_the_instruments_of_its_readings_where_nobody_else_does(house_sheets):
    site, *rest = house_sheets[0]
    bare = replace(site, title_block=replace(site.title_block, instrument=""))
    assert "analyser 1" in d.texts(zone_sheet(bare, *rest[:5]))


@pytest.mark.parametrize("case", [bare_case, closet_case, tower_case])
def test_nothing_overlaps_on_any_sheet_of_odd_floors(case):
    for kind, sheet in sheets_of(case()).items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind


def boxes_of(sheet):
    """Every text with its box on the page (mm), and where its frame ends."""
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


def overlaps(sheet):
    found = list(boxes_of(sheet))
    boxes = shapely.box(*np.array([box for _, box, _ in found]).T)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    shared = shapely.area(shapely.intersection(boxes[first], boxes[second]))
    over = (first < second) & (shared > 1e-6)
    return [(found[a][0], found[b][0]) for a, b in zip(first[over], second[over], strict=True)]


def outside(sheet):
    return [
        text
        for text, (left, bottom, right, top), edge in boxes_of(sheet)
        if left < edge[0] or bottom < edge[1] or right > edge[2] or top > edge[3]
    ]


@settings(
    max_examples=5, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(
    number=st.sampled_from([5, 12, 40, 120, 300]),
    seed=st.integers(0, 10_000),
    paper=st.sampled_from(["a4", "letter", "a3"]),
)
def test_no_two_labels_overlap_and_none_leaves_the_page(number, seed, paper):
    floor, random = house(), np.random.default_rng(seed)
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
    surface = surface_for(evidence, 0.2, 3.0)
    site = site_for(floor)
    case = (site, site.rounds[0], evidence, surface, zones_for(evidence, surface),
            places_for(floor, 8, seed), ())  # fmt: skip
    for kind, sheet in sheets_of(case, sheet_setup(paper)).items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind


ODD = {
    "markup": ("<script>alert('$x$')</script> & \\alpha {b}", "<script>alert('$x$')</script>"),
    "right to left": ("בית ספר לדוגמה", "בית ספר"),
    "chinese": ("学校一楼 survey", NO_GLYPH * 4 + " survey"),
    "long": ("Annex " * 50, "…"),
    "one long word": ("x" * 300, "…"),
    "control": ("A\x00B\u202eC\nD", "A B C D"),
}


@pytest.mark.parametrize("name", list(ODD))
def test_an_odd_title_is_shown_or_cut_on_every_sheet(name):
    written, shown = ODD[name]
    site, round_, evidence, surface, zones, places, _ = house_case()
    floor = replace(
        evidence.floor, title=written,
        rooms=tuple(replace(room, name=written) for room in evidence.floor.rooms),
    )  # fmt: skip
    block = replace(site.title_block, client=written, prepared_by=written, revision=written)
    case = (
        replace(site, name=written, title_block=block), replace(round_, title=written),
        replace(evidence, floor=floor), surface, replace(zones, floor=floor), places, (written,),
    )  # fmt: skip
    sheets = sheets_of(case, only=("zones", "readings", "room"))
    for kind, sheet in sheets.items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind
        assert any(shown in one for one in d.texts(sheet)), kind
    reader = PdfReader(io.BytesIO(pdf_bytes([sheets["room"]])))
    assert reader.metadata is not None
    assert reader.metadata.author == " ".join(
        "".join(" " if ord(one) < 32 or one == "\u202e" else one for one in written).split()
    )


@pytest.mark.parametrize("kind", ["zones", "estimate"])
def test_the_fullest_sheets_are_under_2_mb(kind):
    assert (
        len(pdf_bytes([sheets_of(hospital_case(), sheet_setup("a3"), (kind,))[kind]])) < 2_000_000
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_notes_keep_clear_of_the_north_arrow(paper):
    site, round_, evidence, surface, zones, places, _ = house_case()
    notes = tuple(f"Made-up warning number {n}, longer than a line of it is." for n in range(30))
    sheet = zone_sheet(site, round_, evidence, surface, zones, places, warnings=notes,
                       setup=sheet_setup(paper))  # fmt: skip
    arrow = [one.shape for one in sheet.page
             if isinstance(one, d.Area) and len(one.shape.exterior.coords) == 4]  # fmt: skip
    assert len(arrow) == 2
    texts = [shapely.box(*box) for text, box, _ in boxes_of(sheet) if text != "N"]
    assert not any(one.intersects(half) for one in texts for half in arrow)


def test_isolines_run_at_their_value_and_cross_no_wall_and_no_unknown_ground():
    _, _, evidence, surface, *_ = house_case()
    unknown = shapely.box(0.0, 2.12, 2.0, 7.0)
    found = dict(isolines(surface, evidence, (500.0, 2000.0), unknown))
    assert set(found) == {500.0, 2000.0}
    rooms = shapely.union_all([room.polygon for room in evidence.floor.rooms]).buffer(1e-6)
    concentration = surface.concentration()
    for value, line in found.items():
        assert rooms.covers(line)
        assert not line.crosses(unknown.buffer(-1e-6))
        point = line.interpolate(0.5, normalized=True)
        raster = surface.raster
        row = int(np.argmin(np.abs(raster.y - point.y)))
        column = int(np.argmin(np.abs(raster.x - point.x)))
        near = concentration[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2]
        assert np.nanmin(near) <= value / 1000.0 <= np.nanmax(near)


def test_a_map_without_an_error_model_shades_no_uncertainty():
    site, round_, evidence, surface, zones, places, _ = house_case()
    idw = replace(surface, method="idw")
    sheet = uncertainty_sheet(site, round_, evidence, idw, zones, places)
    assert not any(isinstance(one, d.Picture) for one in sheet.frames[0].drawing)
    assert "has no error model" in " ".join(d.texts(sheet))


def test_held_readings_and_cautions_are_named_with_their_reasons():
    text = " ".join(d.texts(sheets_of(house_case(), only=("readings",))["readings"]))
    assert "14: warm-up not finished" in text


def test_a_crowded_room_is_found_and_its_detail_prints_every_value():
    floor = house()
    readings = [
        reading(str(n), 5.4 + 0.45 * (n % 7), 2.6 + 0.6 * (n // 7), 2.0 + 0.01 * n)._replace(
            room="kitchen"
        )
        for n in range(49)
    ]
    readings += [reading("far", 1.0, 1.0, 0.2)._replace(room="corridor")]
    evidence = evidence_for(floor, readings)
    surface = surface_for(evidence, 0.2, 3.0)
    site = site_for(floor)
    facts = (site, site.rounds[0], evidence, surface, zones_for(evidence, surface))
    first, marks = marked_zone_sheet(*facts, places_for(floor, 1))
    assert crowded_rooms(marks)[0] == "kitchen"
    detail = room_sheet(*facts, places_for(floor, 1), "kitchen")
    assert detail.frames[0].mm_per_m > first.frames[0].mm_per_m
    on_plan = [one.text for one in detail.frames[0].drawing if isinstance(one, d.Label)]
    assert sum(bool(re.fullmatch(r"2\d\d\d", one)) for one in on_plan) == 49


def test_a_neighbour_without_data_says_so_in_a_detail():
    site, round_, evidence, surface, zones, places, _ = house_case()
    blank = tuple(replace(one, name="no data") if one.room == "kitchen" else one
                  for one in zones.zones)  # fmt: skip
    sheet = room_sheet(
        site, round_, evidence, surface, replace(zones, zones=blank), places, "workshop"
    )
    on_plan = " ".join(one.text for one in sheet.frames[0].drawing if isinstance(one, d.Label))
    assert "Kitchen: no data" in on_plan


def test_a_detail_paints_nothing_outside_its_frame():
    site, round_, evidence, surface, zones, places, _ = house_case()
    sheet = room_sheet(site, round_, evidence, surface, zones, places, "kitchen")
    frame = sheet.frames[0]
    seen = shapely.box(*frame.seen_m).buffer(1e-6)
    pictures = [one for one in frame.drawing if isinstance(one, d.Picture)]
    assert len(pictures) > 1
    assert all(one.clip is not None and seen.covers(one.clip) for one in pictures)
