"""Ground that may not be clear, and the reason in words."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon, box

from hgmap.decide.guards import Guard, room_guards
from hgmap.decide.whose import place_of, room_items
from hgmap.site.building import Floor, Room

Make = Callable[..., Any]


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 20, 5), (20, 0, 30, 5)])
    return made


@pytest.fixture(scope="module")
def guards(survey: Make, floor: Floor) -> Make:
    def of(*readings: Any, guard_m: float = 1.5) -> list[Guard]:
        room = floor.rooms[0]
        return room_guards(
            room, room_items(survey(floor, readings), room), level=1.0, guard_m=guard_m
        )

    return of


def test_a_room_of_low_readings_has_no_guard(guards: Make, make_reading: Make) -> None:
    assert (
        guards(make_reading("R1", "r0", (1, 1), 0.2), make_reading("R2", "r0", (9, 1), 0.79)) == []
    )


@pytest.mark.parametrize(
    ("readings", "reason"),
    [
        ([], "no reading in this room"),
        ([{"value": 0.2, "height_m": 0.1}], "no reading at this height in this room"),
        ([{"value": 0.2, "held": ("late",)}], "every reading in this room is held"),
        (
            [{"value": 0.2, "held": ("late",)}, {"value": 0.2, "height_m": 0.1}],
            "no reading in this room counts for this map",
        ),
        (
            [{"value": 7, "height_m": 0.1}],
            "no reading at this height in this room; R0 reads 7 µg/m³, above the level",
        ),
        ([{"value": 3, "qualifier": "<"}], "no reading in this room counts for this map"),
    ],
)
def test_a_room_in_which_nothing_counts_is_guarded_as_a_whole(
    guards: Make, make_reading: Make, floor: Floor, readings: list[dict[str, Any]], reason: str
) -> None:
    made = [make_reading(f"R{k}", "r0", (k + 1, 1), **one) for k, one in enumerate(readings)]
    (guard,) = guards(*made)
    assert guard.geometry.equals(floor.rooms[0].polygon)
    assert guard.reason == reason


@pytest.mark.parametrize(
    ("reading", "reason"),
    [
        ({"value": 7}, "R1 at 1.5 m reads 7 µg/m³, above the level"),
        ({"value": 7, "height_m": 0.1}, "R1 at 0.1 m reads 7 µg/m³, above the level"),
        ({"value": 50, "qualifier": ">"}, "R1 at 1.5 m is saturated at 50 µg/m³"),
        ({"value": 0.3, "held": ("late",)}, "R1 is held (late)"),
        (
            {"value": 3, "qualifier": "<"},
            "R1 cannot see the level (detection limit 3 µg/m³ is above the level)",
        ),
    ],
)
def test_the_ground_around_a_reading_is_guarded_to_half_way(
    guards: Make, make_reading: Make, reading: dict[str, Any], reason: str
) -> None:
    low = make_reading("R0", "r0", (14, 2.5), 0.2)
    (guard,) = guards(low, make_reading("R1", "r0", (4, 2.5), **reading))
    assert guard.reason == reason
    assert guard.geometry.equals_exact(Polygon([(0, 0), (9, 0), (9, 5), (0, 5)]), 1e-6) or (
        guard.geometry.symmetric_difference(Polygon([(0, 0), (9, 0), (9, 5), (0, 5)])).area < 1e-6
    )


def test_a_low_reading_beside_it_does_not_shrink_the_guard_below_its_distance(
    guards: Make, make_reading: Make
) -> None:
    (guard,) = guards(
        make_reading("R0", "r0", (4.1, 2.5), 0.2),
        make_reading("R1", "r0", (4, 2.5), 7.0),
        guard_m=2.0,
    )
    assert guard.geometry.covers(Point(4, 2.5).buffer(2.0, quad_segs=500))


def test_a_low_reading_at_the_same_place_does_not_lift_the_guard(
    guards: Make, make_reading: Make
) -> None:
    guard, _ = guards(
        make_reading("R0", "r0", (4, 2.5), 0.2), make_reading("R1", "r0", (4, 2.5), 7.0)
    )
    assert guard.geometry.area == pytest.approx(100)  # no other place stands nearer


@pytest.mark.parametrize(
    ("low", "at", "height_m", "kept"),
    [(0.2, 4.0, 1.5, True), (0.2, 4.04, 1.5, True), (0.2, 4.2, 1.5, False),
     (0.8, 4.0, 1.5, False), (0.2, 4.0, 0.1, False)],
    ids=["one place", "within the tape", "beside it", "within a factor of two", "on the floor"],
)  # fmt: skip
def test_replicates_that_disagree_across_the_level_keep_their_whole_room(
    guards: Make, make_reading: Make, low: float, at: float, height_m: float, kept: bool
) -> None:
    found = guards(
        make_reading("R0", "r0", (at, 2.5), low, height_m=height_m),
        make_reading("R1", "r0", (4, 2.5), 1.5),
        make_reading("R2", "r0", (12, 2.5), 0.2),
        make_reading("R3", "r0", (5, 2.5), 0.2),
    )
    whole = [guard for guard in found if guard.geometry.area == pytest.approx(100)]
    text = "R1 reads 1.5 µg/m³ and R0 0.2 µg/m³ at one place: which of them is right is not known"
    assert [guard.reason for guard in whole] == ([text] if kept else [])


@given(
    st.tuples(st.floats(0, 20), st.floats(0, 5)),
    st.lists(st.tuples(st.floats(0, 20), st.floats(0, 5)), max_size=6),
    st.sampled_from([0.0, 0.3, 1.5, 6.0]),
)
def test_a_guard_holds_its_whole_circle_and_stays_in_its_room(
    guards: Make, make_reading: Make, floor: Floor, place: tuple[float, float],
    others: list[tuple[float, float]], guard_m: float,
) -> None:  # fmt: skip
    low = [make_reading(f"L{k}", "r0", xy, 0.2) for k, xy in enumerate(others)]
    found = guards(*low, make_reading("R1", "r0", place, 7.0), guard_m=guard_m)
    guard = found[-1].geometry
    room = floor.rooms[0].polygon
    assert guard.difference(room).area < 1e-9
    circle = Point(place).buffer(guard_m, quad_segs=64).intersection(room)
    assert circle.difference(guard).area < 1e-9
    for x, y in ((0.4, 0.3), (19.1, 4.7), (10.2, 2.2)):
        own = Point(x, y).distance(Point(place))
        nearest = min((Point(x, y).distance(Point(xy)) for xy in others), default=99.0)
        if own < nearest - 3e-3:
            assert guard.distance(Point(x, y)) < 1e-6


@pytest.mark.parametrize("xy", [None, (-3.0, 1.0), (25.0, 1.0)])
def test_a_reading_above_the_level_at_an_unknown_place_guards_the_whole_room(
    guards: Make, make_reading: Make, floor: Floor, xy: Any
) -> None:
    (guard,) = guards(
        make_reading("R0", "r0", (14, 2.5), 0.2),
        make_reading("R1", "r0", xy, 7.0, held=("where?",)),
    )
    assert guard.geometry.equals(floor.rooms[0].polygon)
    assert guard.reason == "R1 is held (where?); its place in the room is not known"


def test_a_place_on_the_edge_of_a_room_is_in_it(
    survey: Make, make_reading: Make, floor: Floor
) -> None:
    (edge, out) = survey(
        floor,
        [make_reading("R1", "r0", (20.005, 1), 0.2), make_reading("R2", "r0", (20.02, 1), 0.2)],
    ).items
    assert place_of(edge, floor.rooms[0]) is not None
    assert place_of(out, floor.rooms[0]) is None


def test_a_guard_stops_at_the_wall_of_a_room_that_turns(
    survey: Make, make_reading: Make, make_floor: Make, l_room: Polygon
) -> None:
    floor = make_floor([Room("l", "L", l_room)])
    items = survey(floor, [make_reading("R1", "l", (4.5, 4.5), 7.0)]).items
    (guard,) = room_guards(floor.rooms[0], items, level=1.0, guard_m=1.5)
    assert guard.geometry.difference(l_room).area < 1e-9


@pytest.mark.parametrize(
    ("limit", "guarded"), [(0.4, False), (0.5, False), (0.6, True), (1.0, True)]
)
def test_a_detection_limit_above_half_the_level_clears_nothing_round_it(
    guards: Make, make_reading: Make, limit: float, guarded: bool
) -> None:
    found = guards(
        make_reading("R1", "r0", (1, 1), limit, "<"), make_reading("R2", "r0", (15, 1), 0.2)
    )
    assert any("too close to the level" in one.reason for one in found) == guarded
    if guarded:
        assert all(one.geometry.covers(Point(1, 1)) for one in found)
        assert not any(one.geometry.covers(Point(15, 1)) for one in found)


def test_a_coarse_non_detect_is_answered_by_a_low_reading_at_its_place(
    guards: Make, make_reading: Make
) -> None:
    coarse = make_reading("R1", "r0", (5, 2), 3.0, qualifier="<")
    assert guards(coarse, make_reading("R2", "r0", (12, 2), 0.2))
    assert guards(coarse, make_reading("R2", "r0", (5.9, 2), 0.2)) == []
    # too far off, or itself too near the level to answer anything
    assert guards(coarse, make_reading("R2", "r0", (6.1, 2), 0.2))
    assert guards(coarse, make_reading("R2", "r0", (5.1, 2), 0.9))


def test_an_earlier_reading_answers_no_coarse_non_detect(guards: Make, make_reading: Make) -> None:
    morning, noon = datetime(2026, 3, 2, 8), datetime(2026, 3, 2, 12)

    def pair(first: datetime, second: datetime) -> list[Guard]:
        coarse = make_reading("R1", "r0", (5, 2), 3.0, qualifier="<")
        fine = make_reading("R2", "r0", (5, 2), 0.2)
        return guards(coarse._replace(time=first), fine._replace(time=second))

    assert pair(morning, noon) == []
    assert pair(noon, morning)
    assert pair(morning, noon.replace(tzinfo=UTC))


def test_a_reading_without_a_time_answers_no_coarse_non_detect_that_has_one(
    guards: Make, make_reading: Make
) -> None:
    coarse = make_reading("R1", "r0", (5, 2), 3.0, qualifier="<")
    fine = make_reading("R2", "r0", (5, 2), 0.2)
    assert guards(coarse._replace(time=datetime(2026, 3, 2, 8)), fine)
    assert guards(coarse, fine) == []


def test_a_sweep_for_a_source_answers_no_coarse_non_detect(
    guards: Make, make_reading: Make
) -> None:
    coarse = make_reading("R1", "r0", (5, 2), 3.0, qualifier="<")
    assert guards(coarse, make_reading("R2", "r0", (5, 2), 0.2)._replace(kind="source search"))


def test_two_coarse_non_detects_do_not_answer_each_other(guards: Make, make_reading: Make) -> None:
    pair = [make_reading(f"R{k}", "r0", (5, 2), k, qualifier="<") for k in (1, 2)]
    assert guards(*pair, make_reading("R3", "r0", (15, 2), 0.2))


def test_a_reading_behind_a_wall_that_the_room_goes_round_answers_nothing(
    survey: Make, make_reading: Make, make_floor: Make
) -> None:
    # two arms, 0.2 m of wall between them
    turns = box(0, 0, 10, 6).difference(box(4.9, 0, 5.1, 5))
    floor = make_floor([Room("u", "U", turns)])

    def found(x: float, y: float) -> list[Guard]:
        coarse = make_reading("R1", "u", (4.7, y), 3.0, qualifier="<")
        items = survey(floor, [coarse, make_reading("R2", "u", (x, y), 0.2)]).items
        return room_guards(floor.rooms[0], items, level=1.0, guard_m=1.5)

    assert found(5.3, 2)
    assert found(5.3, 5.5) == []
    assert found(4.7, 2) == []


@pytest.mark.parametrize(
    "changed", [{"held": ("late",)}, {"qualifier": ">", "value": 0.3}, {"value": 1.4}]
)
def test_a_low_reading_answers_nothing_that_may_have_met_air_above_the_level(
    guards: Make, make_reading: Make, changed: dict[str, Any]
) -> None:
    made = {"value": 0.2, **changed}
    doubtful = make_reading("R1", "r0", (5, 2), **made)
    assert guards(doubtful, make_reading("R2", "r0", (5, 2.5), 0.2))
