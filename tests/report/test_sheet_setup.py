"""Paper and scale: what is printed is as large as it says, and what does not fit is refused."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from pypdf.generic import ContentStream

from hgmap.errors import HgmapError
from hgmap.report.paper import pdf_bytes
from hgmap.report.sheet import zone_sheet
from hgmap.report.sheet_page import sheet_page
from hgmap.report.sheet_setup import PAPERS, SheetSetup, sheet_setup
from hgmap.site.building import Floor, Room
from tests.report.test_sheet import (
    evidence_for,
    house_case,
    places_for,
    reading,
    site_for,
    surface_for,
    zones_for,
)

MM_PER_PT = 25.4 / 72.0


def hall(wide, high, readings=()):
    """One room of a size (m); its outline is its wall."""
    floor = Floor("ground", "Hall", (Room("hall", "Hall", shapely.box(0, 0, wide, high)),))
    return floor, evidence_for(floor, readings)


def hall_sheet(setup):
    floor, evidence = hall(10.0, 6.0, [reading(str(n), 2.0 + n, 3.0, 0.5 + n) for n in range(6)])
    surface = surface_for(evidence, 0.1, 3.0)
    site = site_for(floor)
    zones = zones_for(evidence, surface)
    return zone_sheet(
        site, site.rounds[0], evidence, surface, zones, places_for(floor, 2), setup=setup
    )


def outlines_mm(pdf):
    """Width and height (mm) of every path of a PDF's first page, in the file's own coordinates."""
    reader = PdfReader(io.BytesIO(pdf))
    page = reader.pages[0]
    moves, stack, points, found = np.eye(3), [], [], []
    for operands, name in ContentStream(page.get_contents(), reader).operations:
        if name == b"q":
            stack.append(moves)
        elif name == b"Q":
            moves = stack.pop()
        elif name == b"cm":
            a, b, c, d, e, f = map(float, operands)
            moves = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ moves
        elif name in (b"m", b"l"):
            x, y = map(float, operands)
            points.append((np.array([x, y, 1.0]) @ moves)[:2])
        elif name in (b"S", b"s", b"f", b"B", b"b", b"n", b"f*", b"B*"):
            if name in (b"S", b"s") and points:
                found.append(np.ptp(np.array(points), axis=0) * MM_PER_PT)
            points = []
    return np.array(found)


@pytest.mark.parametrize("paper", [one.name for one in PAPERS])
def test_a_wall_of_ten_metres_measures_100_mm_on_a_sheet_at_1_to_100(paper):
    sizes = outlines_mm(pdf_bytes([hall_sheet(sheet_setup(paper, 100.0))]))
    off = np.abs(sizes - (100.0, 60.0)).max(axis=1)
    assert off.min() < 0.01  # the outline of the room


def test_a_wall_of_ten_metres_measures_40_mm_at_1_to_250():
    sizes = outlines_mm(pdf_bytes([hall_sheet(sheet_setup("a4", 250.0))]))
    assert np.abs(sizes - (40.0, 24.0)).max(axis=1).min() < 0.01


@pytest.mark.parametrize("paper", PAPERS, ids=[one.name for one in PAPERS])
def test_the_page_has_the_size_of_its_paper(paper):
    box = PdfReader(io.BytesIO(pdf_bytes([hall_sheet(SheetSetup(paper))]))).pages[0].mediabox
    assert float(box.width) * MM_PER_PT == pytest.approx(paper.long_mm, abs=0.01)
    assert float(box.height) * MM_PER_PT == pytest.approx(paper.short_mm, abs=0.01)


def scale_of_page(wide, high, setup):
    floor, evidence = hall(wide, high)
    site = site_for(floor)
    page = sheet_page(
        site, site.rounds[0], evidence, None, sheet_line="zones", panels_mm=(62.0, 70.0),
        setup=setup,
    )  # fmt: skip
    return page.scale()


@settings(max_examples=40, deadline=None)
@given(
    st.floats(2.0, 400.0), st.floats(2.0, 400.0), st.sampled_from(PAPERS),
    st.sampled_from([20.0, 50.0, 100.0, 125.0, 200.0, 250.0, 500.0]),
)  # fmt: skip
def test_a_refused_scale_names_a_scale_and_papers_that_do(wide, high, paper, scale):
    try:
        assert scale_of_page(wide, high, SheetSetup(paper, scale)) == scale
        return
    except HgmapError as error:
        said = str(error)
    assert "\n" not in said
    assert said.startswith("--scale: ")
    found = re.search(r"use --scale ([\d.]+)", said)
    assert found is not None
    other = float(found[1])
    assert scale_of_page(wide, high, SheetSetup(paper, other)) == other
    papers = re.search(r"or --paper (.*)", said)
    for name in papers[1].split(" or ") if papers else ():
        assert scale_of_page(wide, high, sheet_setup(name, scale)) == scale


def test_without_a_scale_the_largest_round_one_that_fits_is_taken():
    assert scale_of_page(10.0, 6.0, SheetSetup()) < scale_of_page(30.0, 18.0, SheetSetup())


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"paper": "a5"}, "no paper 'a5'; known: a4, a3, letter, tabloid"),
        ({"scale": 0.0}, "for 1 : 100 give 100"),
        ({"scale": float("nan")}, "for 1 : 100 give 100"),
        ({"scale": -100.0}, "for 1 : 100 give 100"),
        ({"dpi": 0.0}, "give 36 to 1200"),
        ({"dpi": float("nan")}, "give 36 to 1200"),
        ({"dpi": 1e6}, "give 36 to 1200"),
    ],
)
def test_a_setup_that_cannot_be_is_refused_in_one_line(asked, said):
    with pytest.raises(HgmapError) as refused:
        sheet_setup(**asked)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_plan_too_small_to_read_is_refused():
    with pytest.raises(HgmapError, match="too small to read; use --scale 60"):
        scale_of_page(10.0, 6.0, SheetSetup(scale=5000.0))


def test_a_fixed_scale_holds_whatever_the_notes_take():
    *facts, _ = house_case()
    notes = tuple(f"Made-up warning number {n}, longer than a line." for n in range(40))
    sheet = zone_sheet(*facts, warnings=notes, setup=SheetSetup(scale=100.0))
    assert sheet.frames[0].mm_per_m == pytest.approx(10.0)


def test_another_setting_or_another_input_gives_another_digest():
    from hgmap.report.settings_digest import settings_digest

    site, _, evidence, surface, *_ = house_case()
    first = settings_digest(site, evidence, surface)
    assert first == settings_digest(site, evidence, surface)
    assert re.fullmatch("[0-9a-f]{10}", first)
    others = {
        settings_digest(replace(site, digests={"readings.csv": "0" * 64}), evidence, surface),
        settings_digest(
            replace(site, settings=replace(site.settings, remediate_at=0.4)), evidence, surface
        ),
        settings_digest(site, replace(evidence, band="child breathing"), surface),
        settings_digest(site, evidence, None),
    }
    assert len(others | {first}) == 5
