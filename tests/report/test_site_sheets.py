"""Every sheet of a floor: what must stand on it, that nothing overlaps, odd names, its size."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from hgmap.report import drawing as d
from hgmap.report.paper import pdf_bytes
from hgmap.report.room_sheet import crowded_rooms, room_sheet
from hgmap.report.settings_digest import settings_digest
from hgmap.report.sheet import marked_zone_sheet, zone_sheet
from hgmap.report.sheet_setup import PAPERS, sheet_setup
from hgmap.report.surface_sheet import isolines
from hgmap.report.typeset import NO_GLYPH
from hgmap.report.uncertainty_sheet import uncertainty_sheet
from tests.report.sheet_cases import (
    KINDS,
    PAPER_NAMES,
    boxes_of,
    change_of,
    house,
    house_sheets,
    outside,
    overlaps,
    random_case,
    sheets_of,
)
from tests.report.test_sheet import (
    bare_case,
    closet_case,
    evidence_for,
    hospital_case,
    house_case,
    places_for,
    reading,
    site_for,
    surface_for,
    tower_case,
    zones_for,
)
from tests.report.test_sheet import (
    house as empty_house,
)

OWN = {
    "zones": (
        "Zones, for this level", "remediate", "resample", "no data", "clear", "Estimate, ng/m³",
        "level 1000", "Readings, ng/m³", "Measure again", "<50", ">", "open", "closed", "sealed",
    ),
    "levels": ("isolate", "back in", "Readings, ng/m³", "3000 ng/m³", "1000 ng/m³"),
    "estimate": (
        "Estimate, ng/m³", "level 1000", "estimate equals the level (interpretation)",
        "equal estimate, numbered", "Readings, ng/m³", "no data: no reading speaks here", "<50",
    ),
    "uncertainty": (
        "How well the air is known", "Where more readings help", "in doubt: measure again",
        "no data: no reading speaks here", "reading of this map",
    ),
    "readings": ("Readings, ng/m³", "Not used, and why", "14: warm-up not finished", "<50",
                 "no data: no reading speaks here"),
    "room": ("detail of Workshop", "Zones, for this level", "Readings of the room, ng/m³", "8200",
             "Where the room lies"),
    "change": ("change from First survey, 2 March 2026, to Second survey",),
}  # fmt: skip


def bare(text):
    """Without white space: lines break anywhere."""
    return re.sub(r"\s", "", text)


def wanted_on(kind, paper):
    site, _, evidence, surface, *_ = house()
    sheet = house_sheets(paper)[kind]
    title = next(one.title for one in PAPERS if one.name == paper)
    after = change_of(house()).after if kind == "change" else None
    digest = settings_digest(site, after.evidence, after.surface) if after else settings_digest(
        site, evidence, surface
    )  # fmt: skip
    return (
        "House at $5 & <b>Mill_Lane</b>", "Ground floor", "First survey", "2 March 2026",
        "2 March 2026 to 4 March 2026", "A family that does not exist", "1 Nowhere Lane",
        "Made-up 12", "N. Nobody", "R. Nobody", "B, second issue",
        "invented direct-reading instrument, serial 000",
        f"sheet {KINDS.index(kind) + 1} of {len(KINDS)}", f"settings {digest}",
        f"1 : {1000.0 / sheet.frames[0].mm_per_m:g} on {title} paper", "ft", "INVENTED DATA",
        "Action level 1000 ng/m³", "source: invented agency, 2026", "hgmap 0.0-test",
        "Screening of the air at the time of the survey; not a health opinion.",
        "Local codes and licensed practice decide.", *OWN[kind],
    )  # fmt: skip


@pytest.fixture(scope="session")
def pdf_texts():
    """The selectable text of each sheet of the house, from one PDF."""
    sheets = house_sheets()
    pages = PdfReader(io.BytesIO(pdf_bytes(list(sheets.values())))).pages
    return {kind: bare(page.extract_text()) for kind, page in zip(sheets, pages, strict=True)}


@pytest.mark.parametrize("kind", KINDS)
def test_every_mandatory_element_is_text_in_the_pdf(pdf_texts, kind):
    assert [one for one in wanted_on(kind, "a4") if bare(one) not in pdf_texts[kind]] == []


@pytest.mark.parametrize("paper", [one for one in PAPER_NAMES if one != "a4"])
def test_every_mandatory_element_is_on_every_sheet_of_every_other_paper(paper):
    for kind, sheet in house_sheets(paper).items():
        text = bare("".join(d.texts(sheet)))
        assert [one for one in wanted_on(kind, paper) if bare(one) not in text] == [], kind


@pytest.mark.parametrize("paper", PAPER_NAMES)
def test_every_sheet_has_its_bar_in_metres_and_feet_and_its_arrow_turned(paper):
    for kind, sheet in house_sheets(paper).items():
        said = d.texts(sheet)
        assert any(re.fullmatch(r"[\d.]+ m", one) for one in said), kind
        assert any(re.fullmatch(r"[\d.]+ ft", one) for one in said), kind
        halves = [one.shape for one in sheet.page
                  if isinstance(one, d.Area) and len(one.shape.exterior.coords) == 4]  # fmt: skip
        assert len(halves) == 2, kind
        tip = np.array(halves[0].exterior.coords)[0] - np.array(halves[0].exterior.coords)[2]
        assert np.degrees(np.arctan2(tip[0], tip[1])) == pytest.approx(30.0, abs=0.1), kind
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind


@pytest.mark.parametrize("kind", [one for one in KINDS if one != "change"])
def test_ground_without_data_is_hatched_on_every_sheet(kind):
    from hgmap.report.palette import ZONE_LOOKS

    look = ZONE_LOOKS["no data"].hatch
    frames = house_sheets()[kind].frames
    kinds = {one.hatch.name for one in frames[0].drawing if isinstance(one, d.Area) and one.hatch}
    if kind != "room":  # the detail of the workshop shows none of the bedroom
        assert look.name in kinds


def test_a_sheet_names_the_instruments_of_its_readings_where_nobody_else_does():
    site, *rest = house()
    nameless = replace(site, title_block=replace(site.title_block, instrument=""))
    assert "analyser 1" in d.texts(zone_sheet(nameless, *rest[:5]))


@pytest.mark.parametrize("case", [bare_case, closet_case, tower_case])
def test_nothing_overlaps_on_any_sheet_of_odd_floors(case):
    for kind, sheet in sheets_of(case()).items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind


@settings(
    max_examples=4, deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(
    number=st.sampled_from([5, 12, 40, 120, 300]),
    seed=st.integers(0, 10_000),
    paper=st.sampled_from(PAPER_NAMES),
)
def test_no_two_labels_overlap_and_none_leaves_the_page(number, seed, paper):
    only = ("zones", "readings", "room") if number > 40 else KINDS
    for kind, sheet in sheets_of(random_case(number, seed), sheet_setup(paper), only).items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind


def test_labels_of_three_hundred_readings_neither_overlap_nor_leave_the_page():
    sheet = sheets_of(random_case(300, 5), only=("zones",))["zones"]
    assert overlaps(sheet) == []
    assert outside(sheet) == []


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
    site, round_, evidence, surface, zones, places, _ = house()
    floor = replace(
        evidence.floor, title=written,
        rooms=tuple(replace(room, name=written) for room in evidence.floor.rooms),
    )  # fmt: skip
    block = replace(site.title_block, client=written, prepared_by=written, revision=written)
    case = (
        replace(site, name=written, title_block=block), replace(round_, title=written),
        replace(evidence, floor=floor), surface, replace(zones, floor=floor), places, (written,),
    )  # fmt: skip
    sheets = sheets_of(case)
    assert list(sheets) == list(KINDS)
    for kind, sheet in sheets.items():
        assert overlaps(sheet) == [], kind
        assert outside(sheet) == [], kind
        assert any(shown in one for one in d.texts(sheet)), kind


def test_an_odd_author_is_the_pdfs_own_and_odd_letters_are_painted():
    sheet = d.Sheet(80.0, 20.0, (), tuple(
        d.Label(5.0, 4.0 + 2.0 * n, one[:60], 4.0) for n, (one, _) in enumerate(ODD.values())
    ), "A title",  "A\x00B\u202eC\nD")  # fmt: skip
    about = PdfReader(io.BytesIO(pdf_bytes([sheet]))).metadata
    assert about is not None
    assert about.author == "A B C D"


def test_a_full_sheet_is_under_2_mb():
    sheet = sheets_of(hospital_case(), sheet_setup("a3"), ("zones",))["zones"]
    assert len(pdf_bytes([sheet])) < 2_000_000


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_notes_keep_clear_of_the_north_arrow(paper):
    site, round_, evidence, surface, zones, places, _ = house()
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


def test_a_crowded_room_is_found_and_its_detail_prints_every_value():
    floor = empty_house()
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
