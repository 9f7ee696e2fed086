"""A plan is trusted only where each room is one sound polygon of its own."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.plan import OPENING_REACH_M, Plan, read_plan

Make = Callable[..., dict[str, Any]]


def read(plan: Any) -> Plan:
    data = plan if isinstance(plan, bytes) else json.dumps(plan).encode()
    return read_plan(data, where="plans/g.geojson", floor="ground")


def complaint(plan: Any) -> str:
    with pytest.raises(PlanError) as caught:
        read(plan)
    shown = str(caught.value)
    assert "\n" not in shown
    assert shown.startswith("plans/g.geojson: ")
    return shown


def test_rooms_walls_and_openings_are_read(
    make_plan: Make, make_room: Make, make_feature: Make
) -> None:
    wall = make_feature("wall", "LineString", [[6, 0], [6, 2]])
    door = make_feature("opening", "LineString", [[6, 2], [6, 3]], id="d1", state="closed")
    plan = read(make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5), wall, door))
    assert [(room.id, room.name, room.area_m2) for room in plan.rooms] == [
        ("A", "Room A", 30.0),
        ("B", "Room B", 30.0),
    ]
    assert len(plan.walls) == 1
    assert (plan.openings[0].state, set(plan.openings[0].rooms)) == ("closed", {"A", "B"})
    assert plan.problems == ()


def test_a_byte_order_mark_is_read_over(make_plan: Make) -> None:
    assert len(read(b"\xef\xbb\xbf" + json.dumps(make_plan()).encode()).rooms) == 2


@pytest.mark.parametrize(
    ("data", "text"),
    [
        (b"", "is not GeoJSON"),
        (b"{", "line 1"),
        (b"[]", "no list of features"),
        (b'{"features": 3}', "no list of features"),
        (b"\xff\xfe\x00", "is not UTF-8"),
        (b"[" * 100_000, "nested too deeply"),
        (b'{"features": []}', "no room"),
        (b'{"features": [' + b"1" * 5000 + b"]}", "is not GeoJSON"),
    ],
)
def test_a_file_that_is_no_plan_is_one_line(data: bytes, text: str) -> None:
    assert text in complaint(data)


def test_an_unclosed_ring_is_named_with_its_ends(make_plan: Make, make_feature: Make) -> None:
    ring = [[0, 0], [6, 0], [6, 5], [0, 5]]
    shown = complaint(make_plan(make_feature("room", "Polygon", [ring], name="Lab")))
    assert "feature 1 (Lab)" in shown
    assert "not closed: starts at [0, 0], ends at [0, 5]" in shown


def test_an_unclosed_hole_is_refused(make_plan: Make, make_feature: Make) -> None:
    outer = [[0, 0], [6, 0], [6, 5], [0, 5], [0, 0]]
    shown = complaint(
        make_plan(make_feature("room", "Polygon", [outer, [[1, 1], [2, 1], [2, 2], [1, 2]]]))
    )
    assert "not closed" in shown


def test_a_self_crossing_outline_is_named_with_the_place(
    make_plan: Make, make_feature: Make
) -> None:
    ring = [[0, 0], [6, 5], [6, 0], [0, 5], [0, 0]]
    shown = complaint(make_plan(make_feature("room", "Polygon", [ring], name="Lab")))
    assert "feature 1 (Lab)" in shown
    assert "Self-intersection" in shown
    assert "3 2.5" in shown


def test_overlapping_rooms_are_named_with_the_area(make_plan: Make, make_room: Make) -> None:
    shown = complaint(make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 5, 0, 12, 5)))
    assert "'Room A' and 'Room B' overlap by 5.00 m²" in shown


def test_a_room_within_a_room_overlaps(make_plan: Make, make_room: Make) -> None:
    assert "overlap" in complaint(make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 1, 1, 2, 2)))


def test_rooms_that_share_a_drawing_tolerance_are_accepted(
    make_plan: Make, make_room: Make
) -> None:
    assert len(read(make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 5.999, 0, 9, 5))).rooms)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ({"id": "1", "name": "Lab"}, {"id": "2", "name": "Lab"}),
        ({"id": "1", "name": "Lab"}, {"id": "2", "name": "LAB "}),
        ({"id": "1", "name": "Lab"}, {"id": "1", "name": "Store"}),
        ({"id": "1", "name": "Lab"}, {"id": "Lab", "name": "Store"}),
        ({"id": "A", "name": "B"}, {"id": "B", "name": "A"}),
    ],
)
def test_two_rooms_that_one_word_could_mean_are_refused(
    make_plan: Make, make_room: Make, first: dict[str, str], second: dict[str, str]
) -> None:
    rooms = [make_room("x", 0, 0, 6, 5), make_room("y", 6, 0, 12, 5)]
    for room, words in zip(rooms, (first, second), strict=True):
        room["properties"].update(words)
    assert "2 rooms" in complaint(make_plan(*rooms))


def test_a_room_whose_name_is_its_id_is_one_room(make_plan: Make, make_room: Make) -> None:
    room = make_room("A", 0, 0, 6, 5)
    room["properties"]["name"] = "A"
    assert read(make_plan(room)).rooms[0].name == "A"


@pytest.mark.parametrize(
    "geometry",
    [
        None,
        [],
        {},
        {"type": "Polygon"},
        {"type": "Polygon", "coordinates": 5},
        {"type": "Polygon", "coordinates": []},
        {"type": "Polygon", "coordinates": [5]},
        {"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[["a", "b"], [1, 1], [2, 0], ["a", "b"]]]},
        {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, None], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[[0, 0], [10**400, 0], [1, 1], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[[0, 0], [float("nan"), 0], [1, 1], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[[0, 0], [float("inf"), 0], [1, 1], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [2, 0], [0, 0]]]},
        {"type": "Polygon", "coordinates": [[[], [], [], []]]},
        {"type": "Blob", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]},
        {"type": 7, "coordinates": []},
        {"type": "Point", "coordinates": [0, 0]},
        {"type": "GeometryCollection", "geometries": 3},
        {"type": "MultiPolygon", "coordinates": [[[[0, 0], [1, 0], [1, 1], [0, 0]]]]},
    ],
)
def test_a_room_whose_geometry_cannot_be_used_is_one_line(make_plan: Make, geometry: Any) -> None:
    feature = {"type": "Feature", "properties": {"kind": "room"}, "geometry": geometry}
    assert "feature 1" in complaint(make_plan(feature))


@pytest.mark.parametrize("kind", ["room", "wall", "opening"])
@pytest.mark.parametrize("far", [1.1e8, -1e9, 1e155, 1e300])
def test_a_coordinate_farther_out_than_any_map_is_refused(
    make_plan: Make, make_room: Make, make_feature: Make, kind: str, far: float
) -> None:
    ring = [[far, 0], [far, 5], [0, 5], [far, 0]]
    shape = ("Polygon", [ring]) if kind == "room" else ("LineString", ring[:2])
    shown = complaint(make_plan(make_room("A", 0, 0, 6, 5), make_feature(kind, *shape)))
    assert f"feature 2 ({kind}): a coordinate of {abs(far):g} is farther out" in shown
    assert "draw the plan in metres" in shown


def test_a_plan_longer_than_a_building_is_refused_and_one_far_from_zero_is_not(
    make_plan: Make, make_room: Make
) -> None:
    near, far = make_room("A", 0, 0, 6, 5), make_room("B", 5001, 0, 5007, 5)
    shown = complaint(make_plan(near, far))
    assert "its rooms span 5007 m" in shown
    assert "export it in metres" in shown
    assert len(read(make_plan(make_room("A", 3.2e7, 5.9e6, 3.2e7 + 4990, 5.9e6 + 5))).rooms) == 1


@pytest.mark.parametrize("feature", [None, 3, "room", [], {"properties": "room"}])
def test_a_feature_that_is_none_is_one_line(make_plan: Make, feature: Any) -> None:
    complaint({"type": "FeatureCollection", "features": [feature]})


def test_the_first_three_errors_are_named_and_the_rest_counted(
    make_plan: Make, make_feature: Make
) -> None:
    bad = [make_feature("room", "Point", [0, 0], name=f"N{k}") for k in range(5)]
    shown = complaint(make_plan(*bad))
    assert "N0" in shown
    assert "N2" in shown
    assert "N3" not in shown
    assert "(and 2 more)" in shown


def test_an_unknown_kind_is_left_out_and_said(make_plan: Make, make_room: Make) -> None:
    odd = make_room("B", 6, 0, 12, 5)
    odd["properties"]["kind"] = "rooom"
    plan = read(make_plan(make_room("A", 0, 0, 6, 5), odd))
    assert [room.id for room in plan.rooms] == ["A"]
    assert plan.problems[0].todo == "did you mean 'room'?"
    assert plan.problems[0].severity == "note"


def test_an_opening_away_from_every_room_is_said(
    make_plan: Make, make_room: Make, make_feature: Make
) -> None:
    far = make_feature("opening", "LineString", [[20, 0], [21, 0]], id="d9")
    plan = read(make_plan(make_room("A", 0, 0, 6, 5), far))
    assert plan.openings[0].rooms == ()
    assert "'d9' touches no room" in plan.problems[0].message


def test_a_front_door_beside_a_partition_does_not_join_the_room_behind_it(
    make_plan: Make, make_room: Make, make_feature: Make
) -> None:
    door = make_feature("opening", "LineString", [[5.4, 5], [6, 5]], id="front")
    rooms = make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5)
    (opening,) = read(make_plan(*rooms, door)).openings
    assert opening.rooms == ("A",)


def test_an_opening_joins_the_rooms_on_both_sides_of_a_thick_wall(
    make_plan: Make, make_room: Make, make_feature: Make
) -> None:
    half = OPENING_REACH_M - 0.01
    door = make_feature("opening", "LineString", [[6 + half, 2], [6 + half, 3]])
    plan = read(make_plan(make_room("A", 0, 0, 6, 5), make_room("B", 6 + 2 * half, 0, 12, 5), door))
    assert set(plan.openings[0].rooms) == {"A", "B"}


def test_an_unknown_state_of_an_opening_is_refused(
    make_plan: Make, make_room: Make, make_feature: Make
) -> None:
    door = make_feature("opening", "LineString", [[6, 2], [6, 3]], state="ajar")
    assert "'ajar' is not one of open, closed, sealed" in complaint(
        make_plan(make_room("A", 0, 0, 6, 5), door)
    )


def test_a_name_with_control_characters_or_half_a_character_becomes_printable(
    make_plan: Make, make_room: Make
) -> None:
    room = make_room("A", 0, 0, 6, 5)
    room["properties"]["name"] = "a\x1b[31m\x00b\ud800\nc"
    name = read(make_plan(room)).rooms[0].name
    assert name.isprintable()
    assert name.encode()


@given(
    st.recursive(
        st.none() | st.booleans() | st.floats() | st.text(max_size=5) | st.integers(),
        lambda inner: (
            st.lists(inner, max_size=4)
            | st.dictionaries(
                st.sampled_from(["type", "geometry", "coordinates", "properties", "kind", "id"]),
                inner | st.sampled_from(["Polygon", "Feature", "room", "opening", "LineString"]),
                max_size=4,
            )
        ),
        max_leaves=20,
    )
)
def test_any_feature_is_read_or_refused_in_one_line(feature: Any) -> None:
    with pytest.raises(PlanError) as caught:
        read({"features": [feature]})
    assert "\n" not in str(caught.value)
