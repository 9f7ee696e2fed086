"""A hot reading that cannot be placed: the ground that it may be on is never clear."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from hgmap.batch import MapOptions, map_site

SITE = """name = "two rooms"
use = "dwelling"
[level]
name = "atsdr-residential-occupancy"
[[floors]]
name = "g"
plan = "plans/g.geojson"
[[rounds]]
name = "one"
readings = ["readings/r.csv"]
"""

ROOM_A_M2, ROOM_B_M2 = 96.0, 64.0


def clear_by_room(folder: Path, extra: str) -> tuple[float, float, int]:
    """Map two quiet rooms with one more row; return clear m² of each, and the places proposed."""
    (folder / "plans").mkdir()
    (folder / "readings").mkdir()
    features = [
        {"properties": {"kind": "room", "id": name, "name": f"Room {name}"},
         "geometry": {"type": "Polygon", "coordinates": [
             [[west, 0], [east, 0], [east, 8], [west, 8], [west, 0]]]}}
        for name, west, east in (("A", 0, 12), ("B", 12, 20))
    ]  # fmt: skip
    plan = {"type": "FeatureCollection", "features": features}
    (folder / "plans/g.geojson").write_text(json.dumps(plan))
    rows = ["id,floor,room,x,y,height,value,unit,round"]
    rows += [
        f"R{x}-{y},g,,{x},{y},1.5,0.0{5 + (x + y) % 3},ug/m3,"
        for x in (1, 4, 7, 11, 13, 16, 19)
        for y in (2, 6)
    ]
    (folder / "readings/r.csv").write_text("\n".join([*rows, extra]) + "\n")
    (folder / "site.toml").write_text(SITE)
    (one,) = map_site(folder, MapOptions(cell_m=0.5, out=folder / "out")).floors
    zones = one.zones
    return zones.area_m2("clear", "A"), zones.area_m2("clear", "B"), len(one.resample.places)


def test_without_such_a_reading_both_rooms_are_clear(tmp_path: Path) -> None:
    a, b, places = clear_by_room(tmp_path, "Q,g,,5,5,1.5,0.06,ug/m3,")
    assert (a, b, places) == (pytest.approx(ROOM_A_M2), pytest.approx(ROOM_B_M2), 0)


@pytest.mark.parametrize(
    "row",
    [
        "H,gg,,6,4,1.5,7,ug/m3,",  # a floor that is not there
        "H,g,,6,4,1.5,7,ug/m3,onne",  # a round that is not there
        "H,g,Romm X,,,1.5,9,ug/m3,",  # a room that is not there, and no place
    ],
)
def test_a_hot_reading_that_may_be_anywhere_leaves_nothing_clear(tmp_path: Path, row: str) -> None:
    a, b, _ = clear_by_room(tmp_path, row)
    assert (a, b) == (0.0, 0.0)


@pytest.mark.parametrize(
    "row",
    [
        "H,g,Room A,,,1.5,5,ug/m3,",  # used, but only its room is known
        "H,g,,-0.2,4,1.5,7,ug/m3,",  # just outside the outline
        "H,g,Room A,,,1.5,0.05,furlong,",  # held, and only its room is known
    ],
)
def test_where_only_the_room_is_known_the_whole_room_is_guarded(tmp_path: Path, row: str) -> None:
    a, b, places = clear_by_room(tmp_path, row)
    assert a == 0.0
    assert b == pytest.approx(ROOM_B_M2)
    assert places >= 1


@pytest.mark.parametrize("value", ["7", "0.05"])
def test_a_room_and_a_place_that_disagree_are_both_guarded(tmp_path: Path, value: str) -> None:
    a, b, places = clear_by_room(tmp_path, f"H,g,Room A,15,4,1.5,{value},ug/m3,")
    assert a == 0.0
    assert b < ROOM_B_M2 - 5.0
    assert places >= 2


def test_an_unknown_room_name_still_guards_the_place(tmp_path: Path) -> None:
    a, b, places = clear_by_room(tmp_path, "H,g,Romm A,6,4,1.5,7,ug/m3,")
    assert a < ROOM_A_M2 - 5.0
    assert b == pytest.approx(ROOM_B_M2)
    assert places >= 1


def test_a_reading_within_its_own_error_of_the_level_guards_its_ground(tmp_path: Path) -> None:
    a, _, _ = clear_by_room(tmp_path, "N,g,,6,4,1.5,0.9,ug/m3,")
    assert a < ROOM_A_M2 - 5.0
