"""The wall-aware field against closed forms that know nothing of cells."""

from __future__ import annotations

from dataclasses import dataclass

import gstools  # type: ignore[import-untyped]
import numpy as np
import pytest
import scipy.sparse as sp
from numpy.typing import NDArray
from scipy.special import kv
from shapely import LineString, box

from hgmap.field.beliefs import Beliefs
from hgmap.field.graph import CellGraph
from hgmap.field.kriging import krige
from hgmap.field.mixture import Features
from hgmap.field.models import correlation, matern_scale
from hgmap.field.predict import predict
from hgmap.field.walls import WallField, WallKernel
from hgmap.field.weigh import weigh
from hgmap.site.building import Floor, Room

Floats = NDArray[np.float64]


def one_room(width: float, height: float, *walls: LineString) -> Floor:
    return Floor("g", "Ground", (Room("a", "A", box(0, 0, width, height)),), walls)


def laid(floor: Floor, step_m: float, kappa: float) -> tuple[CellGraph, WallKernel]:
    graph = CellGraph.over(floor, step_m)
    return graph, WallField(graph).kernel(float(np.sqrt(8) / kappa))


def raw_covariance(graph: CellGraph, kernel: WallKernel, points: Floats) -> Floats:
    """Of the field before it is brought to variance 1, between points."""
    read = graph.interpolation(points, np.zeros(len(points), dtype=np.int64))
    half = kernel.half(sp.csr_array(read @ sp.diags_array(1.0 / kernel.scale)))
    return half.T @ half


# Rectangle of 4 by 3 with reflecting walls, kappa 1.5, alpha 2, times 4 pi kappa^2 so that the
# variance without walls is 1. No publication prints these: they were worked out beforehand, once
# as the sum over images (the folded covariance of Lindgren, Rue and Lindstrom 2011,
# doi:10.1111/j.1467-9868.2011.00777.x, appendix; form from memory) and once as a cosine series.
RECTANGLE = (
    ((0.0, 0.0), (0.0, 0.0), 4.00410682),
    ((0.0, 1.5), (0.0, 1.5), 2.12958600),
    ((2.0, 1.5), (2.0, 1.5), 1.08922902),
    ((1.0, 1.0), (1.0, 2.0), 0.60040052),
    ((1.0, 1.0), (3.0, 2.0), 0.14053991),
    ((0.5, 0.5), (0.5, 1.0), 1.46791336),
    ((0.0, 0.0), (4.0, 3.0), 0.03186680),
    ((0.0, 0.0), (1.0, 0.0), 1.66829043),
)
KAPPA = 1.5


def images(a: tuple[float, float], b: tuple[float, float], reach: int = 12) -> float:
    """Sum of Matern-1 covariances to every image of ``b`` in the walls of the rectangle."""
    k = np.arange(-reach, reach + 1)
    x = np.concatenate([2 * k * 4.0 + b[0], 2 * k * 4.0 - b[0]])
    y = np.concatenate([2 * k * 3.0 + b[1], 2 * k * 3.0 - b[1]])
    u = KAPPA * np.hypot(*np.meshgrid(x - a[0], y - a[1]))
    return float(np.where(u > 0, u * kv(1, np.where(u > 0, u, 1.0)), 1.0).sum())


@pytest.mark.parametrize(("a", "b", "value"), RECTANGLE)
def test_the_images_themselves(
    a: tuple[float, float], b: tuple[float, float], value: float
) -> None:
    assert images(a, b) == pytest.approx(value, abs=1e-8)


def test_a_rectangle_with_reflecting_walls_is_the_sum_of_its_images() -> None:
    starts, ends = np.random.default_rng(20260302).uniform(0, (4, 3), (2, 30, 2))
    pairs = [(a, b) for a, b, _ in RECTANGLE]
    pairs += [(tuple(a), tuple(b)) for a, b in zip(starts, ends, strict=True)]
    expected = np.array([images(a, b) for a, b in pairs])
    spread = np.array([np.sqrt(images(a, a) * images(b, b)) for a, b in pairs])
    points = np.array(pairs).reshape(-1, 2)
    error = []
    for step_m in (0.2, 0.1, 0.05):
        graph, kernel = laid(one_room(4, 3), step_m, KAPPA)
        got = 4 * np.pi * KAPPA**2 * raw_covariance(graph, kernel, points)
        off = np.abs(got[0::2, 1::2].diagonal() - expected) / spread
        error.append(float(off.max()))
    assert error[2] < 0.01
    assert (np.array(error[1:]) <= np.array(error[:-1]) / 2**1.5).all()


def test_brought_to_variance_1_it_is_the_correlation_of_the_images() -> None:
    starts, ends = np.random.default_rng(7).uniform(0, (4, 3), (2, 30, 2))
    error = []
    for step_m in (0.2, 0.1, 0.05):
        graph, kernel = laid(one_room(4, 3), step_m, KAPPA)
        nowhere = np.full(30, -1)
        centres = [graph.xy[graph.nearest(points, nowhere)] for points in (starts, ends)]
        pairs = [(tuple(a), tuple(b)) for a, b in zip(*centres, strict=True)]
        expected = [images(a, b) / np.sqrt(images(a, a) * images(b, b)) for a, b in pairs]
        halves = [kernel.half(graph.interpolation(points, nowhere)) for points in centres]
        error.append(float(np.abs((halves[0] * halves[1]).sum(axis=0) - expected).max()))
    assert error[2] < 0.003
    assert error[0] > error[1] > error[2]
    assert error[2] < error[0] / 2**3


# Interval of 4 with reflecting ends, kappa 1 (Lindgren, Rue and Lindstrom 2011, appendix, folded
# covariance; form from memory). The values were worked out beforehand in three ways: images,
# closed form, eigenfunctions. For alpha 1 the closed form is cosh(4 - y) cosh(x) / sinh(4), x < y.
INTERVAL = (
    (0.0, 0.0, 1.000671150, 0.503021078),
    (0.0, 1.0, 0.368915080, 0.372146839),
    (0.5, 0.5, 0.684793115, 0.437583958),
    (1.0, 3.0, 0.087251926, 0.151796377),
    (2.0, 2.0, 0.518657360, 0.297339595),
    (0.0, 4.0, 0.036643570, 0.091658113),
    (3.5, 4.0, 0.607287466, 0.458217207),
)


@pytest.mark.parametrize("cells_across", [1, 3])
def test_a_corridor_is_the_folded_covariance_of_an_interval(cells_across: int) -> None:
    error = []
    for step_m in (0.1, 0.05, 0.025):
        width = cells_across * step_m
        graph, kernel = laid(one_room(4, width), step_m, 1.0)
        ends = np.array([(x, y) for x, y, *_ in INTERVAL])
        across = (np.arange(cells_across) + 0.5) * step_m
        points = np.array([(x, y) for x in ends.ravel() for y in across])
        read = graph.interpolation(points, np.zeros(len(points), dtype=np.int64))
        # the mean over the width; a field that is even across is that of the interval / width
        mean = sp.kron(sp.identity(2 * len(ends)), np.full((1, cells_across), 1 / cells_across))
        read = sp.csr_array(mean @ read)
        alpha_1 = read @ kernel.factor.solve(read.T.toarray())
        half = kernel.half(sp.csr_array(read @ sp.diags_array(1.0 / kernel.scale)))
        got = [width * matrix[0::2, 1::2].diagonal() for matrix in (alpha_1, half.T @ half)]
        off = np.abs(np.column_stack(got) - [(first, second) for *_, first, second in INTERVAL])
        error.append(off.max(axis=0))
    coarse, middle, fine = error
    assert (fine < (0.02, 1e-4)).all()
    # of first order in the cell for alpha 1 (a cusp at the reading), of second for alpha 2
    assert np.log2(coarse / middle) == pytest.approx([1, 2], abs=0.1)
    assert np.log2(middle / fine) == pytest.approx([1, 2], abs=0.1)


@pytest.mark.parametrize("kappa", [0.05, 1.5])
def test_a_full_wall_lets_nothing_through(kappa: float) -> None:
    # with no flux across it each side is a domain of its own (Bakka et al. 2019,
    # doi:10.1016/j.spasta.2019.01.002): not small, but zero
    wall = LineString([(2.0, 0.0), (2.0, 3.0)])
    divided, kernel = laid(one_room(4, 3, wall), 0.2, kappa)
    rooms = tuple(Room(str(k), f"R{k}", box(2 * k, 0, 2 * k + 2, 3)) for k in range(2))
    graph, apart = laid(Floor("g", "Ground", rooms), 0.2, kappa)
    alone, single = laid(one_room(2, 3), 0.2, kappa)
    west = graph.xy[:, 0] < 2
    own = single.half(alone.interpolation(alone.xy, alone.room))
    for one, made in ((divided, kernel), (graph, apart)):
        half = made.half(one.interpolation(one.xy, one.room))
        covariance = half.T @ half
        assert (covariance[west][:, ~west] == 0.0).all()
        assert covariance[west][:, west] == pytest.approx(own.T @ own, abs=1e-6)
        assert covariance[~west][:, ~west] == pytest.approx(own.T @ own, abs=1e-6)


@pytest.mark.parametrize("nu", [0.5, 1.0, 1.5, 2.5])
def test_the_range_of_the_field_is_where_about_14_percent_is_left(nu: float) -> None:
    # Lindgren, Rue and Lindstrom (2011): range sqrt(8 nu) / kappa; values worked out with scipy
    # and scikit-learn beforehand
    left = {0.5: 0.135335, 1.0: 0.139667, 1.5: 0.139731, 2.5: 0.138660}[nu]
    ours = matern_scale(nu) / np.sqrt(8 * nu)  # the practical range of a field of range 1
    got = correlation(np.array([1.0]), model="matern", range_=ours, smoothness=nu)
    assert got == pytest.approx([left], abs=1e-6)


def test_gstools_has_the_same_matern_model() -> None:
    h = np.linspace(0, 20, 60)
    for nu in (0.7, 1.0, 1.5):
        scale = 6.0 / matern_scale(nu)
        other = gstools.Matern(dim=2, nu=nu, len_scale=scale, rescale=1.0 / np.sqrt(nu))
        got = correlation(h, model="matern", range_=6.0, smoothness=nu)
        assert got == pytest.approx(other.correlation(h), abs=1e-8)


@dataclass(frozen=True)
class Readings:
    """A candidate for :func:`weigh` from the field of one floor."""

    range_m: float
    log_prior: float
    gram: Floats
    prior_variance: Floats
    cross: Floats

    def columns(self) -> Floats:
        return self.cross

    def features(self) -> Features:
        columns = self.columns()
        return Features(columns, np.arange(columns.shape[1]))

    def columns_to(self, weights: sp.csr_array) -> Floats:
        return np.asarray(self.cross @ weights.T)


def test_in_the_middle_of_an_open_floor_it_is_kriging_along_straight_lines() -> None:
    range_m, share = 2.0, 0.05
    random = np.random.default_rng(20260302)
    xy, targets = random.uniform(3.5, 6.5, (2, 40, 2))
    values = np.sin(2 * xy[:, 0]) + np.cos(1.5 * xy[:, 1]) + random.normal(0, 0.2, 40)
    values = (values - values.mean()) / values.std()
    room = np.zeros(40, dtype=np.int64)
    rms = []
    for step_m in (0.4, 0.2, 0.1):
        graph, kernel = laid(one_room(10, 10), step_m, np.sqrt(8) / range_m)
        read = graph.interpolation(xy, room)
        half = kernel.half(read)
        cross = graph.interpolation(targets, room) @ kernel.columns(half)
        one = Readings(range_m, 0.0, half.T @ half, np.ones(40), cross)
        mixture = weigh([one], values, np.ones((40, 1)), beliefs=Beliefs(np.array([share])))
        mean, variance = predict(mixture, np.ones((40, 1)))
        expected, spread = krige(
            xy, values, targets, model="matern", smoothness=1.0, exact=False,
            nugget=mixture.nugget, psill=mixture.sill,
            range_=range_m * matern_scale(1.0) / np.sqrt(8),
        )  # fmt: skip
        off = (mean - expected, np.sqrt(variance) - np.sqrt(spread - mixture.nugget))
        rms.append([float(np.sqrt((one**2).mean())) for one in off])
    coarse, middle, fine = np.array(rms)
    assert (fine < (0.01, 0.02)).all()  # the readings spread by 1
    assert (middle < coarse / 2).all()
    assert (fine < middle / 2).all()
