"""The horseshoe is the published one, and scores are what they say."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from tests.truth.horseshoe import (
    SHARED,
    SOAP_FILM,
    is_inside,
    make_floor,
    make_readings,
    nodes,
    shared_readings,
    truth,
)
from tests.truth.scores import score, table


def test_the_truth_is_that_of_the_formula() -> None:
    # Wood, Bravington and Hedley (2008): a + d² by hand, q = pi / 4
    quarter = np.pi / 4
    xy = np.array([[0, 0.5], [0, -0.5], [2, 0.7], [2, -0.9], [-0.5, 0], [-0.3, 0.3]])
    diagonal = quarter / 2 + (0.3 * np.sqrt(2) - 0.5) ** 2
    expected = [quarter, -quarter, quarter + 2.04, -quarter - 1.84, 0.0, diagonal]
    assert truth(xy) == pytest.approx(expected, abs=1e-12)


def test_the_arms_differ_most_at_their_tips_and_the_bend_joins_them() -> None:
    upper, lower = truth(np.array([[3.0, 0.15], [3.0, -0.15]]))
    assert upper - lower == pytest.approx(2 * (np.pi / 4 + 3))
    angle = np.linspace(0.5 * np.pi, 1.5 * np.pi, 721)
    bend = truth(0.7 * np.column_stack([np.cos(angle), np.sin(angle)]))
    assert np.abs(np.diff(bend)).max() < 1.01 * 0.5 * np.pi / 720


def test_there_are_as_many_nodes_as_the_rivals_were_scored_on() -> None:
    assert len(nodes()) == 16_383


def test_the_polygon_is_where_the_formula_is() -> None:
    (room,) = make_floor().rooms
    assert room.polygon.is_valid
    # two arms of 3 by 0.8, half a ring from 0.1 to 0.9, two half discs of 0.4
    area = 4.8 + np.pi * (0.9**2 - 0.1**2) / 2 + np.pi * 0.4**2
    assert room.polygon.area == pytest.approx(area, rel=1e-3)
    xy = np.random.default_rng(0).uniform([-1, -1], [3.6, 1], (20_000, 2))
    clear = shapely.distance(room.polygon.boundary, shapely.points(xy)) > 1e-3
    assert np.array_equal(shapely.contains_xy(room.polygon, xy)[clear], is_inside(xy)[clear])


def test_own_readings_are_seeded_and_inside() -> None:
    one, other = make_readings(150, 0.3, 1), make_readings(150, 0.3, 2)
    assert np.array_equal(one.values, make_readings(150, 0.3, 1).values)
    assert not np.array_equal(one.xy, other.xy)
    assert is_inside(one.xy).all()
    assert np.std(one.values - truth(one.xy)) == pytest.approx(0.3, rel=0.2)


def test_the_shared_reading_sets_are_of_this_truth() -> None:
    sets = shared_readings()
    if sets is None:
        pytest.skip(f"{SHARED.parent.name}/{SHARED.name} of the horseshoe is not beside the "
                    "repository")  # fmt: skip
    assert set(sets) == set(SOAP_FILM)
    for (n, noise_sd), row in sets.items():
        errors = np.concatenate([one.values - truth(one.xy) for one in row])
        assert [len(one.xy) for one in row] == [n] * 5
        assert errors.std() == pytest.approx(noise_sd, rel=0.15)
        mean = np.mean([one.soap_film for one in row])
        assert mean == pytest.approx(SOAP_FILM[n, noise_sd], rel=0.15)


def test_a_score_is_of_the_targets_that_have_an_estimate() -> None:
    truth_there = np.array([0.0, 0.0, 0.0, 5.0])
    mean, sd = np.array([3.0, -4.0, 0.0, np.nan]), np.array([1.6, 1.6, 1.6, 1.6])
    found = score(mean, sd, truth_there)
    assert found.rmse == pytest.approx(5 / np.sqrt(3))
    assert found.coverage == pytest.approx(2 / 3)  # 1.96 x 1.6 = 3.14
    assert found.no_data == 0.25
    assert np.isnan(score(mean, None, truth_there).coverage)
    assert np.isnan(score(np.full(4, np.nan), sd, truth_there).rmse)


def test_an_honest_interval_covers_95_percent() -> None:
    errors = np.random.default_rng(1).normal(size=100_000)
    found = score(2.0 * errors, np.full(100_000, 2.0), np.zeros(100_000))
    assert found.coverage == pytest.approx(0.95, abs=0.003)


def test_a_table_lines_up() -> None:
    assert table(("method", "n"), [("a", "10"), ("longer one", "5")]) == (
        "method       n\n----------  --\na           10\nlonger one   5"
    )
