"""Ordinary kriging against published examples, closed forms and other programs' output."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from hgmap.decide.exceedance import exceedance_probability
from hgmap.field.kriging import krige
from hgmap.field.validate import leave_one_out_idw, leave_one_out_kriging
from hgmap.field.variogram import Variogram

# Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, the seven samples around
# (65, 137) of chapters 11 and 12: x, y, V (ppm). Sample 366 stands at y = 128 in the book's table.
SEVEN = np.array(
    [
        (61, 139, 477),
        (63, 140, 696),
        (64, 129, 227),
        (68, 128, 646),
        (71, 140, 606),
        (73, 141, 791),
        (75, 128, 783),
    ],
    dtype=float,
)
BOOK_TARGET = [[65.0, 137.0]]
BOOK_MODEL: dict[str, Any] = {"model": "exponential", "nugget": 0, "psill": 10, "range_": 10}


def book(values: np.ndarray, **changed: Any) -> tuple[float, float]:
    mean, variance = krige(SEVEN[:, :2], values, BOOK_TARGET, **(BOOK_MODEL | changed))
    return float(mean[0]), float(variance[0])


def weights(**changed: Any) -> np.ndarray:
    """The estimate is linear in the values, so a value of 1 among zeros shows its weight."""
    return np.array([book(unit, **changed)[0] for unit in np.eye(7)])


def test_the_seven_samples_of_isaaks_and_srivastava() -> None:
    # Isaaks and Srivastava (1989), ch. 12: weights, estimate 592.7 ppm, variance 8.96 (values
    # from memory); the longer digits were computed separately for the project's notes.
    assert weights() == pytest.approx([0.173, 0.318, 0.129, 0.086, 0.151, 0.057, 0.086], abs=0.0006)
    estimate, variance = book(SEVEN[:, 2])
    assert estimate == pytest.approx(592.7, abs=0.05)
    assert estimate == pytest.approx(592.728943, abs=1e-6)
    assert variance == pytest.approx(8.96, abs=0.005)
    assert variance == pytest.approx(8.956053, abs=1e-6)


@pytest.mark.parametrize(
    ("changed", "estimate", "variance"),
    [
        # computed separately for the project's notes; no published number
        ({"nugget": 5, "psill": 5}, 596.777007, 10.305852),
        ({"psill": 20}, 592.728943, 17.912106),
        ({"range_": 20}, 572.389874, 5.758500),
        ({"model": "gaussian", "range_": 10}, 559.370023, 4.780597),
    ],
)
def test_other_models_at_the_same_place(
    changed: dict[str, Any], estimate: float, variance: float
) -> None:
    assert book(SEVEN[:, 2], **changed) == pytest.approx((estimate, variance), abs=2e-6)


def test_a_smooth_model_gives_negative_weights() -> None:
    # computed separately for the project's notes; no published number
    assert weights(model="gaussian") == pytest.approx(
        [-0.021514, 0.676044, 0.165898, -0.012793, 0.444086, -0.288446, 0.036725], abs=2e-6
    )


# g(h) = 1 + 3 (1.5 h / 10 - 0.5 (h / 10)³) below 10, g(0) = 0; every answer is by hand from g.
BY_HAND: dict[str, Any] = {"model": "spherical", "nugget": 1, "psill": 3, "range_": 10}


def g(h: float) -> float:
    return 1 + 3 * (1.5 * h / 10 - 0.5 * (h / 10) ** 3)


@pytest.mark.parametrize(
    ("xy", "values", "target", "estimate", "variance"),
    [
        ([(0, 0)], [7.0], (3, 0), 7.0, 2 * g(3)),
        ([(0, 0), (6, 0)], [1.0, 4.0], (3, 0), 2.5, 2 * g(3) - g(6) / 2),
        (
            [(0, 0), (4, 0), (0, 4), (4, 4)],
            [1.0, 2.0, 3.0, 6.0],
            (2, 2),
            3.0,
            2 * g(8**0.5) - (2 * g(4) + g(32**0.5)) / 4,
        ),
    ],
    ids=["one sample", "midway between two", "centre of a square"],
)
def test_answers_by_hand(
    xy: list[tuple[float, float]],
    values: list[float],
    target: tuple[float, float],
    estimate: float,
    variance: float,
) -> None:
    mean, spread = krige(xy, values, [target], **BY_HAND)
    assert (mean[0], spread[0]) == pytest.approx((estimate, variance), abs=1e-10)


def test_the_hand_answers_themselves() -> None:
    # analytic, computed separately for the project's notes
    assert 2 * g(3) == pytest.approx(4.619)
    assert 2 * g(3) - g(6) / 2 == pytest.approx(2.931)
    assert 2 * g(8**0.5) - (2 * g(4) + g(32**0.5)) / 4 == pytest.approx(2.3071883, abs=1e-7)


def test_three_wells_by_their_exact_solution() -> None:
    # Davis, Statistics and Data Analysis in Geology: three wells, semivariogram 4 h. The book
    # prints 125.1 and 5.25 (values from memory), which do not solve its own equations to three
    # digits; the exact solution was computed separately for the project's notes. A spherical
    # model of a very long range is a straight line there.
    wells, water = [(3.0, 4.0), (6.3, 3.4), (2.0, 1.3)], [120.0, 103.0, 142.0]
    long = 1e5
    mean, variance = krige(
        wells, water, [(3.0, 3.0)], model="spherical", nugget=0, psill=4 * long / 1.5, range_=long
    )
    assert mean[0] == pytest.approx(125.330326, abs=1e-5)
    assert variance[0] == pytest.approx(5.283025, abs=1e-5)
    assert mean[0] == pytest.approx(125.1, abs=0.3)
    assert variance[0] == pytest.approx(5.25, abs=0.05)


# Model fitted in the vignette of R package gstat, "The meuse data set", to log zinc.
MEUSE_MODEL: dict[str, Any] = {
    "model": "spherical",
    "nugget": 0.05066243,
    "psill": 0.59060780,
    "range_": 897.0209,
}

# Ten places by R package gstat 2.1.0: x, y, estimate and variance of log zinc, P(zinc > 500).
TEN = np.array(
    [
        (178605, 329900, 6.330643, 0.370422, 0.575601),
        (179180, 330100, 5.293157, 0.143347, 0.007471),
        (179660, 330640, 5.381042, 0.215904, 0.036411),
        (179900, 331000, 5.154114, 0.162734, 0.004283),
        (180180, 331500, 5.298296, 0.146797, 0.008388),
        (180460, 332000, 5.205540, 0.128268, 0.002420),
        (180740, 332300, 5.552857, 0.146400, 0.041858),
        (181020, 332700, 5.258548, 0.130687, 0.004089),
        (181300, 333300, 5.559522, 0.119702, 0.029151),
        (180000, 330000, 6.222396, 0.491465, 0.504432),
    ]
)


@pytest.mark.parametrize("exact", [True, False])
def test_meuse_log_zinc_at_ten_places(meuse: Any, exact: bool) -> None:
    mean, variance = krige(meuse.xy, meuse.log_zinc, TEN[:, :2], exact=exact, **MEUSE_MODEL)
    assert mean == pytest.approx(TEN[:, 2], abs=2e-6)
    assert variance == pytest.approx(TEN[:, 3], abs=2e-6)


def test_meuse_probability_of_zinc_above_500(meuse: Any) -> None:
    mean, variance = krige(meuse.xy, meuse.log_zinc, TEN[:, :2], **MEUSE_MODEL)
    probability = exceedance_probability(mean, np.sqrt(variance), np.log(500))
    assert probability == pytest.approx(TEN[:, 4], abs=2e-6)


def test_meuse_exponential_model_by_gstat(meuse: Any) -> None:
    # R package gstat 2.1.0, 0.05 + 0.6 (1 - exp(-h / 300)): a practical range of 900 m
    mean, variance = krige(
        meuse.xy, meuse.log_zinc, TEN[:, :2],
        model="exponential", nugget=0.05, psill=0.6, range_=900,
    )  # fmt: skip
    assert mean == pytest.approx(
        [6.292948, 5.263082, 5.391455, 5.162780, 5.337978, 5.212505, 5.624446, 5.253838, 5.565771,
         6.081440], abs=2e-6
    )  # fmt: skip
    assert variance == pytest.approx(
        [0.494665, 0.217762, 0.348582, 0.254821, 0.223825, 0.185784, 0.212579, 0.192547, 0.167493,
         0.583870], abs=2e-6
    )  # fmt: skip


def test_a_pure_nugget_is_the_mean(meuse: Any) -> None:
    # analytic, c0 (1 + 1/n); R package gstat 2.1.0 prints the same
    mean, variance = krige(
        meuse.xy, meuse.log_zinc, TEN[:1, :2], model="spherical", nugget=0.5, psill=0, range_=900
    )
    assert mean[0] == pytest.approx(5.885776, abs=1e-6)
    assert variance[0] == pytest.approx(0.503225806, abs=1e-9)


def test_the_nugget_at_a_datum_in_both_modes(meuse: Any) -> None:
    rows = meuse.xy[:3]
    mean, variance = krige(meuse.xy, meuse.log_zinc, rows, exact=True, **MEUSE_MODEL)
    assert mean == pytest.approx([6.929517, 7.039660, 6.461468], abs=1e-6)  # log of the data
    assert variance == pytest.approx(0, abs=1e-12)
    # the nugget as measurement error: PyKrige and GSTools agree on these
    mean, variance = krige(meuse.xy, meuse.log_zinc, rows, exact=False, **MEUSE_MODEL)
    assert mean == pytest.approx([6.884401, 6.960951, 6.415781], abs=2e-6)
    assert variance == pytest.approx([0.087151, 0.086721, 0.087288], abs=2e-6)


def test_meuse_leave_one_out_scores(meuse: Any) -> None:
    # R package gstat 2.1.0, krige.cv; Dubrule (1983) gives the same to 1e-10
    variogram = Variogram("spherical", 0.05066243, 0.59060780, 897.0209)
    scores = leave_one_out_kriging(meuse.xy, meuse.log_zinc, variogram)
    assert scores.n == 155
    assert scores.mean_error == pytest.approx(-2.073585e-5, abs=1e-8)
    assert scores.rmse == pytest.approx(0.3918035064, abs=1e-8)
    assert np.abs(scores.residuals).mean() == pytest.approx(0.2921515, abs=1e-6)
    assert scores.mean_squared_standardised == pytest.approx(0.8185455566, abs=1e-8)
    assert scores.residuals[:5] == pytest.approx(
        [0.161260, 0.273061, 0.164890, -0.490239, 0.012524], abs=1e-6
    )
    predicted = meuse.log_zinc - scores.residuals
    assert np.corrcoef(meuse.log_zinc, predicted)[0, 1] == pytest.approx(0.839347777, abs=1e-8)


def test_meuse_leave_one_out_scores_of_idw(meuse: Any) -> None:
    # R package gstat 2.1.0, IDW of zinc, power 2
    scores = leave_one_out_idw(meuse.xy, meuse.zinc, power=2)
    assert scores.mean_error == pytest.approx(1.158558, abs=1e-5)
    assert scores.rmse == pytest.approx(278.273379, abs=1e-5)
    assert np.abs(scores.residuals).mean() == pytest.approx(204.443271, abs=1e-5)
