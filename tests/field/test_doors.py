"""Through the doors: readings that do not differ, and what they may and may not claim."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from hgmap.errors import EstimateError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.surface import Surface
from hgmap.field.variogram import SMALLEST_LOG_SD, AveragedFit
from hgmap.site.building import Floor, Opening, Room

FLOOR = Floor(
    "g",
    "Ground",
    (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 12, 5))),
    openings=(Opening("d", LineString([(6, 2), (6, 3)]), "open", ("a", "b")),),
)
XY = np.array([(x, y) for x in (1.0, 3.0, 5.0, 7.0, 9.0, 11.0) for y in (1.0, 4.0)])


def surface(values: np.ndarray) -> Surface:
    settings = EstimateSettings(cell_m=0.5, walls=True)
    return estimate_surface(FLOOR, XY[: len(values)], values, settings)


def test_readings_that_all_agree_make_a_surface_with_the_stated_spread() -> None:
    made = surface(np.full(12, 0.05))
    inside = made.raster.inside
    assert made.mean[inside] == pytest.approx(np.log(0.05))
    fit = made.variogram
    assert isinstance(fit, AveragedFit)
    assert fit.origin == "default"
    assert "do not differ" in fit.note
    assert fit.psill == pytest.approx(SMALLEST_LOG_SD**2)
    assert any("do not differ" in note for note in made.notes)


def test_they_say_no_more_than_along_straight_lines_just_below_a_level() -> None:
    made = surface(np.full(12, 0.9))
    inside = made.raster.inside
    assert (-np.log(0.9) < 1.6 * made.sd[inside]).all()


def test_few_readings_never_take_the_floor_for_more_even_than_stated() -> None:
    fit = surface(np.array([0.50, 0.51, 0.50, 0.49, 0.50])).variogram
    assert isinstance(fit, AveragedFit)
    assert fit.origin == "default"
    assert fit.psill >= SMALLEST_LOG_SD**2 * (1 - 1e-9)


def test_no_more_readings_than_separate_rooms_make_no_surface() -> None:
    rooms = tuple(Room(str(k), f"R{k}", box(3 * k, 0, 3 * k + 3, 3)) for k in range(3))
    floor = Floor("g", "Ground", rooms)
    xy = np.array([(1.5, 1.5), (4.5, 1.5), (7.5, 1.5)])
    with pytest.raises(EstimateError, match="separate parts"):
        estimate_surface(floor, xy, np.array([1.0, 2.0, 3.0]), EstimateSettings(walls=True))
