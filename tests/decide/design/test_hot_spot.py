"""The chance that a grid finds a hot spot, against laws; published values stand in outside/."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.decide.design.hot_spot import (
    circle_probability,
    detection_probability,
    points_for,
    spacing_for,
    spacing_of_points,
)
from hgmap.decide.design.lattice import (
    GRID_SHAPES,
    GridShape,
    covered_share,
    covering_radius,
    steps_of,
)
from hgmap.errors import EstimateError

grids = st.sampled_from(sorted(GRID_SHAPES))
ratios = st.floats(0.01, 3.0)
aspects = st.floats(0.1, 1.0)


@given(grids, ratios, st.floats(1.0, 3.0), aspects)
@settings(max_examples=20, deadline=None)
def test_a_denser_grid_never_finds_less(
    grid: GridShape, ratio: float, denser: float, aspect: float
) -> None:
    wide = detection_probability(grid, spacing_m=1.0, radius_m=ratio, aspect=aspect)
    dense = detection_probability(grid, spacing_m=1.0 / denser, radius_m=ratio, aspect=aspect)
    assert 0.0 <= wide <= dense + 1e-12
    assert dense <= 1.0


@given(grids, st.floats(0.1, 1.5), aspects, st.floats(0.5, 1.0))
@settings(max_examples=20, deadline=None)
def test_a_rounder_hot_spot_is_never_found_less(
    grid: GridShape, ratio: float, aspect: float, thinner: float
) -> None:
    round_one = detection_probability(grid, spacing_m=1.0, radius_m=ratio, aspect=aspect)
    thin = detection_probability(grid, spacing_m=1.0, radius_m=ratio, aspect=aspect * thinner)
    assert thin <= round_one + 1e-12


@given(grids, st.floats(0.01, 1.3))
def test_the_two_ways_to_a_circle_agree(grid: GridShape, ratio: float) -> None:
    assert covered_share(steps_of(grid), ratio) == pytest.approx(
        circle_probability(grid, ratio), abs=1e-12
    )


@given(
    st.lists(st.floats(-2, 2), min_size=4, max_size=4).filter(
        lambda s: abs(s[0] * s[3] - s[1] * s[2]) > 0.5
    ),
    st.floats(0.05, 1.5),
)
@settings(max_examples=15, deadline=None)
def test_the_share_near_any_grid_is_that_of_counted_cells(
    numbers: list[float], radius: float
) -> None:
    steps = np.array(numbers).reshape(2, 2)
    at = (np.arange(60) + 0.5) / 60
    share = np.stack(np.meshgrid(at, at), axis=-1).reshape(-1, 2)
    near = np.full(len(share), np.inf)
    # steps of up to 2.9 whose cell is at least 0.5: nine of each reach a radius of 1.5
    for i in range(-9, 10):
        for j in range(-9, 10):
            near = np.minimum(near, np.hypot(*((share - [i, j]) @ steps).T))
    assert covered_share(steps, radius) == pytest.approx((near <= radius).mean(), abs=0.03)


@given(st.floats(-0.49, 0.49), st.floats(0.9, 1.5), st.floats(0.9, 0.999), st.integers(-2, 2))
def test_a_skew_grid_is_the_circle_less_the_lenses_of_its_three_shortest_steps(
    lean: float, high: float, part: float, sheared: int
) -> None:
    a, b = np.array([1.0, 0.0]), np.array([lean, high])
    third = b - np.copysign(1.0, lean) * a
    sides = [float(np.hypot(*one)) for one in (a, b, third)]
    around = math.prod(sides) / (2 * high)  # radius of the circle through three neighbours
    assert covering_radius(np.array([a, b])) == pytest.approx(around)
    radius = part * around

    def lens(apart: float) -> float:
        if apart >= 2 * radius:
            return 0.0
        half = math.acos(apart / (2 * radius))
        return radius**2 * (2 * half - math.sin(2 * half))

    share = (math.pi * radius**2 - sum(lens(one) for one in sides)) / high
    # however the steps of the grid are chosen
    steps = np.array([a, b + sheared * a])
    assert covered_share(steps, radius) == pytest.approx(share, abs=1e-9)


@given(grids, st.floats(0.05, 1.0), st.floats(0.2, 20.0), st.floats(0.3, 1.0))
@settings(max_examples=8, deadline=None)
def test_the_spacing_for_a_chance_has_that_chance(
    grid: GridShape, probability: float, radius: float, aspect: float
) -> None:
    spacing = spacing_for(grid, radius_m=radius, probability=probability, aspect=aspect)
    found = detection_probability(grid, spacing_m=spacing, radius_m=radius, aspect=aspect)
    assert found == pytest.approx(probability, abs=1e-6)


@given(st.sampled_from(["square", "triangular"]), st.floats(0.1, 0.5), aspects)
@settings(max_examples=25, deadline=None)
def test_ellipses_that_cannot_overlap_are_found_by_their_area(
    grid: GridShape, ratio: float, aspect: float
) -> None:
    area = 1.0 if grid == "square" else math.sqrt(3) / 2
    assert detection_probability(
        grid, spacing_m=1.0, radius_m=ratio, aspect=aspect
    ) == pytest.approx(math.pi * aspect * ratio**2 / area, abs=1e-9)


def test_a_certain_find_has_the_spacing_whose_farthest_place_is_a_radius_away() -> None:
    assert spacing_for("square", radius_m=1.0, probability=1.0) == pytest.approx(math.sqrt(2))
    assert spacing_for("triangular", radius_m=1.0, probability=1.0) == pytest.approx(math.sqrt(3))


@pytest.mark.parametrize("grid", sorted(GRID_SHAPES))
def test_points_and_spacing_are_each_others_inverse(grid: GridShape) -> None:
    spacing = spacing_of_points(grid, points=37, area_m2=512.0)
    assert points_for(grid, spacing_m=spacing, area_m2=512.0) == pytest.approx(37)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ({"spacing_m": 0.0, "radius_m": 1.0}, "spacing of 0"),
        ({"spacing_m": math.nan, "radius_m": 1.0}, "spacing of nan"),
        ({"spacing_m": 1.0, "radius_m": -1.0}, "radius of a hot spot of -1"),
        ({"spacing_m": 1.0, "radius_m": 1.0, "aspect": 1.5}, "aspect of 1.5"),
    ],
)
def test_what_is_no_length_is_refused(arguments: dict[str, float], says: str) -> None:
    with pytest.raises(EstimateError, match=says):
        detection_probability("square", **arguments)


def test_an_unknown_grid_and_an_impossible_chance_are_refused() -> None:
    with pytest.raises(EstimateError, match="no grid is called 'hexagonal'"):
        detection_probability("hexagonal", spacing_m=1.0, radius_m=1.0)  # type: ignore[arg-type]
    with pytest.raises(EstimateError, match=r"probability of 1\.1"):
        spacing_for("square", radius_m=1.0, probability=1.1)
    with pytest.raises(EstimateError, match="0 points"):
        spacing_of_points("square", points=0, area_m2=1.0)
