"""Cells of a floor: every centre in its room, and nothing outside."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon, affinity, box

from hgmap.errors import EstimateError
from hgmap.field.raster import Raster, fitting_cell
from hgmap.site.building import Floor, Room


def floor_of(*polygons: Polygon) -> Floor:
    return Floor("g", "G", tuple(Room(str(k), f"room {k}", one) for k, one in enumerate(polygons)))


TWO = floor_of(box(0, 0, 4, 3), Polygon([(4, 0), (9, 0), (9, 6), (6, 6), (6, 3), (4, 3)]))


@given(st.floats(0.05, 2), st.floats(0, 90), st.floats(-1e4, 1e4))
def test_every_cell_lies_in_its_room_and_no_inside_cell_is_lost(
    cell_m: float, turned_deg: float, moved_m: float
) -> None:
    floor = floor_of(
        *(
            affinity.translate(affinity.rotate(room.polygon, turned_deg, origin=(0, 0)), moved_m)
            for room in TWO.rooms
        )
    )
    raster = Raster.over(floor, cell_m)
    x, y = np.meshgrid(raster.x, raster.y)
    for index, room in enumerate(floor.rooms):
        mine = raster.room_index == index
        assert shapely.intersects_xy(room.polygon, x[mine], y[mine]).all()
        # a centre on the line between two rooms belongs to one of them
        strictly = shapely.contains_xy(room.polygon.buffer(-1e-6), x, y)
        assert mine[strictly].all()
    assert (raster.inside == (raster.room_index >= 0)).all()


def test_the_lowest_row_is_the_south_and_points_follow_the_mask() -> None:
    raster = Raster.over(TWO, 0.5)
    assert raster.shape == (12, 18)
    assert (raster.x[0], raster.y[0]) == (0.25, 0.25)
    assert raster.room_index[0, 0] == 0
    assert raster.room_index[11, 17] == 1
    assert raster.room_index[11, 0] == -1
    points = raster.points()
    grid = raster.spread(points[:, 0] + 100 * points[:, 1])
    assert grid[11, 17] == pytest.approx(8.75 + 575)
    assert np.isnan(grid[11, 0])
    assert np.isfinite(grid).sum() == len(points) == raster.inside.sum()


def test_the_mask_cannot_be_written() -> None:
    raster = Raster.over(TWO, 0.5)
    with pytest.raises(ValueError, match="read-only"):
        raster.room_index[0, 0] = 5


def test_cells_cover_the_bounds_evenly() -> None:
    raster = Raster.over(floor_of(box(1, 2, 2.05, 3)), 0.1)
    assert raster.shape == (10, 11)
    assert raster.x.mean() == pytest.approx(1.525)
    assert raster.y.mean() == pytest.approx(2.5)


@pytest.mark.parametrize("cell_m", [0, -1, np.nan, np.inf])
def test_a_step_that_is_not_above_0_is_refused(cell_m: float) -> None:
    with pytest.raises(EstimateError, match=r"cell of .* m cannot be used; give a step above 0"):
        Raster.over(TWO, cell_m)


def test_a_step_too_fine_is_refused_with_one_that_fits() -> None:
    with pytest.raises(EstimateError, match=r"make .* cells, about .* GiB") as caught:
        Raster.over(TWO, 1e-4)
    assert caught.value.where
    fits = fitting_cell(TWO)
    assert f"{fits:g}" in caught.value.todo
    Raster.over(TWO, fits)


@given(st.floats(0.5, 3000), st.floats(0.5, 3000), st.integers(10, 10**6))
def test_the_step_that_fits_fits(width: float, height: float, most: int) -> None:
    floor = floor_of(box(0, 0, width, height))
    cell_m = fitting_cell(floor, most)
    raster = Raster.over(floor, cell_m, most_cells=most)
    assert raster.room_index.size <= most


def test_a_step_larger_than_the_floor_makes_one_cell() -> None:
    assert Raster.over(floor_of(box(0, 0, 4, 3)), 100.0).shape == (1, 1)


def test_a_room_narrower_than_the_step_may_have_no_cell() -> None:
    floor = floor_of(box(0, 0, 4, 3), box(4, 0, 4.02, 3), box(4.02, 0, 8, 3))
    raster = Raster.over(floor, 0.5)
    assert set(raster.room_index.ravel()) == {0, 2}
