"""The methods that maps are compared with, and the tables of both benchmarks."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm, t
from shapely import box

from hgmap.site.building import Floor, Room
from tests.bench import horseshoe as horseshoe_bench
from tests.bench import truth as truth_bench
from tests.truth.buildings import make_building
from tests.truth.horseshoe import make_readings, truth
from tests.truth.methods import Method, room_averages, straight_idw, straight_kriging, student

Floats = NDArray[np.float64]
FLOOR = Floor(
    "three",
    "Three rooms",
    tuple(Room(f"R{k}", f"R{k}", box(4 * k, 0, 4 * k + 4, 3)) for k in range(3)),
)


def test_room_averages_are_those_of_each_room() -> None:
    xy = np.array([[1.0, 1.0], [2.0, 2.0], [5.0, 1.0]])
    method = room_averages()
    targets = np.array([[3.0, 1.0], [7.0, 1.0], [9.0, 1.0]])
    mean, sd = method.estimate(FLOOR, xy, np.array([1.0, 3.0, 8.0]), targets)
    assert mean.tolist() == [2.0, 8.0, 4.0]  # no reading in the third room: the mean of all
    assert sd is None
    assert method.leave_one_out is not None
    # the third is predicted by the mean of the others, since its room is left without a reading
    errors = method.leave_one_out(FLOOR, xy, np.array([1.0, 3.0, 8.0]))
    assert errors.tolist() == [-2.0, 2.0, 6.0]


@pytest.mark.parametrize("method", [straight_kriging(0.1), straight_kriging(None), straight_idw()])
def test_a_method_gives_an_estimate_an_sd_and_what_it_is_off_by(method: Method) -> None:
    readings = make_readings(30, 0.1, 0)
    mean, sd = method.estimate(FLOOR, readings.xy, readings.values, readings.xy + 0.01)
    assert np.abs(mean - readings.values).mean() < 0.6
    assert sd is not None
    assert sd.min() > 0
    assert method.leave_one_out is not None
    assert len(method.leave_one_out(FLOOR, readings.xy, readings.values)) == 30


def test_an_interval_of_students_is_kept() -> None:
    assert norm.ppf(0.975) * student(np.ones(1), 9)[0] == pytest.approx(t.ppf(0.975, 9))


def test_the_benchmark_of_buildings_scores_the_truth_at_zero() -> None:
    building = make_building(5)

    def know(_: Floor, xy: Floats, values: Floats, targets: Floats) -> tuple[Floats, Floats]:
        return building.log_truth(targets), np.full(len(targets), 0.1)

    perfect = truth_bench.run_one(Method(know), building, 10)
    assert perfect.map == (0.0, 1.0, 0.0)
    straight = truth_bench.run_one(truth_bench.METHODS[truth_bench.REFERENCE], building, 10)
    assert 0.1 < straight.map.rmse < 3.0
    first, second = truth_bench.summary(
        10, {truth_bench.REFERENCE: [straight], "know": [perfect]}
    )  # fmt: skip
    assert first[4] == "1.00"
    assert second[2:8] == ["0.000", "0.000", "0.00", "", "100.0", "0.0"]


def test_the_benchmark_of_the_horseshoe_scores_the_truth_at_zero(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def know(_: Floor, xy: Floats, values: Floats, targets: Floats) -> tuple[Floats, None]:
        return truth(targets), None

    monkeypatch.setitem(horseshoe_bench.METHODS, "know", Method(know))
    row = horseshoe_bench.row("know", 60, 0.1, [make_readings(60, 0.1, 0)])
    assert row[:8] == ["know", "60", "0.1", "1", "0.0000", "0.1060", "0.00", ""]
