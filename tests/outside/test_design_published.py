"""Sampling design against published numbers and closed forms.

Numbers of a book or manual that were not read in it here are marked "value from memory".
"""

from __future__ import annotations

import math

import pytest

from hgmap.decide.design.hot_spot import (
    circle_probability,
    detection_probability,
    points_for,
    spacing_for,
    spacing_of_points,
)
from hgmap.decide.design.lattice import GridShape
from hgmap.decide.design.sample_size import (
    finite_population_samples,
    mean_test_samples,
    rank_sum_samples,
    sign_test_samples,
    tolerance_samples,
)

# Closed form, written out here by hand from Gilbert 1987 (ch. 10) geometry and checked by 2e6-point
# Monte Carlo to 5e-4 outside hgmap: chance by radius over spacing.
CIRCLES: dict[GridShape, dict[float, float]] = {
    "square": {0.1: 0.031416, 0.25: 0.196350, 0.3: 0.282743, 0.4: 0.502655, 0.5: 0.785398,
               0.55: 0.888653, 0.6: 0.950911, 0.65: 0.986545, 0.7: 0.999797},
    "triangular": {0.25: 0.226725, 0.3: 0.326484, 0.4: 0.580416, 0.5: 0.906900, 0.52: 0.954412,
                   0.55: 0.990517, 0.57: 0.999343},
    "rectangle": {0.5: 0.392699, 0.6: 0.520471, 0.7: 0.634794, 0.8: 0.744334, 0.9: 0.851281,
                  1.0: 0.956611, 1.1: 0.999172},
}  # fmt: skip

# Radius over spacing by the chance to miss, from the same closed form.
MISSED = (0.5, 0.4, 0.3, 0.2, 0.1, 0.05, 0.01)
RATIOS: dict[GridShape, tuple[float, ...]] = {
    "square": (0.39894, 0.43702, 0.47203, 0.50527, 0.55751, 0.59905, 0.65776),
    "triangular": (0.37126, 0.40669, 0.43928, 0.46961, 0.49809, 0.51758, 0.54929),
    "rectangle": (0.58282, 0.66897, 0.75917, 0.85182, 0.94610, 0.99369, 1.05708),
}

# Midpoint quadrature outside hgmap, 180 angles x 200² places, +-0.001: chance by aspect for
# semi-major axes of 0.3, 0.5, 0.7 and 0.9 spacings.
ELLIPSES: dict[tuple[GridShape, float], tuple[float, ...]] = {
    ("square", 0.8): (0.2262, 0.6283, 0.9779, 1.0),
    ("square", 0.5): (0.1414, 0.3927, 0.7129, 0.9476),
    ("square", 0.2): (0.0565, 0.1571, 0.3000, 0.4656),
    ("triangular", 0.8): (0.2612, 0.7255, 1.0, 1.0),
    ("triangular", 0.5): (0.1633, 0.4535, 0.7904, 0.9909),
    ("triangular", 0.2): (0.0653, 0.1814, 0.3419, 0.5242),
}


@pytest.mark.parametrize("grid", sorted(CIRCLES))
def test_circles_are_found_as_the_closed_form_has_it(grid: GridShape) -> None:
    for ratio, chance in CIRCLES[grid].items():
        assert circle_probability(grid, ratio) == pytest.approx(chance, abs=1e-6)


@pytest.mark.parametrize("ratio", [0.55, 0.6, 0.65, 0.7])
def test_the_square_is_the_closed_form_with_its_two_branches(ratio: float) -> None:
    # r² (π - 4 acos(1 / 2r)) + sqrt(4 r² - 1), for 1/2 < r < 1/sqrt 2 (analytic)
    chance = ratio**2 * (math.pi - 4 * math.acos(1 / (2 * ratio))) + math.sqrt(4 * ratio**2 - 1)
    assert circle_probability("square", ratio) == pytest.approx(chance, abs=1e-12)


@pytest.mark.parametrize("grid", sorted(RATIOS))
def test_the_spacing_for_a_chance_to_miss_is_that_of_the_curves(grid: GridShape) -> None:
    for missed, ratio in zip(MISSED, RATIOS[grid], strict=True):
        spacing = spacing_for(grid, radius_m=1.0, probability=1 - missed)
        assert 1 / spacing == pytest.approx(ratio, abs=1e-5)


def test_the_books_example_of_a_square_grid() -> None:
    # Gilbert 1987, example 10.1 and figure 10.3: circle of 100 cm, chance to miss 0.1: read off as
    # L/G = 0.56, so G = 180 cm (value from memory); the curve is read to two figures
    spacing = spacing_for("square", radius_m=1.0, probability=0.9)
    assert 1 / spacing == pytest.approx(0.56, abs=0.005)
    assert spacing == pytest.approx(1.80, abs=0.01)


def test_spacing_and_points_for_a_circle_of_one_metre() -> None:
    # the closed form at 95 %, and 200 m² over the area of a cell of the grid
    square = spacing_for("square", radius_m=1.0, probability=0.95)
    triangular = spacing_for("triangular", radius_m=1.0, probability=0.95)
    # each is one over a ratio of five figures: 1 / 0.59905 and 1 / 0.51758
    assert square == pytest.approx(1.66931, abs=2e-5)
    assert triangular == pytest.approx(1.93207, abs=2e-5)
    assert points_for("square", spacing_m=square, area_m2=200) == pytest.approx(71.8, abs=0.05)
    found = points_for("triangular", spacing_m=triangular, area_m2=200)
    assert found == pytest.approx(61.9, abs=0.05)


@pytest.mark.parametrize(("grid", "aspect"), sorted(ELLIPSES))
def test_ellipses_in_any_direction_are_found_as_by_quadrature(
    grid: GridShape, aspect: float
) -> None:
    for major, chance in zip((0.3, 0.5, 0.7, 0.9), ELLIPSES[grid, aspect], strict=True):
        found = detection_probability(grid, spacing_m=1.0, radius_m=major, aspect=aspect)
        assert found == pytest.approx(chance, abs=0.001)


ERRORS = ((0.01, 0.01), (0.05, 0.05), (0.05, 0.10), (0.10, 0.10), (0.25, 0.25))


# NUREG-1575 rev. 1 (MARSSIM), eq. 5-2. The first row is that of its table 5.5 (value from memory);
# the others were computed from the equation outside hgmap.
@pytest.mark.parametrize(
    ("shift", "samples"),
    [
        (0.1, (4095, 2048, 1620, 1244, 345)),
        (0.5, (178, 89, 71, 54, 16)),
        (1.0, (57, 29, 23, 18, 5)),
        (1.5, (35, 18, 15, 11, 4)),
        (2.0, (29, 15, 12, 10, 3)),
        (3.0, (27, 14, 11, 9, 3)),
    ],
)
def test_the_sign_test_takes_the_manuals_numbers(shift: float, samples: tuple[int, ...]) -> None:
    found = tuple(sign_test_samples(shift, alpha=a, beta=b) for a, b in ERRORS)
    assert found == samples


# NUREG-1575 rev. 1, eq. 5-1; computed outside hgmap.
@pytest.mark.parametrize(
    ("shift", "samples"), [(1.0, (64, 32, 26)), (2.0, (25, 13, 10)), (3.0, (19, 10, 8))]
)
def test_the_rank_sum_test_takes_the_manuals_numbers(
    shift: float, samples: tuple[int, ...]
) -> None:
    found = tuple(rank_sum_samples(shift, alpha=a, beta=b) for a, b in ERRORS[:3])
    assert found == samples


def test_the_manuals_rank_sum_table_follows_from_its_printed_chance() -> None:
    # NUREG-1575 rev. 1, tables 5.1 and 5.3 at 0.1: printed 0.528182 and 5452 2726 2157 459 (values
    # from memory); the exact chance is 0.528186 and gives up to two fewer
    some = (*ERRORS[:3], ERRORS[4])
    printed = [rank_sum_samples(0.1, alpha=a, beta=b, probability=0.528182) for a, b in some]
    exact = [rank_sum_samples(0.1, alpha=a, beta=b) for a, b in some]
    assert printed == [5452, 2726, 2157, 459]
    assert exact == [5450, 2725, 2156, 459]


def test_the_grid_for_a_number_of_points() -> None:
    # sqrt(A / n) and sqrt(A / (0.866 n)) for 1000 m² and 20 points (NUREG-1575 rev. 1, section 5.5)
    assert spacing_of_points("square", points=20, area_m2=1000) == pytest.approx(7.0711, abs=1e-4)
    found = spacing_of_points("triangular", points=20, area_m2=1000)
    assert found == pytest.approx(7.5984, abs=1e-4)
    assert found == pytest.approx(math.sqrt(1000 / (0.866 * 20)), rel=1e-4)


# Wilks 1941; 59, 93 and 124 are the textbook numbers, the others analytic: 1 - p^n >= confidence.
@pytest.mark.parametrize(
    ("coverage", "confidence", "failures", "samples"),
    [
        (0.95, 0.95, 0, 59),
        (0.95, 0.95, 1, 93),
        (0.95, 0.95, 2, 124),
        (0.99, 0.95, 0, 299),
        (0.90, 0.95, 0, 29),
        (0.95, 0.90, 0, 45),
    ],
)
def test_tolerance_statements_take_the_textbook_numbers(
    coverage: float, confidence: float, failures: int, samples: int
) -> None:
    assert tolerance_samples(coverage, confidence, failures=failures) == samples


# Hypergeometric, no failure; computed from binomial coefficients outside hgmap.
@pytest.mark.parametrize(
    ("population", "defects", "confidence", "samples"),
    [(100, 5, 0.95, 45), (50, 5, 0.90, 18), (200, 10, 0.95, 51), (20, 1, 0.95, 19)],
)
def test_a_finite_number_of_things(
    population: int, defects: int, confidence: float, samples: int
) -> None:
    assert finite_population_samples(population, defects, confidence) == samples


def test_planning_a_t_test_of_the_mean() -> None:
    # EPA QA/G-9S 2006, one-sample t test: s = 10.41, alpha 0.05, beta 0.20, delta 10: 8.06, so 9
    # (value from memory); with s = 10.405006 unrounded the equation gives 8.046
    planned = mean_test_samples(10.41, 10.0, alpha=0.05, beta=0.20)
    assert planned.n == 9
    assert planned.unrounded == pytest.approx(8.06, abs=0.01)
    unrounded = mean_test_samples(10.405006, 10.0, alpha=0.05, beta=0.20).unrounded
    assert unrounded == pytest.approx(8.046, abs=1e-3)
