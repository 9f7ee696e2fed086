"""summary.json holds what made a run and what it rules, and is always JSON."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.batch import MapOptions, map_site
from hgmap.report.summary import to_json
from hgmap.report.title_block import caution
from hgmap.site.folder import read_site

MakeSite = Callable[..., Path]


def refuse(text: str) -> float:
    raise AssertionError(f"{text} is not JSON")


@pytest.fixture
def summary(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any, no_sheets: None
) -> tuple[Path, dict[str, Any]]:
    rows = [
        *make_rows(),
        "H1,ground,A,1,1,1.5,,NaN,ug/m3,,",
        "H2,nowhere,A,1,1,1.5,,1,ug/m3,,",
        "L1,ground,A,2,2,0.05,,20,ug/m3,,sweep",
        "P1,ground,A,,,1.5,,1.5,ug/m3,,",
    ]
    site = make_site(
        plans={"ground": make_plan(), "cellar": b"{"}, readings={"first.csv": make_table(rows)}
    )
    run = map_site(site, MapOptions(cell_m=0.5))
    text = (run.out / "summary.json").read_text("utf-8")
    return site, json.loads(text, parse_constant=refuse)


def test_the_summary_carries_the_sentence_of_the_sheets(
    summary: tuple[Path, dict[str, Any]],
) -> None:
    site, found = summary
    assert found["caution"] == caution(read_site(site))
    assert "not a health opinion" in found["caution"]


def test_the_run_says_what_it_was(summary: tuple[Path, dict[str, Any]]) -> None:
    _, found = summary
    assert found["site"] == "Test building (invented)"
    assert found["invented"] is True
    assert (found["round"], found["height_band"], found["use"]) == (
        "first",
        "adult breathing",
        "commercial",
    )
    level = found["action_level"]
    assert (level["value"], level["unit"], level["name"]) == (
        3.0,
        "µg/m³",
        "atsdr-commercial-occupancy",
    )
    for key in ("averaging", "height", "scenario", "source"):
        assert level[key]
    assert found["rules"] == {
        "remediate_at": 0.5,
        "clear_at": 0.05,
        "guard_m": 1.5,
        "doubt_share": 0.05,
        "zones": "taped",
        "tape_width_m": 0.6,
        "tape_area_m2": 1.0,
    }
    assert found["made_by"].startswith("hgmap ")
    assert "Local codes and licensed practice decide" in found["caution"]


def test_each_floor_says_its_readings_method_scores_areas_and_warnings(
    summary: tuple[Path, dict[str, Any]],
) -> None:
    floor = summary[1]["floors"][0]
    used = {one["id"]: one for one in floor["readings"]["used"]}
    aside = {one["id"]: one for one in floor["readings"]["set_aside"]}
    assert len(used) == 16
    assert set(aside) == {"H1", "L1"}
    assert aside["H1"]["role"] == "held"
    assert aside["L1"]["role"] == "other height"
    for one in (*used.values(), *aside.values()):
        assert one["where"].startswith("readings/first.csv, row ")
    assert all(one["reasons"] for one in aside.values())
    assert used["P1"]["placed"] == "room"
    assert "representative point" in used["P1"]["reasons"][0]
    assert floor["method"] == "kriging"
    assert floor["settings"]["cell_m"] == 0.5
    variogram = floor["variogram"]
    assert variogram["model"]
    assert variogram["origin"]
    for key in ("nugget", "psill", "range_m"):
        assert variogram[key] >= 0
    scores = floor["leave_one_out"]
    assert scores["n"] == 16
    assert scores["rmse"] > 0
    assert floor["area_m2"] == pytest.approx(60)
    assert set(floor["zones_m2"]) == {"remediate", "resample", "clear", "no data"}
    assert set(floor["zones_by_room_m2"]) == {"A", "B"}
    assert isinstance(floor["notes"], list)
    assert isinstance(floor["files"], list)
    assert floor["no_surface"] is None


def test_held_rows_lost_floors_and_digests_are_listed(
    summary: tuple[Path, dict[str, Any]],
) -> None:
    site, found = summary
    assert [one["where"] for one in found["held"]] == [
        "readings/first.csv, row 17 (H1)",
        "readings/first.csv, row 18 (H2)",
    ]
    assert all(one["message"] for one in found["held"])
    assert [one["floor"] for one in found["floors_not_made"]] == ["cellar"]
    digests = found["inputs_sha256"]
    assert set(digests) == {
        "site.toml",
        "plans/0.geojson",
        "plans/1.geojson",
        "readings/first.csv",
    }
    for name, value in digests.items():
        assert value == hashlib.sha256((site / name).read_bytes()).hexdigest()


def test_nothing_in_it_tells_where_the_folder_lies(summary: tuple[Path, dict[str, Any]]) -> None:
    site, found = summary
    assert str(site.parent) not in json.dumps(found)


@pytest.mark.parametrize("number", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_becomes_null(number: float) -> None:
    text = to_json({"a": [number, {"b": number}], "c": (number, 1.5)})
    assert json.loads(text, parse_constant=refuse) == {"a": [None, {"b": None}], "c": [None, 1.5]}


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text() | st.integers(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=10,
    )
)
def test_any_summary_is_json_in_utf_8(value: Any) -> None:
    json.loads(to_json({"x": value}).encode("utf-8"), parse_constant=refuse)
