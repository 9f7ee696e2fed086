"""The site map: every building at its place, and no place better than the worst of its floors."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely

from hgmap.floor_map import MapOptions
from hgmap.report.document.content import Maps
from hgmap.report.document.html_page import html_bytes
from hgmap.report.document.style import HouseStyle
from hgmap.report.document.write_up import write_up
from hgmap.report.drawing import texts
from hgmap.report.site_map import SITE_MAP, several_buildings, site_map, worst_zones, write_site_map
from hgmap.survey_report import ReportOptions, survey_of
from tests.report.exported import Mapped, mapped

MAP = '[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = 604000\norigin_y_m = 5712000\nangle_deg = 20\n'
ANNEX = (
    '[[buildings]]\nname = "Annex"\norigin_x_m = 604030\norigin_y_m = 5712004\nangle_deg = -35\n'
)


@pytest.fixture(scope="module")
def three_floors(
    site_maker: Callable[..., Path], make_plan: Any, make_rows: Any, make_table: Any,
    tmp_path_factory: pytest.TempPathFactory,
) -> Mapped:  # fmt: skip
    """Return two floors of one building, the upper one read at its other end, and an annex."""
    upper = [row.replace(",first,A,", ",first,,").replace(",first,B,", ",first,,")
             for row in make_rows(floor="first", prefix="F")]  # fmt: skip
    turned = []
    for row in upper:
        cells = row.split(",")
        turned.append(",".join([*cells[:3], f"{12.0 - float(cells[3]):.2f}", *cells[4:]]))
    rows = [*make_rows(), *turned, *make_rows(floor="shed", prefix="S")]
    site = site_maker(
        tmp_path_factory.mktemp("three") / "site",
        plans={"ground": make_plan(), "first": make_plan(), "shed": make_plan()},
        readings={"first.csv": make_table(rows)}, extra=MAP + ANNEX,
    )  # fmt: skip
    text = (site / "site.toml").read_text("utf-8")
    text = text.replace('name = "shed"\n', 'name = "shed"\nbuilding = "Annex"\n')
    (site / "site.toml").write_text(text, "utf-8")
    return mapped(lambda _: site, site)


def test_ground_to_remediate_on_any_floor_is_shown_so(three_floors: Mapped) -> None:
    own = three_floors.floors[:2]
    found = worst_zones(own)
    for one in own:
        assert one.zones.area_m2("remediate") > 0
        frame = one.floor.map_frame
        assert frame is not None
        for zone in one.zones.zones:
            placed = frame.place(zone.geometry)
            if zone.name == "remediate":
                assert found["remediate"].buffer(1e-6).covers(placed)
            elif zone.name == "resample":
                worse = found["remediate"].union(found["resample"])
                assert worse.buffer(1e-6).covers(placed)
            assert found["clear"].intersection(placed).area < 1e-6 or zone.name == "clear"
    whole = sum(one.area for one in found.values())
    assert whole == pytest.approx(shapely.union_all(list(found.values())).area)


def test_it_names_buildings_floors_and_areas_and_nothing_overlaps(
    three_floors: Mapped, check_page: Any
) -> None:
    sheet = site_map(three_floors.facts, three_floors.floors)
    check_page(sheet)
    told = texts(sheet)
    assert "Annex" in told
    assert "grid north" in told
    assert any(text.startswith("Annex, shed: ") for text in told)
    assert not any("not in this map" in text for text in told)


def test_a_floor_that_was_not_mapped_is_named_as_not_known(
    three_floors: Mapped, check_page: Any
) -> None:
    ground, first, _ = three_floors.floors
    alone = worst_zones([ground], [first.floor])
    assert alone["clear"].area == pytest.approx(0, abs=1e-6)
    assert alone["remediate"].area > 0
    sheet = site_map(three_floors.facts, three_floors.floors[::2])
    check_page(sheet)
    assert "not in this map, and not known: first" in texts(sheet)
    sheet = site_map(three_floors.facts, three_floors.floors[:2])
    assert "building that this run did not map" in texts(sheet)


def test_it_is_written_only_where_there_are_several_buildings(
    three_floors: Mapped, placed: Mapped, plain: Mapped, tmp_path: Path
) -> None:
    for alone in (placed, plain):
        assert not several_buildings(alone.floors)
        write_site_map(tmp_path, alone.facts, alone.floors)
    assert not list(tmp_path.iterdir())
    write_site_map(tmp_path, three_floors.facts, three_floors.floors)
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted(SITE_MAP)


def test_a_report_shows_all_buildings_before_their_floors_and_one_building_alone(
    three_floors: Mapped,
) -> None:
    for floors, shown in (((), True), (("ground",), False)):
        options = ReportOptions(map=MapOptions(floors=floors))
        document = write_up(survey_of(three_floors.facts.site, options)[1])
        maps = [part for part in document.parts if isinstance(part, Maps)]
        assert (maps[0].title == "All buildings") is shown
        page = html_bytes(document, HouseStyle()).decode("utf-8")
        assert ("Site map, all buildings" in page) is shown


def test_it_counts_no_pages_beside_those_of_the_report_that_it_stands_in(
    three_floors: Mapped,
) -> None:
    sheet = site_map(three_floors.facts, three_floors.floors)
    assert not [one for one in texts(sheet) if one.startswith("page ")]
