"""PyKrige agrees with our straight-line kriging, and would be seen to disagree."""

from __future__ import annotations

import numpy as np
import pytest

from hgmap.field import crosscheck
from hgmap.field.crosscheck import second_opinion
from hgmap.field.variogram import Variogram

XY = np.random.default_rng(3).uniform(0, 20, (25, 2))
VALUES = np.log(1.0 + XY[:, 0]) + np.random.default_rng(4).normal(0, 0.2, 25)
TARGETS = np.random.default_rng(5).uniform(0, 20, (500, 2))


@pytest.mark.parametrize("model", ["spherical", "exponential", "gaussian"])
def test_both_engines_give_the_same_numbers(model: str) -> None:
    fit = Variogram(model, 0.05, 0.6, 9.0)  # type: ignore[arg-type]
    opinion = second_opinion(XY, VALUES, TARGETS, log=True, variogram=fit)
    assert opinion is not None
    assert opinion.points == 40
    assert opinion.largest_mean_difference < 1e-8
    assert opinion.largest_variance_difference < 1e-8


def test_a_wrong_engine_is_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    right = crosscheck.krige
    monkeypatch.setattr(
        crosscheck, "krige", lambda *a, **k: tuple(x + 0.01 for x in right(*a, **k))
    )
    opinion = second_opinion(XY, VALUES, TARGETS, log=True)
    assert opinion is not None
    assert opinion.largest_mean_difference == pytest.approx(0.01, rel=1e-3)


def test_two_readings_at_one_place_are_one_to_both() -> None:
    random = np.random.default_rng(1)
    xy, values = random.uniform(0, 10, (9, 2)), random.normal(size=9)
    xy[3] = xy[7]
    found = second_opinion(xy, values, random.uniform(0, 10, (20, 2)), log=False)
    assert found is not None
    assert found.largest_mean_difference < 1e-9
