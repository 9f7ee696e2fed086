"""Contours inside a room: nothing crosses its walls, and the cells agree with the polygons."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import GeometryCollection, LineString, MultiPolygon, Point, Polygon, box

from hgmap.decide.contours import MARGIN_CELLS, area_above, lines_at, polygonal, room_window
from hgmap.field.raster import Raster
from hgmap.site.building import Floor

Make = Callable[..., Any]


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 6, 5), (6, 0, 12, 5)])
    return made


def test_a_window_holds_its_room_and_a_margin(floor: Floor) -> None:
    raster = Raster.over(floor, 0.5)
    window = room_window(raster, 1)
    assert window is not None
    assert window.own.sum() == (raster.room_index == 1).sum()
    assert window.own.shape == (10 + 2 * MARGIN_CELLS, 12 + 2 * MARGIN_CELLS)
    assert window.x[MARGIN_CELLS] == pytest.approx(6.25)
    assert window.y[MARGIN_CELLS] == pytest.approx(0.25)
    assert not window.own[:MARGIN_CELLS].any()


def test_the_other_room_does_not_show_in_a_window(floor: Floor) -> None:
    raster = Raster.over(floor, 0.5)
    grid = np.where(raster.room_index == 0, 1000.0, raster.x[None, :])
    for index in (0, 1):
        window = room_window(raster, index)
        assert window is not None
        values = window.take(grid)
        assert (values[window.own] == grid[raster.room_index == index]).all()
        assert (values.max() < 1000) == (index == 1)
        assert np.isfinite(values).all()


def test_a_window_reaches_over_its_whole_room_and_says_how_far_its_cells_are(
    make_floor: Make,
) -> None:
    from hgmap.site.building import Room

    room = box(0, 0, 4, 5).union(box(4, 2.3, 9, 2.7))  # a passage between two rows of centres
    raster = Raster.over(make_floor([Room("l", "L", room)]), 0.5)
    window = room_window(raster, 0, room)
    assert window is not None
    assert box(window.x[0], window.y[0], window.x[-1], window.y[-1]).covers(room)
    assert (window.cells_away[window.own] == 0).all()
    beyond = area_above(window, window.cells_away, 2.0, room)
    assert beyond.area == pytest.approx(0.4 * (9 - 3.75 - 2 * 0.5), rel=0.02)


def test_a_room_without_a_cell_has_no_window(floor: Floor) -> None:
    raster = Raster.over(floor, 0.5)
    assert room_window(raster, 7) is None


@given(st.integers(0, 10_000), st.floats(-2, 2), st.sampled_from([0.2, 0.37, 0.5]))
def test_a_cell_lies_in_the_area_when_it_reaches_the_threshold(
    make_floor: Make, l_room: Polygon, seed: int, threshold: float, cell_m: float
) -> None:
    from hgmap.site.building import Room

    floor = make_floor([Room("l", "L", l_room)])
    raster = Raster.over(floor, cell_m)
    random = np.random.default_rng(seed)
    grid = raster.spread(random.normal(size=int(raster.inside.sum())))
    window = room_window(raster, 0)
    assert window is not None
    area = area_above(window, window.take(grid), threshold, l_room)
    assert area.is_valid
    assert area.difference(l_room).area < 1e-9
    x, y = np.meshgrid(raster.x, raster.y)
    with np.errstate(invalid="ignore"):
        above = grid > threshold
    distance = shapely.distance(area, shapely.points(x[above], y[above]))
    assert (distance < 1e-9).all()
    below = raster.inside & ~above
    if not area.is_empty:
        within = shapely.contains_xy(area.buffer(-1e-9), x[below], y[below])
        assert not within.any()


@given(st.integers(0, 10_000), st.floats(-2, 2), st.floats(0, 2))
def test_a_higher_threshold_leaves_a_smaller_area_inside_the_larger(
    make_floor: Make, seed: int, threshold: float, more: float
) -> None:
    floor = make_floor([(0, 0, 5, 4)])
    raster = Raster.over(floor, 0.4)
    random = np.random.default_rng(seed)
    grid = raster.spread(random.normal(size=int(raster.inside.sum())))
    window = room_window(raster, 0)
    assert window is not None
    room = floor.rooms[0].polygon
    larger = area_above(window, window.take(grid), threshold, room)
    smaller = area_above(window, window.take(grid), threshold + more, room)
    assert smaller.difference(larger).area < 1e-7


def test_all_of_a_room_or_none_of_it(floor: Floor) -> None:
    raster = Raster.over(floor, 0.5)
    room = floor.rooms[0].polygon
    window = room_window(raster, 0)
    assert window is not None
    flat = window.take(raster.spread(np.zeros(int(raster.inside.sum()))))
    assert area_above(window, flat, -1.0, room).area == pytest.approx(30)
    assert area_above(window, flat, 1.0, room).is_empty
    assert lines_at(window, flat, 1.0, room) == []


def test_a_line_runs_to_both_walls_at_its_value(floor: Floor) -> None:
    raster = Raster.over(floor, 0.5)
    window = room_window(raster, 0)
    assert window is not None
    values = window.take(np.broadcast_to(raster.x[None, :], raster.shape))
    (line,) = lines_at(window, values, 3.1, floor.rooms[0].polygon)
    assert line.length == pytest.approx(5)
    assert shapely.get_coordinates(line)[:, 0] == pytest.approx(3.1)


def test_a_peak_with_a_pit_in_it_has_a_hole(make_floor: Make) -> None:
    floor = make_floor([(0, 0, 10, 10)])
    raster = Raster.over(floor, 0.1)
    x, y = np.meshgrid(raster.x - 5, raster.y - 5)
    window = room_window(raster, 0)
    assert window is not None
    ring = window.take(-np.abs(np.hypot(x, y) - 3))
    area = area_above(window, ring, -1.0, floor.rooms[0].polygon)
    assert area.area == pytest.approx(np.pi * (16 - 4), rel=2e-3)
    assert not area.contains(Point(5, 5))


def test_only_polygons_are_kept() -> None:
    square, other = box(0, 0, 1, 1), box(3, 0, 4, 1)
    line = LineString([(5, 5), (6, 6)])
    assert polygonal(square) is square
    assert polygonal(line).is_empty
    assert polygonal(GeometryCollection([square, line, Point(9, 9)])).area == 1
    assert polygonal(GeometryCollection([MultiPolygon([square, other]), line])).area == 2
