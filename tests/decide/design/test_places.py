"""A design laid out on invented floors."""

from __future__ import annotations

import itertools
import math
from collections import Counter

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, Polygon, affinity, box

from hgmap.decide.design.gaps import lay_ground
from hgmap.decide.design.on_plan import chance_of_places
from hgmap.decide.design.places import (
    DesignPlace,
    design_building,
    lay_out,
    with_controls,
)
from hgmap.decide.design.points_on import building_angle_deg, grid_points
from hgmap.decide.design.rules import load_design_rules
from hgmap.decide.design.spots import ToFind
from hgmap.errors import EstimateError
from hgmap.site.building import Floor, Room
from tests.field.small_floors import pair, scattered
from tests.truth.floors import random_floor


def floor_of(*shapes: Polygon, walls: tuple[LineString, ...] = ()) -> Floor:
    rooms = tuple(Room(f"R{i}", f"Room {i}", shape) for i, shape in enumerate(shapes))
    return Floor("g", "Ground", rooms, walls)


def at_adult_height(places: tuple[DesignPlace, ...]) -> list[DesignPlace]:
    return [one for one in places if one.kind == "reading" and one.height_m == 1.5]


def places_xy(places: list[DesignPlace]) -> NDArray[np.float64]:
    return np.array([(one.x, one.y) for one in places], dtype=np.float64).reshape(-1, 2)


@given(st.integers(0, 10_000), st.floats(0.5, 30.0), st.sampled_from(["square", "triangular"]))
@settings(max_examples=25, deadline=None)
def test_every_room_has_its_minimum_inside_it(seed: int, spacing: float, grid: str) -> None:
    floor = random_floor(np.random.default_rng(seed), "g")
    places = lay_out(floor, use="school", spacing_m=spacing, grid=grid, seed=seed)  # type: ignore[arg-type]
    rules = load_design_rules()
    for room in floor.rooms:
        own = [one for one in places if one.room == room.id]
        adult, child = at_adult_height(tuple(own)), [one for one in own if one.height_m == 0.3]
        assert len(adult) >= rules.places_in(room.area_m2, "school")[0]
        assert len(adult) == len(child)
        assert sum(one.kind == "source search" for one in own) == 1
        assert shapely.intersects_xy(room.polygon, *places_xy(own).T).all()
        assert len({(one.x, one.y) for one in adult}) == len(adult)
    assert len({one.id for one in places}) == len(places)
    assert all(one.reason and one.room_name for one in places)


@given(st.integers(0, 10_000), st.floats(0.8, 4.0))
@settings(max_examples=15, deadline=None)
def test_a_hot_spot_to_find_is_found_between_the_walls_of_every_room(
    seed: int, spacing: float
) -> None:
    floor = scattered(seed)
    find = ToFind(radius_m=1.0, probability=0.95)
    places = at_adult_height(lay_out(floor, use="school", spacing_m=spacing, find=find, seed=seed))
    index = {room.id: i for i, room in enumerate(floor.rooms)}
    rooms = np.array([index[one.room] for one in places])
    ground = lay_ground(floor, 0.25)  # the cells it was laid out on
    for row in chance_of_places(ground, places_xy(places), 1.0, room=rooms):
        assert row.probability >= 0.95
    # with other cells, which it has not seen, nearly so
    finer = chance_of_places(lay_ground(floor, 0.07), places_xy(places), 1.0, room=rooms)
    assert min(row.probability for row in finer) >= 0.88


def test_places_keep_off_the_walls_and_the_screens() -> None:
    screen = LineString([(5, 0), (5, 4)])
    floor = floor_of(box(0, 0, 10, 8), walls=(screen,))
    places = places_xy(at_adult_height(lay_out(floor, use="school", spacing_m=1.0, seed=2)))
    point = shapely.points(places)
    assert shapely.distance(point, floor.rooms[0].polygon.boundary).min() >= 0.6 - 1e-6
    assert shapely.distance(point, screen).min() >= 0.597  # its end is rounded by straight edges
    # moved off the wall, not lost: about as many as the grid has
    assert len(places) == pytest.approx(80, abs=18)


def test_a_room_narrower_than_its_margins_is_read_in_its_middle() -> None:
    floor = floor_of(box(0, 0, 0.5, 0.5), box(1, 0, 1.9, 12))
    places = at_adult_height(lay_out(floor, use="dwelling", spacing_m=50.0, seed=0))
    cupboard = next(one for one in places if one.room == "R0")
    assert (cupboard.x, cupboard.y) == pytest.approx((0.25, 0.25), abs=0.02)
    assert "every room gets one" in cupboard.reason
    narrow = [one for one in places if one.room == "R1"]
    assert all(1.2 < (one.x or 0) < 1.7 for one in narrow)


def test_a_narrow_corridor_keeps_the_whole_row_of_the_grid() -> None:
    floor = floor_of(box(0, 0, 0.9, 12))
    places = at_adult_height(lay_out(floor, use="industrial", spacing_m=1.0, offset=(0.4, 0.5)))
    assert len(places) == 12
    assert all((one.x or 0) == pytest.approx(0.4, abs=0.06) for one in places)


def test_the_places_that_make_the_minimum_spread_over_the_room() -> None:
    floor = floor_of(box(0, 0, 20, 3))
    places = at_adult_height(lay_out(floor, use="school", spacing_m=500.0, seed=1))
    assert len(places) == 3  # 60 m² at one for each 20 m²
    x = sorted(one.x or 0.0 for one in places)
    assert x[0] < 3
    assert x[-1] > 17
    assert "20 m² of 60 m²" in places[-1].reason


def test_the_same_seed_gives_the_same_design_and_another_another() -> None:
    floor = scattered(3)
    one, two, other = (
        design_building([floor], use="school", spacing_m=0.8, seed=seed) for seed in (7, 7, 8)
    )
    assert one == two != other


def test_a_stated_offset_puts_a_point_where_it_says() -> None:
    floor = floor_of(box(0, 0, 8, 8))
    places = places_xy(
        at_adult_height(lay_out(floor, use="school", spacing_m=2.0, offset=(0.5, 0.5)))
    )
    assert sorted(map(tuple, places.round(9))) == [
        (x, y) for x in (1.0, 3.0, 5.0, 7.0) for y in (1.0, 3.0, 5.0, 7.0)
    ]


@given(st.floats(-44, 44), st.floats(1.0, 4.0))
@settings(max_examples=25, deadline=None)
def test_the_grid_turns_with_the_building(angle: float, width: float) -> None:
    shape = affinity.rotate(box(0, 0, 10, 4 + width), angle, origin=(0, 0))
    assert building_angle_deg(floor_of(shape)) == pytest.approx(angle, abs=1e-6)


def test_a_round_building_lies_in_no_direction() -> None:
    shape = shapely.Point(0, 0).buffer(5, quad_segs=16)
    assert building_angle_deg(floor_of(shape)) == pytest.approx(0.0, abs=1e-6)


@given(
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(-45, 45),
    st.sampled_from(["square", "triangular", "rectangle"]),
)
@settings(max_examples=25, deadline=None)
def test_a_grid_covers_the_whole_floor_evenly(
    dx: float, dy: float, angle: float, grid: str
) -> None:
    floor = floor_of(box(0, 0, 30, 20))
    xy, room = grid_points(
        floor, grid, spacing_m=1.0, offset=(dx, dy), angle_deg=angle  # type: ignore[arg-type]
    )  # fmt: skip
    cell = {"square": 1.0, "triangular": math.sqrt(3) / 2, "rectangle": 2.0}[grid]
    assert (room == 0).all()
    assert len(xy) == pytest.approx(600 / cell, rel=0.16)  # points on both rims
    # no gap anywhere: the farthest place is a covering radius away, but for the rim
    inner = np.stack(np.meshgrid(np.arange(2, 28, 0.7), np.arange(2, 18, 0.7)), -1).reshape(-1, 2)
    gap = np.hypot(*(inner[:, None] - xy[None]).transpose(2, 0, 1)).min(axis=1)
    assert gap.max() <= {"square": 0.70711, "triangular": 0.57736, "rectangle": 1.11804}[grid]


def test_a_school_is_read_at_two_heights_and_a_plant_at_one() -> None:
    floor = floor_of(box(0, 0, 4, 4))
    heights = {
        use: sorted({one.height_m for one in lay_out(floor, use=use, spacing_m=2.0)})  # type: ignore[arg-type, type-var]
        for use in ("school", "industrial", None)
    }
    assert heights == {
        "school": [0.03, 0.3, 1.5],
        "industrial": [0.03, 1.5],
        None: [0.03, 0.3, 1.5],
    }


def test_one_reading_in_ten_is_repeated_and_blanks_and_background_stand_round_it() -> None:
    floor = floor_of(box(0, 0, 12, 9))
    plain = lay_out(floor, use="school", spacing_m=1.5, seed=4)
    whole = with_controls(plain, seed=4)
    kinds = Counter(one.kind for one in whole)
    assert kinds["duplicate"] == math.ceil(kinds["reading"] / 10)
    assert kinds["background"] == 2
    assert kinds["field blank"] == 2
    assert [whole[0].id, whole[-1].id] == ["background-start", "background-end"]
    assert whole[0].x is None
    known = {one.id: one for one in plain}
    for before, one in itertools.pairwise(whole):
        if one.kind == "duplicate":
            assert before.id == one.duplicate_of
            of = known[one.duplicate_of]
            assert (of.x, of.y, of.height_m) == (one.x, one.y, one.height_m)
    assert [one for one in whole if one in plain] == list(plain)
    assert len({one.id for one in whole}) == len(whole)


def test_no_reading_needs_no_duplicate() -> None:
    assert {one.kind for one in with_controls(())} == {"background", "field blank"}


def test_what_cannot_be_laid_out_is_refused() -> None:
    floor = floor_of(box(0, 0, 4, 4))
    with pytest.raises(EstimateError, match="there is no floor"):
        design_building([], use="school", spacing_m=1.0)
    with pytest.raises(EstimateError, match="two floors have one name"):
        design_building([floor, floor], use="school", spacing_m=1.0)
    with pytest.raises(EstimateError, match="spacing of 0 m"):
        lay_out(floor, use="school", spacing_m=0.0)
    with pytest.raises(EstimateError, match="margin of -1 m"):
        lay_out(floor, use="school", spacing_m=1.0, margin_m=-1.0)
    with pytest.raises(EstimateError, match="not two numbers"):
        lay_out(floor, use="school", spacing_m=1.0, offset=(1.0,))
    with pytest.raises(EstimateError, match="a hot spot of 0 m"):
        ToFind(0.0, 0.95)
    with pytest.raises(EstimateError, match="an id stands twice"):
        with_controls([*lay_out(floor, use="school", spacing_m=3.0)] * 2)


def test_a_narrow_hot_spot_is_found_between_the_walls_and_takes_more_places() -> None:
    two = pair(door=None)
    counts = []
    for aspect in (1.0, 0.5):
        find = ToFind(1.2, 0.9, aspect)
        places = lay_out(two, use="commercial", spacing_m=1.9, find=find)
        position = {room.id: k for k, room in enumerate(two.rooms)}
        places = tuple(one for one in places if one.kind == "reading")
        rooms = np.array([position[one.room] for one in places])
        rows = chance_of_places(
            lay_ground(two, 0.25), places_xy(places), 1.2, room=rooms, aspect=aspect
        )
        assert min(row.probability for row in rows) >= 0.9
        counts.append(len(places))
    assert counts[1] > counts[0]


def test_the_places_of_a_statement_are_drawn_at_random_by_their_seed() -> None:
    two = pair(door=None)

    def drawn(seed: int) -> list[tuple[float | None, float | None]]:
        places = lay_out(two, use="commercial", spacing_m=9.0, samples=12, samples_says="drawn",
                         seed=seed, offset=(0.5, 0.5))  # fmt: skip
        per_room = Counter(one.room for one in places if one.kind == "reading")
        assert set(per_room.values()) == {12}
        return [(one.x, one.y) for one in places if "drawn" in one.reason]

    first = drawn(1)
    assert len(set(first)) == len(first)
    assert first == drawn(1)
    assert first != drawn(2)


@pytest.mark.parametrize("aspect", [0.0, 0.1, 1.5, math.nan])
def test_a_shape_that_is_no_hot_spot_is_refused(aspect: float) -> None:
    with pytest.raises(EstimateError, match="times as wide as long"):
        ToFind(1.0, 0.95, aspect)
