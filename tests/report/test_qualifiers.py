"""Non-detects, ranges and approximate numbers keep their sign wherever a reading is printed."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import geopandas as gpd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.batch import FloorMap, MapOptions, map_floor
from hgmap.decide.model import Evidence
from hgmap.report import drawing as d
from hgmap.report.gis import write_geopackage
from hgmap.report.run_facts import RunFacts, lines_about
from hgmap.report.sheet import zone_sheet
from hgmap.report.summary import floor_summary
from hgmap.report.tables import rooms_csv, zones_csv
from hgmap.report.words import evidence_text, reading_value
from hgmap.site.building import Floor, HeightBand, Opening, Room
from hgmap.site.model import ActionLevel, MapSettings, Round, Site, TitleBlock
from hgmap.site.reading import Finding, Reading

LEVEL = ActionLevel(
    name="invented", value=1000.0, unit="ng/m³", medium="air", concentration=1.0,
    averaging="8 h", height="breathing zone", scenario="invented", kind="stated", uses=(),
    source="invented", year=2026,
)  # fmt: skip
FLOOR = Floor(
    "ground", "Ground floor",
    (Room("r0", "Room 0", box(0, 0, 8, 6)), Room("r1", "Room 1", box(8, 0, 14, 6))),
    openings=(Opening("d", LineString([(8, 2), (8, 3)]), "open", ("r0", "r1")),),
)  # fmt: skip
BANDS = (HeightBand("adult", 1.2, 1.8),)


def reading(
    name: str, value: float | None, qualifier: Any = "", low: float | None = None,
    *, at: tuple[float, float] = (1.0, 1.0), unit: str = "µg/m³", **changed: Any,
) -> Reading:  # fmt: skip
    scale = 1.0 if unit == "µg/m³" else 1e-3
    made = Reading(
        id=name, round="first", floor="ground", room="r0" if at[0] < 8 else "r1", x=at[0], y=at[1],
        height_m=1.5, time=None, value=value, unit=unit, qualifier=qualifier, note="",
        concentration=None if value is None else scale * value, band="adult", placed="given",
        where=f"invented.csv, row {name}", low=low,
        concentration_low=None if low is None else scale * low,
    )  # fmt: skip
    return made._replace(**changed)


def mapped(readings: Sequence[Reading]) -> tuple[Site, FloorMap]:
    site = Site(
        folder=Path(), name="invented", analyte="mercury", medium="air", use=None, invented=True,
        level=None, floors=(FLOOR,), rounds=(Round("first", "First", date(2026, 3, 2), ()),),
        height_bands=BANDS, readings=tuple(readings), settings=MapSettings(),
        title_block=TitleBlock(), problems=(),
    )  # fmt: skip
    made = map_floor(site, FLOOR, site.rounds[0], "adult", LEVEL, MapOptions(cell_m=0.5))
    return site, made


SURVEY = (
    reading("a", 0.12),
    reading("b", 0.15, "~", at=(3, 4.5)),
    reading("c", 0.5, "to", 0.1, at=(5, 2)),
    reading("e", 0.05, "up to", at=(7, 5)),
    reading("f", 0.041, "<", at=(9, 1), error=0.002, instrument="alpha",
            cautions=("zero drifted",),
            findings=(Finding("caution", "zero drift", "the zero drifted", ("log.csv, row 4",)),)),
    reading("g", 0.04, "<", at=(12, 4)),
    reading("bag", 12.0, kind="headspace", at=(11, 2)),
    reading("fb", 0.01, "<", kind="field blank", at=(2, 2)),
)  # fmt: skip


@pytest.fixture(scope="module")
def survey() -> tuple[Site, FloorMap]:
    return mapped(SURVEY)


@pytest.mark.parametrize(
    ("value", "qualifier", "low", "unit", "text"),
    [
        (150.0, "~", None, "ng/m³", "~150"),
        (0.15, "~", None, "µg/m³", "~150"),
        (5000.0, "to", 100.0, "ng/m³", "100 to 5000"),
        (5.0, "to", 0.1, "µg/m³", "100 to 5000"),
        (5.0, "to", None, "µg/m³", "up to 5000"),
        (500.0, "up to", None, "ng/m³", "up to 500"),
        (512.345, "up to", None, "ng/m³", "up to 513"),
        (1000.2, "up to", None, "ng/m³", "up to 1010"),  # outwards, and never to the level
        (999.9, "to", 10.56, "ng/m³", "10 to 1000"),
    ],
)
def test_a_qualified_reading_is_printed_as_it_was_written(
    value: float, qualifier: str, low: float | None, unit: str, text: str
) -> None:
    assert reading_value(reading("R", value, qualifier, low, unit=unit), LEVEL) == text


@given(st.floats(0.01, 1e4), st.floats(1.0, 1e3), st.floats(0.5, 1e4))
def test_what_is_printed_of_a_range_holds_all_that_was_written(
    low: float, factor: float, published: float
) -> None:
    level: Any = SimpleNamespace(value=published, unit="ng/m³", concentration=published / 1e3)
    written = reading_value(reading("R", low * factor, "to", low, unit="ng/m³"), level)
    below, above = (float(part) for part in written.split(" to "))
    assert below <= low * (1 + 1e-6)
    assert above >= low * factor * (1 - 1e-6)
    assert below == pytest.approx(low, rel=0.1)
    assert above == pytest.approx(low * factor, rel=0.1)


def test_many_readings_at_a_place_span_from_the_lowest_end_to_the_highest() -> None:
    items = tuple(
        Evidence(one, "used", False)
        for one in (reading("a", 0.3), reading("b", 0.05, "<"), reading("c", 0.2, "~"),
                    reading("e", 0.5, "to", 0.1))
    )  # fmt: skip
    assert evidence_text(items, LEVEL) == "<50 to 500 (4×)"


def test_the_sheet_explains_each_qualifier_that_it_prints(survey: tuple[Site, FloorMap]) -> None:
    def texts(site: Site, made: FloorMap) -> list[str]:
        return d.texts(
            zone_sheet(site, site.rounds[0], made.evidence, made.surface, made.zones, made.resample)
        )  # fmt: skip

    found = texts(*survey)
    for text in ("~150", "100 to 500", "up to 50", "<41", "120"):
        assert text in found
    explained = ("~ approximate: a wider error", "a to b: anything in between",
                 "up to: the highest of several")  # fmt: skip
    assert set(explained) <= set(found)
    assert not set(explained) & set(texts(*mapped([reading("x", 0.1)])))


def test_what_is_off_the_map_has_no_mark_and_a_note(survey: tuple[Site, FloorMap]) -> None:
    site, made = survey
    sheet = zone_sheet(site, site.rounds[0], made.evidence, made.surface, made.zones, made.resample)
    circles = {
        (item.x, item.y)
        for item in sheet.frames[0].drawing
        if isinstance(item, d.Dot) and item.shape in ("circle", "triangle", "diamond", "cross")
    }
    assert (9, 1) in circles
    assert not {(11, 2), (2, 2)} & circles
    together = " ".join(d.texts(sheet))
    assert "reported and not mapped: 1 field blank, 1 headspace" in together
    assert "bag headspace above the level" in together
    assert "without a place on this plan" not in together


def test_tables_carry_the_highest_reading_with_its_sign(survey: tuple[Site, FloorMap]) -> None:
    _, made = survey
    rooms = {
        row["room"]: row
        for row in csv.DictReader(io.StringIO(rooms_csv([(made.evidence, made.rooms)])))
    }
    assert rooms["r0"]["highest_reading"] == "100 to 500"
    assert rooms["r0"]["highest_reading_number"] == "500"
    assert rooms["r1"]["highest_reading"] == "<41"
    assert rooms["r1"]["highest_reading_number"] == "41"
    zones = list(csv.DictReader(io.StringIO(zones_csv([made.zones]))))
    assert {"100 to 500", "<41"} <= {row["highest_reading"] for row in zones}
    assert any("bag headspace bag reads 12 µg/m³" in row["reasons"] for row in zones)


def test_the_geopackage_carries_kind_instrument_verdict_error_low_and_findings(
    survey: tuple[Site, FloorMap], tmp_path: Path
) -> None:
    _, made = survey
    path = tmp_path / "site.gpkg"
    write_geopackage(path, [(made.evidence, made.zones, made.resample)])
    rows = gpd.read_file(path, layer="readings").set_index("id")
    one = rows.loc["f"]
    assert (one["kind"], one["instrument"]) == ("reading", "alpha")
    assert one["verdict"] == "usable with a caution"
    assert one["error"] == pytest.approx(2.0)  # ng/m³, as the level
    assert one["findings"] == "the zero drifted (log.csv, row 4)"
    assert "zero drifted" in one["reasons"]
    assert rows.loc["c", "low"] == pytest.approx(100.0)
    assert rows.loc["b", "error"] == pytest.approx(37.5)
    assert (rows.loc["bag", "role"], rows.loc["bag", "kind"]) == ("off the map", "headspace")
    zones = gpd.read_file(path, layer="zones")
    assert {"100 to 500", "<41"} <= set(zones["highest_reading"].dropna())
    assert zones["highest_reading_number"].max() == pytest.approx(500.0)


def test_the_geopackage_says_in_itself_whose_it_is_and_what_to_beware_of(
    survey: tuple[Site, FloorMap], tmp_path: Path
) -> None:
    site, made = survey
    facts = RunFacts(site, site.rounds[0], made.evidence.level, "", cautions=("a caution",))
    path = tmp_path / "site.gpkg"
    lines = lines_about(facts, [made])
    write_geopackage(path, [(made.evidence, made.zones, made.resample)], about=lines)
    read = gpd.read_file(path, layer="about").fillna("")
    assert list(read.itertuples(index=False, name=None)) == lines
    assert {"site", "action level", "caution", "answer", "zones"} <= set(read["about"])
    assert "geometry" not in read.columns
    assert len(gpd.read_file(path, layer="zones")) > 0


def test_the_summary_carries_what_is_known_of_each_reading(survey: tuple[Site, FloorMap]) -> None:
    _, made = survey
    found = floor_summary(
        made.evidence, made.surface, made.zones, made.resample, rooms=made.rooms, opinion=None,
        no_surface="", files=(),
    )  # fmt: skip
    aside = {one["id"]: one for one in found["readings"]["set_aside"]}
    used = {one["id"]: one for one in found["readings"]["used"]}
    assert aside["bag"]["kind"] == "headspace"
    assert used["c"]["as_written"] == "0.1 to 0.5 µg/m³"
    assert used["c"]["concentration_low"] == 0.1
    assert used["f"]["verdict"] == "usable with a caution"
    assert used["f"]["findings"] == ["the zero drifted (log.csv, row 4)"]
    rooms = {one["room"]: one for one in found["rooms"]}
    assert rooms["r1"]["highest_reading"] == "<0.041 µg/m³"
    assert rooms["r1"]["highest_reading_number"] == 0.041
