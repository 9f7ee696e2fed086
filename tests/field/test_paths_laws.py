"""Shortest walks against laws, and against a slower way to find them."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra
from shapely import LineString, affinity, box

from hgmap.field.paths import Walks
from hgmap.site.building import Floor, Opening, Room
from tests.truth.floors import random_floor

Floats = NDArray[np.float64]
SHRINK_M = 1e-4


def places_in(floor: Floor, seed: int, each: int = 3) -> tuple[Floats, NDArray[np.int64]]:
    random = np.random.default_rng(seed)
    boxes = np.array([room.polygon.bounds for room in floor.rooms])
    room = np.repeat(np.arange(len(boxes)), each)
    low, high = boxes[room, :2], boxes[room, 2:]
    return low + random.uniform(0.01, 0.99, low.shape) * (high - low), room


def slow_distances(floor: Floor, xy: Floats) -> Floats:
    """Find them over one polygon of free air, a little too narrow, by testing every sight line."""
    free = [room.polygon.buffer(-SHRINK_M, join_style="mitre") for room in floor.rooms]
    for wall in floor.walls:
        free = [room.difference(wall.buffer(SHRINK_M, cap_style="square")) for room in free]
    for opening in floor.openings:
        if opening.state != "sealed" and len(opening.rooms) == 2:
            rooms = [floor.room(name) for name in opening.rooms]
            depth = max(room.polygon.distance(opening.line) for room in rooms if room)
            free.append(opening.line.buffer(depth + 2 * SHRINK_M, cap_style="flat"))
    air = shapely.union_all(free)
    every = np.vstack([xy, shapely.get_coordinates(air)])
    i, j = np.triu_indices(len(every), 1)
    allowed = air.buffer(0.01 * SHRINK_M)
    shapely.prepare(allowed)
    sees = shapely.covers(allowed, shapely.linestrings(np.stack([every[i], every[j]], axis=1)))
    i, j = i[sees], j[sees]
    length = np.maximum(np.hypot(*(every[i] - every[j]).T), 1e-12)
    links = sp.csr_array((length, (i, j)), shape=(len(every), len(every)))
    found: Floats = dijkstra(links, directed=False, indices=np.arange(len(xy)))[:, : len(xy)]
    return found


@pytest.mark.parametrize("seed", range(6))
def test_a_slower_way_over_one_polygon_finds_the_same_walks(seed: int) -> None:
    floor = random_floor(np.random.default_rng(seed), "x")
    xy, room = places_in(floor, seed)
    found = Walks.over(floor).distances(xy, room, xy, room)
    slow = slow_distances(floor, xy)
    assert (np.isfinite(found) == np.isfinite(slow)).all()
    reached = np.isfinite(slow)
    assert found[reached] == pytest.approx(slow[reached], abs=60 * SHRINK_M)
    assert (found[reached] <= slow[reached] + 1e-9).all()  # the narrower air is never shorter


@pytest.mark.parametrize("seed", range(12))
def test_walls_in_any_direction_are_walked_round_as_a_slower_way_finds(seed: int) -> None:
    random = np.random.default_rng(seed)
    room = box(0, 0, 10, 10).difference(affinity.rotate(box(3.1, 3.3, 5.2, 4.4), 30 * seed))
    walls = [LineString(random.integers(0, 11, (3, 2))) for _ in range(seed % 4)]
    walls += [LineString(random.uniform(1, 9, (2, 2))) for _ in range(2)]
    floor = Floor("g", "G", (Room("a", "A", room),), tuple(walls))
    xy = random.uniform(0, 10, (40, 2))
    apart = shapely.distance(shapely.union_all([room.boundary, *walls]), shapely.points(xy))
    xy = xy[(apart > 0.01) & shapely.contains_xy(room, *xy.T)][:8]
    found, slow = Walks.over(floor).distances(xy, None, xy, None), slow_distances(floor, xy)
    assert (np.isfinite(found) == np.isfinite(slow)).all()
    reached = np.isfinite(slow)
    assert found[reached] == pytest.approx(slow[reached], abs=60 * SHRINK_M)
    assert (found[reached] <= slow[reached] + 1e-7).all()


@pytest.mark.parametrize("seed", [0, 9, 14, 35])
def test_places_at_corners_door_ends_and_on_edges_have_the_same_walks_on_a_turned_plan(
    seed: int,
) -> None:
    floor = random_floor(np.random.default_rng(seed), "x")
    places, room = places_in(floor, seed, each=1)
    for k, one in enumerate(floor.rooms):
        corners = shapely.get_coordinates(one.polygon)
        places = np.vstack([places, corners[0], 0.5 * (corners[1] + corners[2])])
        room = np.append(room, [k, k])
    index = {one.id: k for k, one in enumerate(floor.rooms)}
    for opening in floor.openings:
        ends = shapely.get_coordinates(opening.line)
        for name in opening.rooms:
            places = np.vstack([places, ends[0], ends.mean(axis=0)])
            room = np.append(room, [index[name]] * 2)
    off_walls = shapely.distance(shapely.union_all([shapely.Point(-99, 0), *floor.walls]),
                                 shapely.points(places)) > 1e-6  # fmt: skip
    places, room = places[off_walls], room[off_walls]
    found = Walks.over(floor).distances(places, room, places, room)

    def turned(shape: shapely.Geometry) -> shapely.Geometry:
        return affinity.rotate(shape, 17.0 * seed + 5.0, origin=(0, 0))

    moved = Floor(
        "g",
        "G",
        tuple(Room(one.id, one.name, turned(one.polygon)) for one in floor.rooms),
        tuple(turned(wall) for wall in floor.walls),
        tuple(Opening(one.id, turned(one.line), one.state, one.rooms) for one in floor.openings),
    )
    there = shapely.get_coordinates([turned(shapely.Point(at)) for at in places])
    again = Walks.over(moved).distances(there, room, there, room)
    np.testing.assert_allclose(found, found.T, atol=1e-7)
    np.testing.assert_allclose(again, found, atol=1e-6)


@settings(deadline=None, max_examples=15)
@given(st.integers(0, 10_000))
def test_the_length_of_walks_is_a_metric(seed: int) -> None:
    floor = random_floor(np.random.default_rng(seed), "x")
    xy, room = places_in(floor, seed, each=2)
    length = Walks.over(floor).distances(xy, room, xy, room)
    straight = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    assert (np.diag(length) == 0).all()
    assert (length >= straight - 1e-9).all()
    np.testing.assert_allclose(length, length.T, rtol=1e-9)
    round_about = length[:, :, None] + length[None, :, :]
    assert (length[:, None, :] <= round_about + 1e-7).all()
    if not floor.walls:  # every room is a rectangle
        own = room[:, None] == room[None, :]
        assert length[own] == pytest.approx(straight[own], abs=1e-9)


@settings(deadline=None, max_examples=15)
@given(st.integers(0, 10_000))
def test_a_route_is_a_walk_of_its_length_that_meets_the_openings_it_names(seed: int) -> None:
    floor = random_floor(np.random.default_rng(seed), "x")
    xy, room = places_in(floor, seed, each=1)
    walks = Walks.over(floor)
    length = walks.distances(xy[:1], room[:1], xy, room)[0]
    for k in range(len(xy)):
        route = walks.route(xy[0], int(room[0]), xy[k], int(room[k]))
        if route is None:
            assert np.isinf(length[k])
            continue
        assert route.length_m == pytest.approx(length[k], abs=1e-9)
        legs = np.hypot(*np.diff(route.vertices, axis=0).T)
        assert legs.sum() == pytest.approx(route.length_m, abs=1e-6)
        assert route.rooms[0] == floor.rooms[0].id
        assert route.rooms[-1] == floor.rooms[int(room[k])].id
        assert len(route.openings) == len(route.rooms) - 1
        line = LineString(route.vertices) if len(set(map(tuple, route.vertices))) > 1 else None
        by_id = {one.id: one for one in floor.openings}
        for name, sides in zip(
            route.openings, zip(route.rooms, route.rooms[1:], strict=False), strict=True
        ):
            assert set(by_id[name].rooms) == set(sides)
            assert by_id[name].state != "sealed"
            assert line is not None
            assert line.distance(by_id[name].line) < 0.08  # half a thick wall
        assert route.closed == tuple(k for k in route.openings if by_id[k].state == "closed")


def test_with_few_cones_of_sight_a_walk_is_somewhat_longer_and_never_lost() -> None:
    floor = random_floor(np.random.default_rng(4), "x")
    xy, room = places_in(floor, 0)
    exact = Walks.over(floor).distances(xy, room, xy, room)
    rough = Walks.over(floor, most_cones=1).distances(xy, room, xy, room)
    assert (np.isfinite(rough) == np.isfinite(exact)).all()
    reached = np.isfinite(exact)
    assert (rough[reached] >= exact[reached] - 1e-9).all()
    assert (rough[reached] <= 1.5 * exact[reached]).all()
