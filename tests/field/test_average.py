"""Block kriging: averages over areas, and the covariance of their errors."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from hgmap.errors import CoincidentReadingsWarning, EstimateError
from hgmap.field.anisotropy import Anisotropy
from hgmap.field.average import Block, block_of_points, block_of_polygon, krige_average
from hgmap.field.kriging import krige
from hgmap.field.posterior import Posterior
from hgmap.field.variogram import Variogram

Floats = NDArray[np.float64]
MODEL: dict[str, Any] = {"model": "exponential", "nugget": 0.2, "psill": 0.9, "range_": 11.0}


class Survey(NamedTuple):
    xy: Floats
    values: Floats
    blocks: list[Block]
    parameters: dict[str, Any]


@st.composite
def surveys(draw: st.DrawFn) -> Survey:
    """Readings and one to four blocks of weighted points, some of them at readings."""
    steps = st.integers(0, 40)
    place = st.tuples(steps, steps)
    places = draw(st.lists(place, min_size=1, max_size=10, unique=True))
    values = draw(st.lists(st.floats(-50, 50), min_size=len(places), max_size=len(places)))
    blocks = []
    for points in draw(st.lists(st.lists(place, min_size=1, max_size=5), min_size=1, max_size=4)):
        weights = draw(st.lists(st.floats(0.1, 9), min_size=len(points), max_size=len(points)))
        blocks.append(block_of_points(np.array(points) / 2, weights))
    parameters = {
        "model": draw(st.sampled_from(["spherical", "exponential", "gaussian"])),
        "nugget": draw(st.floats(0.05, 2)),
        "psill": draw(st.floats(0.1, 4)),
        "range_": draw(st.floats(0.5, 40)),
    }
    return Survey(np.array(places) / 2, np.array(values), blocks, parameters)


def averages(one: Survey) -> Any:
    return krige_average(one.xy, one.values, one.blocks, **one.parameters)


@given(surveys())
def test_a_block_of_one_point_is_kriging_of_the_noise_free_field_there(one: Survey) -> None:
    points = np.vstack([block.xy for block in one.blocks])
    made = krige_average(
        one.xy, one.values, [block_of_points([point]) for point in points], **one.parameters
    )
    mean, variance = krige(one.xy, one.values, points, exact=False, **one.parameters)
    assert made.mean == pytest.approx(mean, abs=1e-7)
    assert made.variance == pytest.approx(variance - one.parameters["nugget"], abs=1e-7)


@given(surveys())
def test_the_average_is_the_weighted_mean_of_the_estimates_at_the_points(one: Survey) -> None:
    for block, average in zip(one.blocks, averages(one).mean, strict=True):
        mean, _ = krige(one.xy, one.values, block.xy, exact=False, **one.parameters)
        assert average == pytest.approx(block.weights @ mean, abs=1e-7)


@given(surveys())
def test_the_covariance_is_that_of_the_errors_at_the_points_averaged(one: Survey) -> None:
    model, nugget, psill, range_ = one.parameters.values()
    posterior = Posterior(one.xy, Variogram(model, nugget, psill, range_))
    covariance = averages(one).covariance
    for i, a in enumerate(one.blocks):
        for j, b in enumerate(one.blocks):
            expected = a.weights @ posterior.covariance(a.xy, b.xy) @ b.weights
            assert covariance[i, j] == pytest.approx(expected, abs=1e-7)


@given(surveys())
def test_the_covariance_is_symmetric_and_of_no_negative_variance(one: Survey) -> None:
    made = averages(one)
    assert (made.covariance == made.covariance.T).all()
    assert np.linalg.eigvalsh(made.covariance).min() > -1e-8
    assert (made.variance >= 0).all()
    assert made.standard_error**2 == pytest.approx(made.variance)


@given(surveys(), st.floats(-50, 50))
def test_readings_that_are_all_equal_have_that_average(one: Survey, value: float) -> None:
    made = averages(one._replace(values=np.full(len(one.xy), value)))
    assert made.mean == pytest.approx(value, abs=1e-7)
    assert made.covariance == pytest.approx(averages(one).covariance, abs=1e-12)


@given(surveys())
def test_blocks_put_together_are_the_average_of_the_blocks(one: Survey) -> None:
    share = np.linspace(1, 2, len(one.blocks))
    share /= share.sum()
    whole = block_of_points(
        np.vstack([block.xy for block in one.blocks]),
        np.concatenate(
            [part * block.weights for part, block in zip(share, one.blocks, strict=True)]
        ),
    )
    parts, made = averages(one), averages(one._replace(blocks=[whole]))
    assert made.mean[0] == pytest.approx(share @ parts.mean, abs=1e-7)
    assert made.variance[0] == pytest.approx(share @ parts.covariance @ share, abs=1e-7)


@given(surveys(), st.floats(0.01, 100))
def test_the_unit_of_length_passes_through(one: Survey, factor: float) -> None:
    scaled = one._replace(
        xy=factor * one.xy,
        blocks=[Block(factor * block.xy, block.weights) for block in one.blocks],
        parameters=one.parameters | {"range_": factor * one.parameters["range_"]},
    )
    assert averages(scaled).mean == pytest.approx(averages(one).mean, abs=1e-6)
    assert averages(scaled).covariance == pytest.approx(averages(one).covariance, abs=1e-6)


def test_two_rooms_are_known_together_and_their_difference_apart() -> None:
    # one long-ranging field read in the doorway alone: both rooms are wrong together
    rooms = [block_of_polygon(shapely.box(x, 0, x + 6, 5), step=0.5) for x in (0, 6)]
    made = krige_average([(6, 2.5)], [4.0], rooms, model="gaussian", nugget=0.5, psill=1, range_=60)
    apart = np.array([1.0, -1.0])
    assert made.covariance[0, 1] > 0.9 * made.variance[0]
    # errors taken as independent would give the difference the sum of the variances
    assert apart @ made.covariance @ apart < 0.1 * made.variance.sum()


def test_one_reading_gives_a_block_its_value_and_a_variance_by_hand() -> None:
    # variance = C(A, A) + C(0) - 2 c(A), with the nugget in the reading's C(0) alone
    block = block_of_points([(3, 0), (0, 4)])
    made = krige_average([(0, 0)], [7.0], [block], **MODEL)
    rho = {h: np.exp(-3 * h / 11) for h in (3, 4, 5)}
    inside = 0.9 * (1 + rho[5]) / 2
    assert made.mean == pytest.approx([7.0])
    assert made.variance == pytest.approx([inside + 1.1 - 0.9 * (rho[3] + rho[4])])


def test_fine_steps_come_to_one_answer() -> None:
    random = np.random.default_rng(4)
    xy, values = random.uniform(0, 12, (20, 2)), random.normal(0, 1, 20)
    shape = shapely.Polygon([(0, 0), (9, 0), (9, 4), (5, 4), (5, 10), (0, 10)])
    coarse, fine = (
        krige_average(xy, values, [block_of_polygon(shape, step=step)], **MODEL)
        for step in (0.5, 0.25)
    )
    assert coarse.mean == pytest.approx(fine.mean, abs=2e-3)
    assert coarse.standard_error == pytest.approx(fine.standard_error, rel=0.01)


def test_parts_in_memory_and_a_direction_change_nothing_they_should_not(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    random = np.random.default_rng(6)
    xy, values = random.uniform(0, 12, (20, 2)), random.normal(0, 1, 20)
    blocks = [block_of_polygon(shapely.box(x, 0, x + 5, 7), step=0.7) for x in (0, 6)]
    options = MODEL | {"error_variance": random.random(20), "smoothness": 1.5, "model": "matern",
                       "anisotropy": Anisotropy(ratio=0.5, angle_deg=20)}  # fmt: skip
    whole = krige_average(xy, values, blocks, **options)
    mean, _ = krige(xy, values, blocks[1].xy, exact=False, **options)
    assert whole.mean[1] == pytest.approx(blocks[1].weights @ mean, abs=1e-9)
    monkeypatch.setattr("hgmap.field.average.BLOCK_BYTES", 8 * 20 * 3)
    pieces = krige_average(xy, values, blocks, **options)
    assert pieces.mean == pytest.approx(whole.mean, abs=1e-12)
    assert pieces.covariance == pytest.approx(whole.covariance, abs=1e-12)


@pytest.mark.parametrize("exact", [True, False])
def test_replicates_with_errors_share_a_nugget_or_have_one_each(exact: bool) -> None:
    xy, values = [(0, 0), (0, 0), (0, 0), (6, 0)], [1.0, 2.0, 4.0, 3.0]
    options = MODEL | {"error_variance": [0.1, 0.2, 0.4, 0.1], "exact": exact}
    made = krige_average(xy, values, [block_of_points([(2, 1)])], **options)
    mean, variance = krige(xy, values, [(2, 1)], **options)
    assert made.mean == pytest.approx(mean, abs=1e-12)
    assert made.variance == pytest.approx(variance - MODEL["nugget"], abs=1e-12)


def test_no_block_gives_no_average() -> None:
    made = krige_average([(0, 0), (1, 0)], [1.0, 2.0], [], **MODEL)
    assert made.mean.shape == made.variance.shape == (0,)


def test_readings_at_one_place_are_warned_of_at_the_callers_line() -> None:
    with pytest.warns(CoincidentReadingsWarning, match="rows 0, 1") as caught:
        krige_average([(0, 0), (0, 0)], [1.0, 2.0], [block_of_points([(1, 1)])], **MODEL)
    assert caught[0].filename.endswith("test_average.py")


@given(st.floats(0.3, 5), st.floats(0, 360), st.floats(-100, 100))
def test_a_polygon_keeps_its_centre_and_no_mesh_is_wider_than_the_step(
    step: float, turn: float, shift: float
) -> None:
    shape = shapely.Polygon(
        [(0, 0), (9, 0), (9, 4), (5, 4), (5, 10), (0, 10)], [[(1, 1), (1, 3), (3, 3), (3, 1)]]
    )
    angle = np.radians(turn)
    matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    shape = shapely.transform(shape, lambda xy: xy @ matrix.T + shift)
    block = block_of_polygon(shape, step=step)
    assert block.weights.sum() == pytest.approx(1)
    assert block.weights @ block.xy == pytest.approx(shape.centroid.coords[0], abs=1e-9)
    assert block.weights.max() * shape.area <= step**2 * (1 + 1e-6)


def test_a_square_in_quarters_has_sixteen_even_points() -> None:
    block = block_of_polygon(shapely.box(100, 200, 140, 240), step=10)
    assert sorted(block.xy[:, 0]) == pytest.approx(np.repeat([105, 115, 125, 135], 4))
    assert sorted(block.xy[:, 1]) == pytest.approx(np.repeat([205, 215, 225, 235], 4))
    assert block.weights == pytest.approx(1 / 16)


def test_a_step_longer_than_the_polygon_leaves_its_centroid() -> None:
    block = block_of_polygon(shapely.box(0, 0, 3, 1), step=50)
    assert block.xy.tolist() == [[1.5, 0.5]]


@pytest.mark.parametrize(
    ("shape", "step", "message"),
    [
        (shapely.box(0, 0, 1, 1), 0, "step is 0; give a number above 0"),
        (shapely.box(0, 0, 1, 1), np.nan, "step is nan"),
        (shapely.Polygon(), 1, "shape is not an area; give a valid polygon"),
        (shapely.LineString([(0, 0), (1, 1)]), 1, "shape is not an area"),
        (shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]), 1, "shape is not an area"),
        (shapely.box(0, 0, 300, 300), 1, "cuts a block into about 90000 pieces; give a longer"),
    ],
)
def test_a_polygon_that_cannot_be_cut_is_refused(shape: Any, step: float, message: str) -> None:
    with pytest.raises(EstimateError, match=message):
        block_of_polygon(shape, step=step)


@pytest.mark.parametrize(
    ("points", "weights", "message"),
    [
        (np.empty((0, 2)), None, "a block has no point"),
        ([(0, 0), (np.nan, 0)], None, "block row 1"),
        ([(0, 0), (1, 0)], [1.0], r"weights has shape \(1,\); give one value for each of the 2"),
        ([(0, 0), (1, 0)], [1.0, -0.5], "weights are negative or all 0"),
        ([(0, 0), (1, 0)], [0.0, 0.0], "weights are negative or all 0"),
    ],
)
def test_points_that_make_no_block_are_refused(points: Any, weights: Any, message: str) -> None:
    with pytest.raises(EstimateError, match=message):
        block_of_points(points, weights)
