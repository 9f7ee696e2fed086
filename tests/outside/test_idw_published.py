"""Inverse distance weighting against a published example and other programs' output."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from hgmap.field.idw import idw

# Isaaks and Srivastava (1989), An Introduction to Applied Geostatistics, ch. 11, around (65, 137)
PLACES = [(61, 139), (63, 140), (64, 129), (68, 128), (71, 140), (73, 141), (75, 128)]
PPM = np.array([477.0, 696, 227, 646, 606, 791, 783])


@pytest.mark.parametrize(
    ("power", "estimate"),
    [
        # computed separately for the project's notes
        (0.2, 600.610857),
        (0.5, 597.017078),
        (1, 593.953671),
        (2, 597.620376),
        (5, 635.374780),
        (10, 672.993433),
    ],
)
def test_the_seven_samples_at_several_powers(power: float, estimate: float) -> None:
    assert idw(PLACES, PPM, [(65, 137)], power=power)[0] == pytest.approx(estimate, abs=1e-6)


@pytest.mark.parametrize(("power", "printed"), [(1, 594), (2, 598)])
def test_the_seven_samples_as_the_book_prints_them(power: float, printed: float) -> None:
    # Isaaks and Srivastava (1989), ch. 11 (values from memory)
    assert idw(PLACES, PPM, [(65, 137)], power=power)[0] == pytest.approx(printed, abs=0.5)


def test_a_power_near_zero_is_the_plain_mean() -> None:
    # Isaaks and Srivastava (1989), ch. 11: 603.7 ppm (value from memory)
    assert idw(PLACES, PPM, [(65, 137)], power=1e-9)[0] == pytest.approx(603.7, abs=0.05)


@pytest.mark.parametrize(
    ("power", "weights"),
    [
        # computed separately for the project's notes
        (1, [0.209840, 0.260275, 0.116398, 0.098920, 0.139893, 0.104920, 0.069753]),
        (2, [0.258177, 0.397195, 0.079439, 0.057373, 0.114745, 0.064544, 0.028528]),
    ],
)
def test_the_weights(power: float, weights: list[float]) -> None:
    # the estimate is linear in the values, so a value of 1 among zeros shows its weight
    shown = [idw(PLACES, unit, [(65, 137)], power=power)[0] for unit in np.eye(7)]
    assert shown == pytest.approx(weights, abs=1e-6)


# Ten places by R package gstat 2.1.0 (scikit-learn's distance-weighted neighbours agree):
# x, y, zinc (mg/kg) by powers 1, 2, 3.
TEN = np.array(
    [
        (178605, 329900, 466.523644, 504.789414, 601.810077),
        (179180, 330100, 391.402180, 269.749789, 207.913149),
        (179660, 330640, 416.489198, 343.683175, 279.113430),
        (179900, 331000, 389.374430, 282.434202, 232.104712),
        (180180, 331500, 391.755441, 283.796531, 249.911238),
        (180460, 332000, 422.104297, 281.202867, 208.942505),
        (180740, 332300, 444.307221, 361.477036, 325.711608),
        (181020, 332700, 390.374399, 250.852924, 197.837648),
        (181300, 333300, 405.068522, 294.459376, 271.475879),
        (180000, 330000, 447.421480, 455.450910, 514.288485),
    ]
)


@pytest.mark.parametrize("power", [1, 2, 3])
def test_meuse_zinc_at_ten_places(meuse: Any, power: int) -> None:
    estimate = idw(meuse.xy, meuse.zinc, TEN[:, :2], power=power)
    assert estimate == pytest.approx(TEN[:, 1 + power], abs=1e-5)
