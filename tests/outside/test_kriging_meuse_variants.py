"""Kriging of the Meuse samples in its other forms, against other programs' output.

Where a comment names R package gstat alone, the numbers were printed by gstat 2.1.0 for the
project's notes; no book or paper holds them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from hgmap.field.average import Block, block_of_points, block_of_polygon, krige_average
from hgmap.field.indicator import indicator_probability
from hgmap.field.kriging import krige
from hgmap.field.lognormal import lognormal_kriging
from hgmap.field.variogram import empirical_variogram, fit_variogram

Floats = NDArray[np.float64]

# Model fitted in the vignette of R package gstat, "The meuse data set", to log zinc.
LOG_ZINC: dict[str, Any] = {
    "model": "spherical",
    "nugget": 0.05066243,
    "psill": 0.59060780,
    "range_": 897.0209,
}

TEN = np.array(
    [
        (178605, 329900),
        (179180, 330100),
        (179660, 330640),
        (179900, 331000),
        (180180, 331500),
        (180460, 332000),
        (180740, 332300),
        (181020, 332700),
        (181300, 333300),
        (180000, 330000),
    ],
    dtype=float,
)


def nearest(xy: Floats, target: Floats, count: int) -> NDArray[np.intp]:
    """Rows of the nearest readings; krige itself always takes all that it is given."""
    return np.argsort(((xy - target) ** 2).sum(axis=1), kind="stable")[:count]


def gauss_square(centre: Floats, width: float) -> Block:
    """A square as gstat sums over it: four Gauss-Legendre points in each direction."""
    node, weight = np.polynomial.legendre.leggauss(4)
    x, y = np.meshgrid(node, node)
    points = centre + width / 2 * np.column_stack([x.ravel(), y.ravel()])
    return block_of_points(points, np.outer(weight, weight).ravel())


def test_the_twenty_nearest_samples(meuse: Any) -> None:
    # R package gstat, nmax = 20
    answers = []
    for target in TEN:
        rows = nearest(meuse.xy, target, 20)
        mean, variance = krige(meuse.xy[rows], meuse.log_zinc[rows], [target], **LOG_ZINC)
        answers.append((mean[0], variance[0]))
    mean, variance = np.transpose(answers)
    assert mean == pytest.approx(
        [6.458254, 5.274562, 5.371375, 5.160351, 5.332744, 5.196243, 5.575969, 5.249540, 5.550933,
         6.149423], abs=2e-6
    )  # fmt: skip
    assert variance == pytest.approx(
        [0.393209, 0.143569, 0.220291, 0.164223, 0.147405, 0.128719, 0.147510, 0.130882, 0.119807,
         0.526815], abs=2e-6
    )  # fmt: skip


def test_the_first_five_samples_left_out_in_turn(meuse: Any) -> None:
    # R package gstat, krige.cv: five systems of 154 samples each
    answers = [
        krige(
            np.delete(meuse.xy, row, axis=0), np.delete(meuse.log_zinc, row), meuse.xy[[row]],
            **LOG_ZINC,
        )
        for row in range(5)
    ]  # fmt: skip
    mean, variance = np.transpose(answers)[0]
    assert mean == pytest.approx([6.768256, 6.766599, 6.296578, 6.039315, 5.582187], abs=2e-6)
    assert variance == pytest.approx([0.181087, 0.175759, 0.182848, 0.229176, 0.175262], abs=2e-6)


def test_every_sample_left_out_with_its_twenty_nearest(meuse: Any) -> None:
    # R package gstat, krige.cv with nmax = 20
    residual, standardised = [], []
    for row, place in enumerate(meuse.xy):
        others = nearest(meuse.xy, place, 21)[1:]
        mean, variance = krige(meuse.xy[others], meuse.log_zinc[others], [place], **LOG_ZINC)
        residual.append(meuse.log_zinc[row] - mean[0])
        standardised.append(residual[-1] / np.sqrt(variance[0]))
    assert np.mean(residual) == pytest.approx(0.006337, abs=1e-6)
    assert np.sqrt(np.mean(np.square(residual))) == pytest.approx(0.388347, abs=1e-6)
    assert np.mean(np.square(standardised)) == pytest.approx(0.798011, abs=1e-6)


def test_median_and_mean_of_zinc_by_lognormal_kriging(meuse: Any) -> None:
    # formula: Cressie (1993), Statistics for Spatial Data, p. 135-136; the multipliers by R
    # package gstat (krigeTg) and by plain linear algebra, the other two from them by the formula
    made = lognormal_kriging(meuse.xy, meuse.zinc, TEN, **LOG_ZINC)
    assert made.lagrange_multiplier == pytest.approx(
        [0.0131634, -0.0000655, 0.0013606, 0.0004662, 0.0003130, 0.0006356, 0.0013060, -0.0000464,
         -0.0001786, 0.0183022], abs=1e-7
    )  # fmt: skip
    assert made.mean == pytest.approx(
        [666.933601, 213.769018, 241.684585, 187.731875, 215.159788, 194.229080, 277.203176,
         205.190359, 275.765641, 632.592451], abs=2e-6
    )  # fmt: skip
    assert made.median == pytest.approx(
        [561.517571, 198.970621, 217.248582, 173.142289, 199.995657, 182.279292, 257.973475,
         192.202265, 259.698579, 503.909169], abs=2e-6
    )  # fmt: skip


def test_zinc_above_500_by_indicator_kriging(meuse: Any) -> None:
    # R package gstat; plain linear algebra gives the same
    made = indicator_probability(
        meuse.xy, meuse.zinc, TEN, 500, model="spherical", nugget=0.05, psill=0.15, range_=800
    )
    raw = [0.681947, -0.006026, 0.103817, 0.037698, 0.012509, 0.014325, 0.068086, -0.006311,
           0.008243, 0.527727]  # fmt: skip
    assert made.raw == pytest.approx(raw, abs=1e-6)
    assert made.probability == pytest.approx([max(p, 0) for p in raw], abs=1e-6)
    assert made.variance == pytest.approx(
        [0.151182, 0.084255, 0.104264, 0.089276, 0.085609, 0.081166, 0.088136, 0.080484, 0.079262,
         0.180839], abs=1e-6
    )  # fmt: skip


def test_the_indicator_and_its_variogram(meuse: Any) -> None:
    # R package gstat, fit.variogram of I(zinc > 500), weights pairs / distance²
    above = (meuse.zinc > 500).astype(float)
    assert above.sum() == 57
    assert above.mean() == pytest.approx(0.367742, abs=1e-6)
    fitted = fit_variogram(
        empirical_variogram(meuse.xy, above), model="spherical", range_bounds_m=(50, 4800)
    )
    assert (fitted.nugget, fitted.psill, fitted.range_m) == pytest.approx(
        (0.1011761852, 0.1575075568, 883.205), rel=1e-3
    )


def test_log_zinc_averaged_over_squares_of_40_m(meuse: Any) -> None:
    # R package gstat, block = c(40, 40)
    made = krige_average(
        meuse.xy, meuse.log_zinc, [gauss_square(centre, 40) for centre in TEN], **LOG_ZINC
    )
    assert made.mean == pytest.approx(
        [6.330760, 5.294681, 5.381633, 5.154306, 5.297550, 5.206795, 5.551743, 5.259609, 5.559773,
         6.222202], abs=2e-6
    )  # fmt: skip
    assert made.variance == pytest.approx(
        [0.299792, 0.073664, 0.145524, 0.092806, 0.077147, 0.059237, 0.077460, 0.061499, 0.051519,
         0.420611], abs=2e-6
    )  # fmt: skip


# Regression output that R package gstat ships, tests/blockkr.Rout.save: zinc, the 40 nearest
# samples, squares of 40 m: x, y, average and its variance.
SHIPPED = np.array(
    [
        (181170, 333250, 268.7576, 19447.67),
        (180310, 332189, 663.4915, 16991.33),
        (180205, 331707, 251.4606, 21579.71),
        (178673, 330066, 532.5776, 73807.91),
        (178770, 330675, 664.4039, 23589.17),
        (178270, 331075, 565.5436, 155113.23),
    ]
)
ZINC: dict[str, Any] = {"model": "spherical", "nugget": 2.42e4, "psill": 1.34e5, "range_": 800}


@pytest.mark.parametrize(("x", "y", "average", "variance"), SHIPPED)
def test_the_published_averages_over_squares(
    meuse: Any, x: float, y: float, average: float, variance: float
) -> None:
    centre = np.array([x, y])
    rows = nearest(meuse.xy, centre, 40)
    made = krige_average(meuse.xy[rows], meuse.zinc[rows], [gauss_square(centre, 40)], **ZINC)
    assert made.mean == pytest.approx([average], abs=1e-4)
    assert made.variance == pytest.approx([variance], abs=1e-2)


def test_the_published_average_over_sixteen_even_points(meuse: Any) -> None:
    # the same output, a regular net of 4 x 4; the longer digits were computed for the notes
    centre = SHIPPED[0, :2]
    rows = nearest(meuse.xy, centre, 40)
    even = np.array([(dx, dy) for dx in (-15, -5, 5, 15) for dy in (-15, -5, 5, 15)])
    square = np.array([(-20, -20), (20, -20), (20, 20), (-20, 20)]) + centre
    blocks = [block_of_points(centre + even), block_of_polygon(shapely.Polygon(square), step=10)]
    made = krige_average(meuse.xy[rows], meuse.zinc[rows], blocks, **ZINC)
    assert made.mean == pytest.approx([268.7324] * 2, abs=1e-4)
    assert made.mean == pytest.approx([268.732384] * 2, abs=1e-6)
    assert made.variance == pytest.approx([19568.76] * 2, abs=1e-2)
    assert made.variance == pytest.approx([19568.7618] * 2, abs=1e-4)
    # the two blocks are one, so their errors are one error
    assert made.covariance == pytest.approx(np.full((2, 2), made.variance[0]))


def test_zinc_at_the_centres_of_the_squares(meuse: Any) -> None:
    # computed separately for the project's notes; no published number
    answers = []
    for centre in SHIPPED[:, :2]:
        rows = nearest(meuse.xy, centre, 40)
        mean, variance = krige(meuse.xy[rows], meuse.zinc[rows], [centre], **ZINC)
        answers.append((mean[0], variance[0]))
    mean, variance = np.transpose(answers)
    assert mean == pytest.approx(
        [268.363875, 664.360880, 251.711730, 532.436468, 663.906481, 565.617233], abs=2e-6
    )
    assert variance == pytest.approx(
        [48498.4729, 45857.4499, 50644.2034, 103109.8049, 52454.1761, 184521.1565], abs=2e-4
    )
