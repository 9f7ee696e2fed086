"""Readings that are intervals, against brute-force quadrature of the truncated posterior."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.stats import norm, truncnorm

from hgmap.field.beliefs import Beliefs
from hgmap.field.predict import predict
from hgmap.field.straight_candidate import StraightCandidate
from hgmap.field.truncated import Conditional, Intervals, draw_between, sweep
from hgmap.field.weigh import weigh

Floats = NDArray[np.float64]


def drawn(precision: Floats, values: Floats, intervals: Intervals, count: int) -> Floats:
    random = np.random.default_rng(3)
    conditional = Conditional.of(precision, intervals.which)
    current, kept = values.copy(), []
    for _ in range(count):
        sweep(current, conditional, 1.0, intervals, random)
        kept.append(current[intervals.which].copy())
    return np.array(kept[count // 10 :])


def by_quadrature(
    precision: Floats, values: Floats, intervals: Intervals, nodes: int
) -> tuple[Floats, Floats]:
    """Mean and covariance of the hidden values, their density summed over a fine grid."""
    axes, weights = [], []
    for lower, upper in zip(intervals.lower, intervals.upper, strict=True):
        x, w = np.polynomial.legendre.leggauss(nodes)
        axes.append(0.5 * (upper - lower) * x + 0.5 * (upper + lower))
        weights.append(0.5 * (upper - lower) * w)
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, len(axes))
    weight = np.prod(np.meshgrid(*weights, indexing="ij"), axis=0).ravel()
    full = np.tile(values, (len(points), 1))
    full[:, intervals.which] = points
    density = weight * np.exp(-0.5 * np.einsum("ij,jk,ik->i", full, precision, full))
    density /= density.sum()
    mean = density @ points
    return mean, (points - mean).T @ (density[:, None] * (points - mean))


def covariance(places: Floats) -> Floats:
    return np.asarray(
        np.exp(-np.abs(places[:, None] - places[None, :])) + 0.1 * np.eye(len(places))
    )


@pytest.mark.parametrize(
    ("which", "lower", "upper"),
    [
        ((0, 2), (-2.0, -1.0), (-0.5, 0.3)),
        ((0, 1), (0.5, 0.2), (3.0, 2.5)),
        ((0, 1, 3), (-1.5, 0.0, -3.0), (-0.2, 2.0, -1.0)),
    ],
)
def test_the_sampler_has_the_moments_of_the_truncated_normal(
    which: tuple[int, ...], lower: tuple[float, ...], upper: tuple[float, ...]
) -> None:
    # Reference: Gauss-Legendre quadrature of the density itself, 80 nodes a dimension
    places = np.array([0.0, 0.4, 1.0, 1.7])
    precision = np.linalg.inv(covariance(places))
    values = np.array([0.3, -0.2, 0.5, 0.9])
    intervals = Intervals(np.array(which), np.array(lower), np.array(upper))
    values[intervals.which] = intervals.start()
    mean, spread = by_quadrature(precision, values, intervals, 80 if len(which) == 2 else 48)
    sample = drawn(precision, values, intervals, 6_000)
    # the draws hang together: about a third count, so this is four standard errors or more
    error = 4.0 * np.sqrt(np.diag(spread) / (len(sample) / 3.0))
    assert (np.abs(sample.mean(axis=0) - mean) < error).all()
    assert np.cov(sample.T) == pytest.approx(spread, abs=0.06 * float(np.diag(spread).max()))
    assert (sample >= intervals.lower).all()
    assert (sample <= intervals.upper).all()


@pytest.mark.parametrize("count", [2, 3])
def test_kriging_with_intervals_is_the_quadrature_over_them(count: int) -> None:
    # One range, nugget and sill are given, so only the hidden values are unknown. Reference:
    # kriging of every possible value, weighed by its density on a Gauss-Legendre grid.
    xy = np.array([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (2.0, 1.0), (1.0, 2.0), (2.5, 2.5)])
    values = np.array([0.0, 0.0, 0.0, 0.8, 0.1, -0.4])
    targets = np.array([(0.5, 0.5), (1.5, 0.5), (2.0, 2.0)])
    which = np.arange(count)
    intervals = Intervals(which, np.full(count, -3.0), np.array([-0.6, 0.2, -0.1])[:count])
    values[which] = intervals.start()
    candidate = StraightCandidate("exponential", 4.0, xy, targets, 0.0)
    trend = np.ones((len(xy), 1))
    mixture = weigh(
        [candidate], values, trend, beliefs=Beliefs(nugget=0.05, sill=1.0), intervals=intervals
    )
    mean, variance = predict(mixture, np.ones((3, 1)))

    gram = candidate.gram + 0.05 * np.eye(len(xy))
    inverse = np.linalg.inv(gram)
    one = inverse.sum(axis=1)
    projected = inverse - np.outer(one, one) / one.sum()
    hidden, spread = by_quadrature(projected, values, intervals, 48)
    full = values.copy()
    full[which] = hidden
    columns = candidate.columns()
    weight = columns @ inverse + np.outer(1.0 - columns @ one, one) / one.sum()
    exact = weight @ full
    kriging = 1.0 - np.einsum("ij,ij->i", columns @ inverse, columns)
    kriging += (1.0 - columns @ one) ** 2 / one.sum()
    exact_variance = kriging + np.einsum("ij,jk,ik->i", weight[:, which], spread, weight[:, which])
    # 200 draws of the hidden values: a tenth of an sd is five standard errors or so
    assert mean == pytest.approx(exact, abs=0.12 * float(np.sqrt(np.diag(spread).max())))
    assert variance == pytest.approx(exact_variance, rel=0.12)


@pytest.mark.parametrize(
    ("lower", "upper"), [(-1.0, 2.0), (3.0, np.inf), (-np.inf, -4.0), (9.0, 9.5), (-40.0, -38.0)]
)
def test_a_draw_between_two_bounds_has_their_truncated_normal(lower: float, upper: float) -> None:
    # scipy.stats.truncnorm as the reference: mean within five standard errors
    random = np.random.default_rng(5)
    sample = np.array([draw_between(0.0, 1.0, lower, upper, random) for _ in range(3000)])
    exact = truncnorm(lower, upper)
    assert (sample >= lower).all()
    assert (sample <= upper).all()
    assert abs(sample.mean() - exact.mean()) < 5.0 * sample.std() / np.sqrt(len(sample)) + 1e-9


def test_without_bounds_a_draw_is_normal() -> None:
    random = np.random.default_rng(6)
    sample = np.array([draw_between(1.0, 2.0, -np.inf, np.inf, random) for _ in range(4000)])
    share = float((sample < 1.0 + 2.0 * norm.ppf(0.8)).mean())
    assert share == pytest.approx(0.8, abs=0.03)
