"""The invented building of demo_site is sound, says so, and comes out of its script again."""

from __future__ import annotations

import csv
import json
import math
import subprocess
import sys
import tomllib
from collections import Counter
from datetime import datetime
from itertools import combinations
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry import shape

from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.trust import judged_site

DEMO = Path(__file__).parents[1] / "demo_site"
FLOORS = ("ground", "first", "top")
REACH_M = 0.35  # our convention: an opening joins the rooms this near to its midpoint
LEVEL = 0.8  # µg/m³; New Jersey Department of Health, 6 February 2020, in a consultant's summary

Row = dict[str, str]


@pytest.fixture(scope="module")
def features() -> dict[str, list[dict[str, Any]]]:
    return {
        name: json.loads((DEMO / f"plans/{name}.geojson").read_text("utf-8"))["features"]
        for name in FLOORS
    }


@pytest.fixture(scope="module")
def rooms(features: dict[str, list[dict[str, Any]]]) -> dict[str, dict[str, Polygon]]:
    return {
        name: {
            one["properties"]["id"]: shape(one["geometry"])
            for one in features[name]
            if one["properties"]["kind"] == "room"
        }
        for name in FLOORS
    }


@pytest.fixture(scope="module")
def readings() -> dict[str, list[Row]]:
    return {
        "before": _rows("readings/2026-03-02.csv"),
        "after": _rows("readings/2026-03-16.csv"),
    }


@pytest.fixture(scope="module")
def story() -> tuple[ModuleType, ModuleType]:
    """Import the story's modules by path; they are scripts, not part of the package."""
    before = sys.path[:]
    sys.path.insert(0, str(DEMO))
    try:
        import make_demo
        import story_air
    finally:
        sys.path[:] = before
    return make_demo, story_air


def _rows(name: str) -> list[Row]:
    with (DEMO / name).open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def _openings(features: list[dict[str, Any]]) -> dict[str, tuple[LineString, str]]:
    return {
        one["properties"]["id"]: (shape(one["geometry"]), one["properties"]["state"])
        for one in features
        if one["properties"]["kind"] == "opening"
    }


def _adult(rows: list[Row], room: str) -> list[float]:
    chosen = [row for row in rows if row["room"] == room and row["height"] == "1.5"]
    return [float(row["value"]) for row in chosen if row["unit"] == "ug/m3"]


def test_the_script_makes_the_committed_files_again(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-B", str(DEMO / "make_demo.py"), "--into", str(tmp_path)],
        check=True,
        timeout=120,
    )
    made = {path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()}
    assert {path.as_posix() for path in made} == {
        "site.toml",
        "sampling-plan.csv",
        *(f"plans/{name}.geojson" for name in FLOORS),
        "readings/2026-03-02.csv",
        "readings/2026-03-16.csv",
        "instruments/log.csv",
    }
    for name in made:
        committed = (DEMO / name).read_bytes().replace(b"\r\n", b"\n")
        assert (tmp_path / name).read_bytes() == committed, name


def test_the_site_says_that_it_is_invented() -> None:
    site = tomllib.loads((DEMO / "site.toml").read_text("utf-8"))
    assert site["invented"] is True
    assert "invented" in site["name"]
    assert site["use"] == "school"
    assert [floor["name"] for floor in site["floors"]] == list(FLOORS)


def test_rooms_are_valid_and_stand_a_wall_apart(rooms: dict[str, dict[str, Polygon]]) -> None:
    assert sum(len(floor) for floor in rooms.values()) >= 30
    assert all(polygon.is_valid for floor in rooms.values() for polygon in floor.values())
    for floor in rooms.values():
        apart = [one.distance(other) for one, other in combinations(floor.values(), 2)]
        assert min(apart) == pytest.approx(0.15, abs=1e-6)


def test_every_opening_touches_one_or_two_rooms(
    features: dict[str, list[dict[str, Any]]], rooms: dict[str, dict[str, Polygon]]
) -> None:
    for name in FLOORS:
        for key, (line, _) in _openings(features[name]).items():
            middle = line.interpolate(0.5, normalized=True)
            near = [room for room in rooms[name].values() if room.distance(middle) <= REACH_M]
            assert len(near) in (1, 2), key
            assert round(line.length, 3) in (0.9, 1.6), key
            # Midway in the wall: it runs along the edge of each room, inside none.
            assert all(not room.intersects(line) for room in near), key
            ends = [Point(end) for end in line.coords]
            assert all(room.distance(end) <= REACH_M for room in near for end in ends), key


def test_no_wall_line_crosses_a_doorway(features: dict[str, list[dict[str, Any]]]) -> None:
    for name in FLOORS:
        walls = [shape(f["geometry"]) for f in features[name] if f["properties"]["kind"] == "wall"]
        for key, (line, _) in _openings(features[name]).items():
            way = shapely.affinity.scale(line, 0.9, 0.9).buffer(0.2, cap_style="flat")
            assert not any(wall.intersects(way) for wall in walls), key


def test_one_room_has_neither_an_opening_nor_a_reading(
    features: dict[str, list[dict[str, Any]]],
    rooms: dict[str, dict[str, Polygon]],
    readings: dict[str, list[Row]],
) -> None:
    read = {row["room"] for rows in readings.values() for row in rows}
    shut = []
    unread = []
    for name in FLOORS:
        lines = [line for line, _ in _openings(features[name]).values()]
        for key, room in rooms[name].items():
            unread += [key] if key not in read else []
            shut += [key] if all(room.distance(line) > REACH_M for line in lines) else []
    assert shut == ["G13"]
    assert sorted(unread) == ["F11", "G06", "G13", "T02", "T05", "T12"]


def test_two_readings_are_slips_of_the_pen(
    rooms: dict[str, dict[str, Polygon]], readings: dict[str, list[Row]]
) -> None:
    wrong = []
    for rows in readings.values():
        for row in rows:
            room = rooms[row["floor"]][row["room"]] if row["room"] else Polygon()
            if row["x"] and not room.contains(Point(float(row["x"]), float(row["y"]))):
                wrong.append((row["round"], "place"))
            if row["unit"] != "ug/m3":
                wrong.append((row["round"], "unit"))
            assert math.isfinite(float(row["value"]))
    assert sorted(wrong) == [("before", "place"), ("before", "unit")]


def test_the_readings_show_every_kind(readings: dict[str, list[Row]]) -> None:
    rows = [row for one in readings.values() for row in one]
    assert len(rows) >= 150
    assert len({row["id"] for row in rows}) == len(rows)
    assert Counter(row["height"] for row in rows).keys() == {"1.5", "0.3", "0.05", ""}
    assert Counter(row["kind"] for row in rows if row["kind"]) == {
        "duplicate": 7, "background": 4, "headspace": 2
    }  # fmt: skip
    saturated = [row for row in rows if row["qualifier"] == ">"]
    assert {(row["room"], row["height"]) for row in saturated} == {("G04", "1.5"), ("G04", "0.05")}
    assert sum(row["qualifier"] == "<" for row in rows) > 20
    assert sum(float(row["value"]) == 0 for row in rows) == 2
    assert sum(not row["x"] for row in rows) >= 5


def test_exactly_one_pair_of_replicates_disagrees(readings: dict[str, list[Row]]) -> None:
    pairs: dict[tuple[str, ...], list[float]] = {}
    for rows in readings.values():
        for row in rows:
            if row["x"] and row["qualifier"] != ">":
                place = tuple(row[key] for key in ("round", "floor", "x", "y", "height"))
                pairs.setdefault(place, []).append(float(row["value"]))
    repeated = {place: values for place, values in pairs.items() if len(values) == 2}
    # RPD = 200 |a - b| / (a + b); 25 % is common practice, no source.
    apart = {p: 200 * abs(a - b) / (a + b) for p, (a, b) in repeated.items()}
    assert len(repeated) >= 6
    assert [place[1] for place, rpd in apart.items() if rpd > 25] == ["ground"]


def test_the_story_can_be_read_from_the_readings(readings: dict[str, list[Row]]) -> None:
    before, after = readings["before"], readings["after"]
    assert min(_adult(before, "G04")) > 10
    assert LEVEL < np.median(_adult(before, "G14")) < 10
    assert max(_adult(before, "G01") + _adult(before, "F04") + _adult(before, "T06")) < LEVEL
    assert max(_adult(before, "F07")) > LEVEL > max(_adult(before, "T08"))
    store = _adult(after, "G04")
    assert min(store) < LEVEL < max(store)
    others = [value for row in after if row["room"] != "G04" for value in [float(row["value"])]]
    assert max(others) < LEVEL


def test_no_reading_is_taken_during_a_check_of_the_instrument(
    readings: dict[str, list[Row]],
) -> None:
    log = _rows("instruments/log.csv")
    spans = [
        (datetime.fromisoformat(row["start"]), datetime.fromisoformat(row["end"])) for row in log
    ]
    assert all(start < end for start, end in spans)
    for rows in readings.values():
        times = [datetime.fromisoformat(row["time"]) for row in rows]
        assert len(set(times)) == len(times)
        assert not any(start <= time < end for time in times for start, end in spans)
        day = [row for row in log if row["start"][:10] == rows[0]["time"][:10]]
        assert day[0]["check"] == day[-1]["check"] == "regeneration"


def test_one_reading_was_taken_on_a_saturated_film_and_is_held_for_it() -> None:
    site = read_site(DEMO)
    level, _ = level_in_force(site, None)
    readings = judged_site(site, level).readings
    by_log = [(one.note, f.rule) for one in readings for f in one.findings if f.severity == "hold"]
    assert by_log == [("read once more before the film was regenerated", "saturation")]
    assert Counter(one.verdict for one in readings)["held"] == 3
    # what was read on the fresh film before it saturated counts
    assert all(one.usable for one in readings if one.qualifier == ">")


def test_five_samples_of_zero_air_stay_below_the_detection_limit() -> None:
    zeros = [
        row["values"].split() for row in _rows("instruments/log.csv") if row["check"] == "zero-air"
    ]
    assert zeros
    assert all(len(one) == 5 for one in zeros)
    assert all(float(value) <= 0.05 for one in zeros for value in one)


def test_the_air_of_the_story_loses_what_the_droplets_emit(
    story: tuple[ModuleType, ModuleType],
) -> None:
    """At steady state the whole building loses by air exchange what it takes up."""
    make_demo, _ = story
    air = make_demo.AIR
    for field in make_demo.airs().values():
        lost = 0.0
        for storey in make_demo.storeys():
            excess = field.concentration[storey.name] - air.outdoor_ug_m3
            for index, key in enumerate(storey.rooms):
                rate = air.room_air_changes_per_h.get(key, air.air_changes_per_h)
                held = excess[field.room[storey.name] == index].sum()
                lost += rate * held * air.cell_m**2 * air.ceiling_m
        emitted = sum(spill.emission_ug_h for spill in field.spills)
        assert lost == pytest.approx(emitted, rel=1e-8)


def test_a_sealed_room_with_a_spill_holds_the_well_mixed_mean(
    story: tuple[ModuleType, ModuleType],
) -> None:
    """Css = Co + E / (λ V), the well-mixed room: exact for the mean of a shut room."""
    make_demo, story_air = story
    spill = story_air.Spill("ground", 32.5, 14.0, 0.4, 25.0, 0.0)
    field = story_air.solve(make_demo.storeys(), make_demo.AIR, (spill,))
    number = list(make_demo.storeys()[0].rooms).index("G13")
    inside = field.room["ground"] == number
    volume = inside.sum() * make_demo.AIR.cell_m**2 * make_demo.AIR.ceiling_m
    rate = make_demo.AIR.room_air_changes_per_h["G13"]
    expected = make_demo.AIR.outdoor_ug_m3 + 25.0 / (rate * volume)
    assert field.concentration["ground"][inside].mean() == pytest.approx(expected, rel=1e-9)
    # None of it reaches any other room of any floor.
    elsewhere = field.concentration["ground"][~inside & (field.room["ground"] >= 0)]
    assert np.allclose(elsewhere, make_demo.AIR.outdoor_ug_m3)
    assert np.nanmax(field.concentration["top"]) == pytest.approx(make_demo.AIR.outdoor_ug_m3)
