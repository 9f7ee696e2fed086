"""Hot spots between walls, against the open plane and by counting."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from shapely import LineString, Polygon, box

from hgmap.decide.design.gaps import found_from, lay_ground, nearest_sample
from hgmap.decide.design.hot_spot import circle_probability, detection_probability
from hgmap.decide.design.lattice import GRID_SHAPES, GridShape
from hgmap.decide.design.on_plan import (
    chance_of_grid,
    chance_of_places,
    floor_chance,
    survey_gaps,
)
from hgmap.errors import EstimateError
from hgmap.field.paths import Walks
from hgmap.site.building import Floor, Opening, Room
from tests.field.small_floors import pair, scattered

HALL = Floor("h", "Hall", (Room("a", "Hall", box(0, 0, 80, 80)),))


def at(*places: tuple[float, float]) -> NDArray[np.float64]:
    return np.array(places, dtype=np.float64).reshape(-1, 2)


@pytest.mark.parametrize("grid", sorted(GRID_SHAPES))
@pytest.mark.parametrize("ratio", [0.4, 0.55, 0.7])
def test_a_large_open_room_has_the_chance_of_the_closed_form(grid: GridShape, ratio: float) -> None:
    ground = lay_ground(HALL, 0.4)
    found = chance_of_grid(
        ground, grid, spacing_m=2.0, radius_m=2.0 * ratio, layouts=6, seed=1, angle_deg=20.0
    )[0]
    # the rim, a radius wide, is 7 % of the hall and finds about half as much less
    assert found.probability == pytest.approx(circle_probability(grid, ratio), abs=0.02)
    assert 0 <= found.lowest <= found.probability <= 1


def test_the_middle_of_a_large_room_knows_no_walls() -> None:
    # one reading, and a hot spot that reaches no wall: the chance is its area over the room's
    ground = lay_ground(HALL, 0.25)
    found = chance_of_places(ground, at((40, 40)), 10.0)[0]
    assert found.probability == pytest.approx(math.pi * 100 / 6400, rel=0.01)


@pytest.mark.parametrize("aspect", [0.9, 0.5, 0.2])
def test_an_ellipse_in_the_middle_of_a_large_room_is_found_by_its_area(aspect: float) -> None:
    ground = lay_ground(HALL, 0.25)
    (found,) = chance_of_places(ground, at((40, 40)), 10.0, aspect=aspect)
    assert found.probability == pytest.approx(math.pi * 100 * aspect / 6400, rel=0.01)


@pytest.mark.parametrize("aspect", [0.8, 0.5, 0.2])
def test_ellipses_in_an_open_room_have_the_chance_of_the_closed_form(aspect: float) -> None:
    # Gilbert 1987, ch. 10: mean over directions, by hgmap.decide.design.hot_spot
    side = 24.0
    ground = lay_ground(Floor("h", "Hall", (Room("a", "Hall", box(0, 0, side, side)),)), 0.2)
    steps = np.arange(-1.0, 25.1, 2.0) + 0.37
    inside = steps[(steps > 0) & (steps < side)]
    xy = np.array([(x, y) for x in inside for y in inside])
    (found,) = chance_of_places(ground, xy, 1.4, aspect=aspect)
    open_plane = detection_probability("square", spacing_m=2.0, radius_m=1.4, aspect=aspect)
    assert found.probability == pytest.approx(open_plane, abs=0.03)


def test_a_nearly_round_ellipse_between_walls_has_nearly_the_chance_of_the_circle() -> None:
    two = pair(door=None)
    ground = lay_ground(two, 0.1)
    circle = chance_of_places(ground, at((2.5, 2.0)), 1.0)
    ellipse = chance_of_places(ground, at((2.5, 2.0)), 1.0, aspect=0.999)
    assert ellipse[0].probability == pytest.approx(circle[0].probability, rel=0.02)
    assert ellipse[1].probability == 0.0


def test_a_wall_cuts_a_hot_spot() -> None:
    # a reading 0.5 m from the wall: half of a circle of 1 m is lost but for the strip to the wall
    two = pair(door=None)
    ground = lay_ground(two, 0.02)
    rows = chance_of_places(ground, at((2.5, 2.0)), 1.0)
    segment = math.acos(0.5) - 0.5 * math.sqrt(0.75)
    assert rows[0].probability == pytest.approx((math.pi - segment) / 12, rel=0.01)
    assert rows[1].probability == 0.0


def test_a_hot_spot_goes_through_an_open_door_only_when_asked_to() -> None:
    for state, reach, through in (
        ("open", "same room", False),
        ("open", "open doors", True),
        ("closed", "open doors", False),
        ("sealed", "open doors", False),
    ):
        ground = lay_ground(pair(state=state), 0.1, reach=reach)  # type: ignore[arg-type]
        rows = chance_of_places(ground, at((2.9, 1.45)), 1.0)
        assert (rows[1].probability > 0) is through


def test_a_screen_in_a_room_is_walked_round() -> None:
    screen = LineString([(3, 0), (3, 3)])
    floor = Floor("g", "G", (Room("a", "A", box(0, 0, 6, 4)),), walls=(screen,))
    ground = lay_ground(floor, 0.1)
    behind = nearest_sample(ground, at((2.0, 0.5)))
    cell = int(np.hypot(*(ground.xy - [4.05, 0.55]).T).argmin())
    round_the_end = math.hypot(1.0, 2.5) + math.hypot(
        ground.xy[cell, 0] - 3, 3 - ground.xy[cell, 1]
    )
    assert behind[cell] == pytest.approx(round_the_end, abs=1e-6)
    cut_off = Floor("g", "G", floor.rooms, walls=(LineString([(3, -1), (3, 5)]),))
    row = survey_gaps(lay_ground(cut_off, 0.1), at((2.0, 0.5))).rows[0]
    assert math.isinf(row.radius_m)
    assert "walled off" in row.says


@given(st.integers(0, 10_000), st.floats(0.2, 4.0), st.floats(1.0, 2.0), st.integers(0, 8))
@settings(max_examples=25, deadline=None)
def test_more_places_and_larger_hot_spots_are_never_found_less(
    seed: int, radius: float, larger: float, count: int
) -> None:
    floor = scattered(seed)
    ground = lay_ground(floor, 0.2)
    random = np.random.default_rng(seed)
    drawn = random.choice(len(ground.xy), count + 1)
    few = chance_of_places(ground, ground.xy[drawn[:-1]], radius, room=ground.room[drawn[:-1]])
    more = chance_of_places(ground, ground.xy[drawn], radius, room=ground.room[drawn])
    large = chance_of_places(ground, ground.xy[drawn], radius * larger, room=ground.room[drawn])
    for a, b, c in zip(few, more, large, strict=True):
        assert 0 <= a.probability <= b.probability <= c.probability <= 1
    assert 0 <= floor_chance(large) <= 1


@given(st.integers(0, 10_000), st.sampled_from(["same room", "open doors"]), st.integers(1, 12))
@settings(max_examples=25, deadline=None)
def test_the_gap_is_the_shortest_of_all_walks(seed: int, reach: str, count: int) -> None:
    floor = scattered(seed)
    ground = lay_ground(floor, 0.25, reach=reach)  # type: ignore[arg-type]
    places = np.random.default_rng(seed).choice(len(ground.xy), count)
    gap = nearest_sample(ground, ground.xy[places], ground.room[places])
    walk = ground.walks.distances(ground.xy, ground.room, ground.xy[places], ground.room[places])
    if reach == "same room":
        walk[ground.room[:, None] != ground.room[places]] = np.inf
    np.testing.assert_allclose(gap, walk.min(axis=1), atol=1e-6)
    # never shorter than with every door open, never shorter than straight
    free = Walks.over(floor).distances(
        ground.xy, ground.room, ground.xy[places], ground.room[places]
    )
    assert (gap >= free.min(axis=1) - 1e-6).all()


@given(st.integers(0, 10_000), st.floats(0.1, 3.0))
@settings(max_examples=25, deadline=None)
def test_what_a_place_finds_is_what_lies_within_the_walk(seed: int, radius: float) -> None:
    ground = lay_ground(scattered(seed), 0.15)  # half of these floors have a screen in a room
    for index, cells in enumerate(ground.cells_by_room()):
        places = cells[:: max(1, len(cells) // 40)]
        xy, rooms = ground.xy[places], ground.room[places]
        found = found_from(ground, index, xy, cells, radius).toarray()
        walk = ground.walks.distances(xy, rooms, ground.xy[cells], ground.room[cells])
        sure = np.abs(walk - radius) > 1e-6
        assert (found == (walk <= radius))[sure].all()


@given(st.integers(0, 10_000), st.floats(0.5, 1.0), st.integers(0, 8))
@settings(max_examples=25, deadline=None)
def test_the_radius_of_a_survey_is_found_with_its_probability(
    seed: int, probability: float, count: int
) -> None:
    ground = lay_ground(scattered(seed), 0.2)
    places = np.random.default_rng(seed).choice(len(ground.xy), count)
    xy, room = ground.xy[places], ground.room[places]
    gaps = survey_gaps(ground, xy, room=room, probability=probability)
    for index, row in enumerate(gaps.rows):
        assert row.readings == int((room == index).sum())
        assert math.isinf(row.radius_m) or row.readings
        assert row.radius_m <= row.farthest_m
        if math.isfinite(row.radius_m) and row.radius_m > 0:
            found = chance_of_places(ground, xy, row.radius_m, room=room)[index]
            assert found.probability >= probability - 1e-9
            less = chance_of_places(ground, xy, row.radius_m * (1 - 1e-9), room=room)[index]
            assert less.probability < probability
    shown = gaps.radius_m[ground.raster.inside]
    assert not np.isnan(shown).any()
    assert np.isnan(gaps.radius_m[~ground.raster.inside]).all()


def test_a_reading_in_the_middle_of_a_long_room_finds_what_reaches_its_ends() -> None:
    # 20 by 0.5 m, one reading at its middle: 95 % of the walks along it are under 9.5 m
    floor = Floor("g", "G", (Room("a", "Corridor", box(0, 0, 20, 0.5)),))
    row = survey_gaps(lay_ground(floor, 0.05), at((10, 0.25))).rows[0]
    assert row.radius_m == pytest.approx(9.5, abs=0.05)
    assert row.farthest_m == pytest.approx(10.0, abs=0.05)
    assert row.says.startswith("1 reading would have found a hot spot of 9.5 m radius")
    assert "95 %" in row.says


def test_an_unread_room_is_infinite_even_behind_an_open_door() -> None:
    ground = lay_ground(pair(state="open"), 0.1, reach="open doors")
    gaps = survey_gaps(ground, at((2.9, 1.45)))
    assert math.isinf(gaps.rows[1].radius_m)
    assert "any size" in gaps.rows[1].says
    assert np.isinf(gaps.radius_m[ground.raster.room_index == 1]).all()
    assert np.isfinite(gaps.radius_m[ground.raster.room_index == 0]).all()


def test_the_words_round_up_and_never_down() -> None:
    floor = Floor("g", "G", (Room("a", "A", box(0, 0, 4.42, 0.02)),))
    row = survey_gaps(lay_ground(floor, 0.01), at((0.0, 0.01)), probability=1.0).rows[0]
    assert 4.4 < row.radius_m < 4.45
    assert "4.5 m" in row.says


def test_a_room_smaller_than_a_cell_is_not_forgotten() -> None:
    # a cupboard between the centres of the cells
    cupboard = Room("c", "Cupboard", box(10.05, 0.0, 10.35, 0.3))
    floor = Floor("g", "G", (Room("a", "A", box(0, 0, 10, 8)), cupboard))
    ground = lay_ground(floor, 1.0)
    assert not (ground.raster.room_index == 1).any()
    assert math.isinf(survey_gaps(ground, at((5, 4))).rows[1].radius_m)
    assert survey_gaps(ground, at((5, 4), (10.2, 0.1))).rows[1].radius_m < 0.3


def test_a_reading_just_outside_its_room_is_taken_to_its_edge() -> None:
    ground = lay_ground(pair(door=None), 0.1)
    beside = nearest_sample(ground, at((-0.3, 2.0)), np.array([0]))
    edge = nearest_sample(ground, at((0.0, 2.0)), np.array([0]))
    np.testing.assert_allclose(beside, edge, atol=1e-6)


def test_a_bent_room_is_walked_round_its_corner() -> None:
    bent = Polygon([(0, 0), (6, 0), (6, 2), (2, 2), (2, 6), (0, 6)])
    ground = lay_ground(Floor("g", "G", (Room("a", "A", bent),)), 0.1)
    gap = nearest_sample(ground, at((1.0, 5.0)))
    cell = int(np.hypot(*(ground.xy - [5.05, 1.05]).T).argmin())
    assert gap[cell] == pytest.approx(
        math.hypot(1, 3) + math.hypot(*(ground.xy[cell] - [2, 2])), abs=1e-6
    )


def test_no_short_cut_through_another_room_joins_a_room_to_itself() -> None:
    horseshoe = Polygon([(0, 0), (7, 0), (7, 5), (5, 5), (5, 2), (2, 2), (2, 5), (0, 5)])
    notch = box(2, 2, 5, 5)
    doors = tuple(
        Opening(f"d{x}", LineString([(x, 3.5), (x, 4.5)]), "open", ("a", "b")) for x in (2, 5)
    )
    floor = Floor("g", "G", (Room("a", "A", horseshoe), Room("b", "B", notch)), openings=doors)
    far = []
    for reach in ("same room", "open doors"):
        ground = lay_ground(floor, 0.1, reach=reach)  # type: ignore[arg-type]
        gap = nearest_sample(ground, at((1.0, 4.0)))
        far.append(gap[int(np.hypot(*(ground.xy - [5.95, 4.05]).T).argmin())])
    assert far[1] == pytest.approx(5.0, abs=0.1)
    round_the_notch = math.hypot(1, 2) + 3 + math.hypot(1, 2)
    assert far[0] == pytest.approx(round_the_notch, abs=0.1)


def test_the_same_seed_gives_the_same_simulation() -> None:
    ground = lay_ground(scattered(4), 0.25)
    one, two, other = (
        chance_of_grid(ground, "square", spacing_m=1.5, radius_m=0.8, layouts=3, seed=seed)
        for seed in (5, 5, 6)
    )
    assert one == two != other


def test_what_cannot_be_asked_is_refused() -> None:
    ground = lay_ground(pair(), 0.5)
    with pytest.raises(EstimateError, match="radius of 0 m"):
        chance_of_places(ground, at((1, 1)), 0.0)
    with pytest.raises(EstimateError, match="outside every room"):
        survey_gaps(ground, at((50, 1)))
    with pytest.raises(EstimateError, match="probability of 0 "):
        survey_gaps(ground, at((1, 1)), probability=0.0)
    with pytest.raises(EstimateError, match="0 layouts"):
        chance_of_grid(ground, "square", spacing_m=1.0, radius_m=1.0, layouts=0)
    with pytest.raises(EstimateError, match="more than 200000 points"):
        chance_of_grid(ground, "square", spacing_m=1e-4, radius_m=1.0)
