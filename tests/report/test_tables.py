"""CSV tables: one row a zone, one row a place, and no cell of a user's that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.batch import MapOptions, MapRun, map_site
from hgmap.report.tables import resample_csv, rooms_csv, write_csv, zones_csv
from hgmap.site.intake.cells import guarded

MakeSite = Callable[..., Path]


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def run(
    make_site: MakeSite, make_plan: Any, make_room: Any, make_rows: Any, make_table: Any,
    no_sheets: None,
) -> MapRun:  # fmt: skip
    rooms = [make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5), make_room("C", 12, 0, 14, 5)]
    for room, name in zip(rooms, ("=cmd|' /C calc'!A0", "@SUM(1+1)", "+1\n-2"), strict=True):
        room["properties"]["name"] = name
    rows = [*make_rows(), "=HYPERLINK(1),ground,A,1,2,1.5,,>2,ug/m3,,"]
    site = make_site(
        plans={"-1": make_plan(*rooms)},
        readings={"first.csv": make_table(one.replace("ground", "-1") for one in rows)},
    )
    return map_site(site, MapOptions(cell_m=0.5))


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@x", "\t=1", "\r\n=1", " =1", "\u00a0=1", "\ufeff=1", "＝1+1"]
)
def test_a_cell_that_could_start_a_formula_starts_with_an_apostrophe(text: str) -> None:
    assert guarded(text).startswith("'")


@given(st.text())
def test_no_text_starts_a_formula_or_breaks_a_line(text: str) -> None:
    cell = guarded(text)
    assert not cell.lstrip("\ufeff\u200b").startswith(tuple("=+-@\t\r"))
    assert cell.splitlines() in ([cell], [])


@given(st.text(st.characters(categories=["L", "N"]), min_size=1))
def test_a_plain_word_stays_as_it_is(text: str) -> None:
    assert guarded(text) == text


def test_no_cell_of_a_run_starts_a_formula(run: MapRun) -> None:
    for name in ("zones.csv", "rooms.csv", "resample.csv"):
        text = (run.out / name).read_text("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text, newline="")))
        assert len(rows) > 1
        assert {len(row) for row in rows} == {len(rows[0])}
        for cell in (cell for row in rows for cell in row):
            assert not cell.startswith(tuple("=+-@\t\r")), cell


def test_every_zone_has_a_row_and_areas_add_up_to_the_floor(run: MapRun) -> None:
    rows = rows_of(zones_csv([run.floors[0].zones]))
    assert len(rows) == len(run.floors[0].zones.zones)
    assert sum(float(row["area_m2"]) for row in rows) == pytest.approx(70, rel=1e-3)
    assert {row["zone"] for row in rows} <= {"remediate", "resample", "clear", "no data"}
    assert all(row["reasons"] for row in rows)


def test_numbers_are_in_the_unit_of_the_level_as_published(
    make_site: MakeSite, no_sheets: None
) -> None:
    site = make_site()
    highest = {}
    for level in ("3 ug/m3", "3000 ng/m3"):
        one = map_site(site, MapOptions(cell_m=0.5, level=level)).floors[0]
        rows = rows_of(zones_csv([one.zones]))
        highest[rows[0]["unit"]] = max(float(row["highest_reading_number"] or 0) for row in rows)
        assert any(row["highest_reading"] for row in rows)
        assert [row["area_m2"] for row in rows]
    assert highest["ng/m³"] == pytest.approx(1000 * highest["µg/m³"], rel=1e-3)


def test_every_room_has_a_row_with_its_average_and_what_it_may_reach(run: MapRun) -> None:
    one = run.floors[0]
    rows = rows_of(rooms_csv([(one.evidence, one.rooms)]))
    assert [row["room"] for row in rows] == [room.id for room in one.floor.rooms]
    for row, figures in zip(rows, one.rooms, strict=True):
        assert row["unit"] == one.zones.level.unit
        if figures.average is None:
            assert row["average"] == row["probability_anywhere_above"] == ""
            continue
        low, mean, high = (float(row[f"average{end}"]) for end in ("_low_95", "", "_high_95"))
        assert low < mean < high
        assert 0 < float(row["average_standard_error"]) < mean
        assert 0 <= float(row["probability_anywhere_above"]) <= 1
    assert any(row["average"] for row in rows)


def test_places_are_ranked_and_stand_in_their_room(run: MapRun) -> None:
    rows = rows_of(resample_csv([run.floors[0].resample]))
    assert [int(row["rank"]) for row in rows] == list(range(1, len(rows) + 1))
    from shapely import Point

    for row in rows:
        room = run.floors[0].floor.room(row["room"])
        assert room is not None
        assert room.polygon.distance(Point(float(row["x_m"]), float(row["y_m"]))) < 0.02
        assert row["reasons"]
        assert float(row["height_m"]) > 0


def test_no_zones_is_a_header() -> None:
    assert zones_csv([]).count("\r\n") == 1
    assert resample_csv([]).startswith("floor,rank,room")


def test_a_table_starts_with_a_mark_that_spreadsheets_read(tmp_path: Path) -> None:
    write_csv(tmp_path / "a.csv", "µ\r\n")
    assert (tmp_path / "a.csv").read_bytes() == b"\xef\xbb\xbf\xc2\xb5\r\n"
