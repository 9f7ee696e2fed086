"""Which readings drive an estimate: the weights make it, in every engine."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import LineString, box

from hgmap.field import estimate
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.field.influence import reading_weights
from hgmap.field.surface import Surface
from hgmap.site.building import Floor, Opening, Room

FLOOR = Floor(
    "g",
    "Ground",
    (
        Room("a", "A", box(0, 0, 4, 3)),
        Room("b", "B", box(4, 0, 8, 3)),
        Room("shut", "Shut", box(8, 0, 10, 3)),
    ),
    openings=(Opening("d", LineString([(4, 1), (4, 2)]), "open", ("a", "b")),),
)
ENGINES = [("kriging", True), ("kriging", False), ("idw", True), ("idw", False)]


def readings() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    random = np.random.default_rng(5)
    xy = random.uniform((0.2, 0.2), (7.8, 2.8), (12, 2))
    return xy, np.exp(0.3 * xy[:, 0] + random.normal(0, 0.2, 12))


def surface(method: Any, walls: bool, **settings: Any) -> Surface:
    return estimate_surface(
        FLOOR, *readings(), EstimateSettings(cell_m=0.5, method=method, walls=walls, **settings)
    )


def at(made: Surface, row: int, column: int) -> tuple[NDArray[np.float64], int]:
    place = np.array([made.raster.x[column], made.raster.y[row]])
    return place, int(made.raster.room_index[row, column])


@pytest.mark.parametrize(("method", "walls"), ENGINES)
def test_weights_times_values_are_the_estimate(method: Any, walls: bool) -> None:
    made = surface(method, walls)
    for row, column in ((0, 0), (3, 7), (3, 8), (5, 15)):
        weights = reading_weights(made, FLOOR, *at(made, row, column))
        assert weights.sum() == pytest.approx(1.0)
        assert weights @ made.values == pytest.approx(made.mean[row, column], abs=1e-6)


def test_the_single_best_straight_kriging_is_explained_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(estimate, "MOST_TO_AVERAGE", 5)
    made = surface("kriging", walls=False)
    assert made.estimate is None
    weights = reading_weights(made, FLOOR, *at(made, 2, 3))
    assert weights @ made.values == pytest.approx(made.mean[2, 3], abs=1e-8)


@pytest.mark.parametrize("method", ["kriging", "idw"])
def test_nothing_weighs_where_no_reading_reaches(method: Any) -> None:
    made = surface(method, walls=True)
    assert np.isnan(reading_weights(made, FLOOR, *at(made, 2, 18))).all()


def test_at_a_reading_idw_is_that_reading() -> None:
    made = surface("idw", walls=True)
    weights = reading_weights(made, FLOOR, made.xy[3], int(made.room[3]))
    assert weights.tolist() == [0.0] * 3 + [1.0] + [0.0] * 8


def test_through_doors_the_near_side_of_a_wall_outweighs_the_far_side() -> None:
    made = surface("kriging", walls=True)
    place = np.array([3.9, 0.1])
    ours = made.room == 0
    weights = reading_weights(made, FLOOR, place, 0)
    straight = reading_weights(surface("kriging", walls=False), FLOOR, place, 0)
    assert weights[ours].sum() > straight[ours].sum()
