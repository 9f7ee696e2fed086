"""A field sheet has every reading once, on paper that can be read; a survey's map says its gaps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.design.gaps import lay_ground
from hgmap.decide.design.on_plan import survey_gaps
from hgmap.decide.design.places import DesignPlace, design_building
from hgmap.decide.design.spots import ToFind
from hgmap.decide.design.visits import FloorDesign, design_visits
from hgmap.decide.evidence import gather_evidence
from hgmap.report.drawing import Area, Label, Picture, Sheet, texts
from hgmap.report.field_rows import Line, table_pages
from hgmap.report.field_sheet import MOST_ON_A_MAP, field_sheets
from hgmap.report.plan_page import Head
from hgmap.report.survey_sheet import SHADES, found_words, survey_sheet
from hgmap.site.building import Floor, Opening, Room
from hgmap.site.cautions import LICENSED
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import Site

Check = Callable[[Sheet], None]
DEMO = Path(__file__).parents[2] / "demo_site"
LONG = "Room with a name " + "that goes on and on " * 9


@pytest.fixture(scope="module")
def demo() -> Site:
    return read_site(DEMO)


def designed(floor: Floor, spacing_m: float, find: ToFind | None = None) -> FloorDesign:
    places = design_building([floor], use="school", spacing_m=spacing_m, find=find)
    return design_visits(floor, [one for one in places if one.floor], find=find)


def hall(width: float, depth: float, name: str = "Hall") -> Floor:
    return Floor("h", "Hall floor", (Room("H", name, shapely.box(0, 0, width, depth)),))


def test_every_page_of_the_demo_can_be_read(demo: Site, check_page: Check) -> None:
    for floor in demo.floors:
        for sheet in field_sheets(demo, designed(floor, 3.3, ToFind(2.0, 0.95))):
            check_page(sheet)
            assert LICENSED in texts(sheet)
            assert "INVENTED DATA" in texts(sheet)


def test_every_place_has_its_number_on_one_map_and_every_reading_its_row(demo: Site) -> None:
    design = designed(demo.floors[0], 3.3)
    assert design.places > MOST_ON_A_MAP
    sheets = field_sheets(demo, design)
    on_maps = Counter(
        item.text
        for sheet in sheets
        for frame in sheet.frames
        for item in frame.drawing
        if isinstance(item, Label) and item.text.isdigit()
    )
    assert on_maps == Counter(str(k) for k in range(1, design.places + 1))
    rows = Counter(text for sheet in sheets if not sheet.frames for text in texts(sheet))
    assert all(rows[visit.place.id] == 1 for visit in design.visits)


def test_a_hall_full_of_places_and_a_tall_floor_stay_on_the_paper(
    demo: Site, check_page: Check
) -> None:
    for floor in (hall(20, 14), hall(6, 60), hall(0.8, 0.8), hall(120, 60)):
        sheets = field_sheets(demo, designed(floor, max(1.1, floor.bounds[2] / 18)))
        for sheet in sheets:
            check_page(sheet)
            assert (sheet.width_mm, sheet.height_mm) in ((210.0, 297.0), (297.0, 210.0))


def test_names_that_do_not_fit_are_cut_not_printed_over(demo: Site, check_page: Check) -> None:
    rooms = tuple(
        Room(f"{LONG}{k}", f"{LONG}{k}", shapely.box(3 * k, 0, 3 * k + 3, 4)) for k in range(12)
    )
    doors = tuple(
        Opening(f"d{k}", shapely.LineString([(3 * k, 1), (3 * k, 2)]),
                rooms=(rooms[k - 1].id, rooms[k].id))
        for k in range(1, 12)
    )  # fmt: skip
    floor = Floor("f" * 60, LONG, rooms, openings=doors)
    for sheet in field_sheets(replace(demo, name=LONG), designed(floor, 2.0)):
        check_page(sheet)


@given(st.lists(st.integers(1, 9), max_size=60))
def test_a_table_has_every_row_once_and_tears_no_place_apart(sizes: list[int]) -> None:
    lines = [
        Line(number, DesignPlace(f"p{number}-{k}", "f", "r", "Room", 1.0, 2.0, 1.5, "reading", ""))
        for number, size in enumerate(sizes, start=1)
        for k in range(size)
    ]
    pages = table_pages(Head("site", "title", (), invented=False), lines, "foot")
    found = [[i.text for i in page if isinstance(i, Label) and i.text.startswith("p")
              and "-" in i.text] for page in pages]  # fmt: skip
    assert [text for page in found for text in page] == [line.place.id for line in lines]
    homes = [{text.split("-")[0] for text in page} for page in found]
    assert sum(map(len, homes)) == len(sizes)


def test_the_map_of_a_survey_hatches_unread_rooms_and_prints_each_radius(
    demo: Site, check_page: Check
) -> None:
    level, _ = level_in_force(demo, None)
    for floor in demo.floors:
        evidence = gather_evidence(demo, floor, "before", "adult breathing", level)
        gaps = survey_gaps(lay_ground(floor, 0.25), evidence.xy)
        sheet = survey_sheet(demo, demo.rounds[0], evidence, gaps)
        check_page(sheet)
        words = " ".join(texts(sheet))
        unread = [row for row in gaps.rows if not row.readings]
        drawing = sheet.frames[0].drawing
        assert unread
        assert len([one for one in drawing if isinstance(one, Area) and one.hatch]) == len(unread)
        assert len([one for one in drawing if isinstance(one, Picture)]) == len(gaps.rows) - len(
            unread
        )
        assert all(found_words(row.radius_m) in words for row in gaps.rows)


def test_ground_walled_off_from_the_reading_of_its_room_has_the_widest_class(demo: Site) -> None:
    level, _ = level_in_force(demo, None)
    wall = shapely.LineString([(2, 0), (2, 2)])
    floor = Floor("w", "W", (Room("R", "Room", shapely.box(0, 0, 4, 2)),), (wall,))
    evidence = gather_evidence(demo, floor, "before", "adult breathing", level)
    gaps = survey_gaps(lay_ground(floor, 0.25), np.array([[1.0, 1.0]]))
    drawing = survey_sheet(demo, demo.rounds[0], evidence, gaps).frames[0].drawing
    (picture,) = (one for one in drawing if isinstance(one, Picture))
    darkest = [int(SHADES[-1][k : k + 2], 16) for k in (1, 3, 5)]
    wide = picture.rgba.shape[1]
    right = picture.rgba[:, int(0.55 * wide) :, :3]
    assert (right == darkest).all()
    assert not (picture.rgba[:, : wide // 2 - wide // 16, :3] == darkest).all(axis=2).any()


def test_the_shades_of_a_survey_stay_apart_without_colour() -> None:
    grey = [
        0.299 * int(one[1:3], 16) + 0.587 * int(one[3:5], 16) + 0.114 * int(one[5:7], 16)
        for one in SHADES
    ]
    assert min(a - b for a, b in pairwise(grey)) > 20.0
