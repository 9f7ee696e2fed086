"""Clearance statistics against published examples, tables and other programs' results.

"Value from memory" marks a published number that was not read again; where a second number stands
beside it, that one was worked out from the published data by another program.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from hgmap.decide.clearance.bootstrap import acceleration, bca_limits
from hgmap.decide.clearance.censored import (
    KaplanMeier,
    LognormalFit,
    RegressionOnOrder,
    censored_normal,
    exceedance_at_limits,
    kaplan_meier,
    lognormal_likelihood,
    robust_ros,
)
from hgmap.decide.clearance.distribution import shape_of
from hgmap.decide.clearance.en689 import ToleranceTest, screen, tolerance_test
from hgmap.decide.clearance.land import land_h, land_ucl
from hgmap.decide.clearance.sample import CannotTell
from hgmap.decide.clearance.tolerance import (
    clopper_pearson,
    exceedance_lognormal,
    samples_needed,
    tolerance_factor,
    utl_lognormal,
    utl_nonparametric,
)
from hgmap.decide.clearance.ucl import bca_ucl, chebyshev_ucl, student_t_ucl, ucl95
from hgmap.decide.clearance.ucl_others import (
    by_every_method,
    chebyshev_mvue_ucl,
    chen_ucl,
    johnson_t_ucl,
    mvue,
)

# US EPA OSWER 9285.7-08I, Calculating the Concentration Term (1992): chromium, mg/kg
CHROMIUM = [10, 13, 20, 36, 41, 59, 67, 110, 110, 136, 140, 160, 200, 230, 1300]
# US EPA OSWER 9285.6-10 (2002), example for Student's t
STUDENT = [228, 552, 645, 208, 755, 553, 674, 151, 251, 315, 731, 466, 261, 240, 411, 368, 492,
           302, 438, 751, 304, 368, 376, 634, 810]  # fmt: skip
# US EPA OSWER 9285.6-10 (2002), example for Land's H
LAND = [2.8, 22.9, 3.3, 4.6, 8.7, 30.4, 12.2, 2.5, 5.7, 26.3, 5.4, 6.1, 5.2, 1.8, 7.2, 3.4, 12.4,
        0.8, 10.3, 11.4, 38.2, 5.6, 14.1, 12.3, 6.8, 3.3, 5.2, 2.1, 19.7, 3.9, 2.8]  # fmt: skip
# Efron and Tibshirani, An Introduction to the Bootstrap (1993), chapter 14: spatial test, A
SPATIAL = [48, 36, 20, 29, 42, 42, 20, 42, 22, 41, 45, 14, 6, 0, 33, 28, 34, 4, 32, 24, 47, 41, 24,
           26, 30, 41]  # fmt: skip
# R package boot, data set aircondit
AIR_CONDITIONING = [3, 5, 7, 18, 43, 85, 91, 98, 100, 130, 230, 487]
# Shapiro and Wilk, Biometrika 52 (1965) 591: weights of eleven men, pounds
WEIGHTS = [148, 154, 158, 160, 161, 162, 166, 170, 182, 195, 236]
EXPOSURES = [0.16, 0.38, 0.20, 0.44, 0.51, 0.60, 0.35, 0.70]  # invented; limit 1.5


def censored(text: str) -> tuple[list[float], list[bool]]:
    """Read ``"3 <1x6"``: a detect of 3 and six non-detects at 1."""
    values: list[float] = []
    detect: list[bool] = []
    for word in text.split():
        number, _, times = word.removeprefix("<").partition("x")
        count = int(times or 1)
        values += [float(number)] * count
        detect += [not word.startswith("<")] * count
    return values, detect


# Helsel, Nondetects and Data Analysis (2005): arsenic in streams of Oahu
OAHU = censored("3.2 2.8 <2x8 1.7 1.5 <1x4 .9 <.9 .7 .7 .6 .5 .5 .5")
# Helsel (2005), Appendix B
APPENDIX_B = censored("<1x6 <10x3 3 7 9 12 15 20 27 33 50")
# statsmodels, tests of its regression on order statistics: basic data
BASIC = censored(
    "2 4.2 4.62 <5 <5 <5.5 5.57 5.66 <5.75 5.86 6.65 6.78 6.79 7.5x3 8.63 8.71 8.99 <9.5 <9.5 9.85 "
    "10.82 <11 11.25x2 12.2 14.92 16.77 17.81 19.16 19.19 19.64 20.18 22.97"
)
# US EPA QA/G-9 (2000), Cohen's method: sulfate, detection limit 1450
SULFATE = censored(
    "1800 1840 1820 1860 1780 1760 1800 1900 1770 1790 1780 1850 1760 1710 1575 1475 1780 1790 "
    "1780 1790 1800 <1450x3"
)


def km_of(data: tuple[list[float], list[bool]]) -> KaplanMeier:
    found = kaplan_meier(*data, below="lowest limit")
    assert isinstance(found, KaplanMeier)
    return found


def ros_of(data: tuple[list[float], list[bool]]) -> RegressionOnOrder:
    found = robust_ros(*data)
    assert isinstance(found, RegressionOnOrder)
    return found


def fit_of(data: tuple[list[float], list[bool]]) -> LognormalFit:
    found = lognormal_likelihood(*data)
    assert isinstance(found, LognormalFit)
    return found


# --- upper limits of the mean ------------------------------------------------------------------


def test_the_chromium_of_1992_has_the_published_land_limit() -> None:
    # published from rounded mean ln 4.38, sd 1.25, H 3.163: 502 (values from memory); unrounded
    # 496.628 by quadrature outside this project
    assert land_h(1.25, 15) == pytest.approx(3.163, abs=0.0006)
    rounded = math.exp(4.38 + 1.25**2 / 2 + 1.25 * land_h(1.25, 15) / math.sqrt(14))
    assert rounded == pytest.approx(502, abs=0.5)
    assert land_ucl(CHROMIUM) == pytest.approx(496.628169, rel=1e-7)


def test_the_chromium_of_1992_has_the_same_other_limits() -> None:
    # worked out from the published data outside this project
    assert student_t_ucl(CHROMIUM) == pytest.approx(320.330377, rel=1e-8)
    for confidence, limit in ((0.95, 533.976087), (0.975, 689.103400), (0.99, 993.820966)):
        assert chebyshev_ucl(CHROMIUM, confidence) == pytest.approx(limit, rel=1e-8)
    shape = shape_of(CHROMIUM)
    assert shape.name == "lognormal"
    assert shape.p_lognormal == pytest.approx(0.704875, abs=2e-6)  # scipy and R agree
    assert shape.skewness == pytest.approx(3.572281, abs=1e-6)
    assert ucl95(CHROMIUM, [True] * 15).method == "Land's H"


def test_the_chromium_of_1992_has_the_limits_of_other_methods() -> None:
    # worked out from the published data outside this project
    assert johnson_t_ucl(CHROMIUM) == pytest.approx(332.974030, rel=1e-8)
    assert chen_ucl(CHROMIUM) == pytest.approx(391.811652, rel=1e-8)
    assert mvue(CHROMIUM) == pytest.approx((159.855185, 57.666611), rel=1e-8)
    for confidence, limit in ((0.95, 411.218114), (0.975, 519.983055), (0.99, 733.630719)):
        assert chebyshev_mvue_ucl(CHROMIUM, confidence) == pytest.approx(limit, rel=1e-8)
    found = by_every_method(CHROMIUM)
    assert found["Chebyshev (lognormal mean)"] == pytest.approx(411.218114, rel=1e-8)
    assert found["Land's H"] == pytest.approx(496.628169, rel=1e-7)
    assert len(found) == 8
    assert mvue(LAND) == pytest.approx((9.645457, 1.756316), rel=1e-6)
    assert chebyshev_mvue_ucl(LAND) == pytest.approx(17.301062, rel=1e-7)


def test_the_student_example_of_2002_has_the_published_limit() -> None:
    # published: mean 451, s 198, UCL 519 (values from memory); unrounded 518.932109
    assert student_t_ucl(STUDENT) == pytest.approx(519, abs=0.5)
    assert student_t_ucl(STUDENT) == pytest.approx(518.932109, rel=1e-8)
    assert chebyshev_ucl(STUDENT) == pytest.approx(623.516806, rel=1e-8)


def test_the_land_example_of_2002_has_the_published_limit() -> None:
    # published: ybar 1.8797, s .8995, UCL 14.4 (values from memory); unrounded 14.344092
    assert land_ucl(LAND) == pytest.approx(14.4, abs=0.1)
    assert land_ucl(LAND) == pytest.approx(14.344092, rel=1e-7)
    assert student_t_ucl(LAND) == pytest.approx(12.365845, rel=1e-7)
    assert chebyshev_ucl(LAND) == pytest.approx(16.713349, rel=1e-7)
    chosen = ucl95(LAND, [True] * len(LAND))
    assert chosen.method == "Land's H"
    assert chosen.value == pytest.approx(14.344092, rel=1e-7)


LAND_N = (3, 5, 7, 10, 12, 15, 21, 31, 51, 101)
# Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), table A12, worked out
# again by quadrature outside this project; rows .1 to .5 also equal the book's (from memory)
LAND_95 = {
    0.1: (2.750, 2.035, 1.886, 1.802, 1.775, 1.749, 1.722, 1.701, 1.684, 1.670),
    0.2: (3.295, 2.198, 1.993, 1.881, 1.843, 1.809, 1.771, 1.742, 1.718, 1.697),
    0.3: (4.109, 2.402, 2.125, 1.976, 1.927, 1.882, 1.832, 1.794, 1.761, 1.733),
    0.5: (6.495, 2.947, 2.465, 2.220, 2.141, 2.068, 1.989, 1.928, 1.875, 1.830),
    0.7: (9.120, 3.662, 2.904, 2.532, 2.414, 2.306, 2.191, 2.101, 2.025, 1.960),
    1.0: (13.054, 4.905, 3.698, 3.103, 2.915, 2.744, 2.564, 2.424, 2.306, 2.205),
    1.25: (16.329, 6.001, 4.426, 3.639, 3.390, 3.163, 2.923, 2.737, 2.580, 2.447),
    1.5: (19.602, 7.120, 5.184, 4.207, 3.896, 3.612, 3.311, 3.077, 2.881, 2.713),
    2.0: (26.145, 9.387, 6.747, 5.396, 4.962, 4.564, 4.141, 3.811, 3.533, 3.295),
    3.0: (39.227, 13.971, 9.945, 7.864, 7.191, 6.570, 5.907, 5.387, 4.947, 4.569),
    5.0: (65.387, 23.192, 16.426, 12.910, 11.767, 10.712, 9.579, 8.688, 7.929, 7.277),
}


@pytest.mark.parametrize("s", LAND_95)
def test_lands_h_is_that_of_the_table(s: float) -> None:
    found = [land_h(s, n) for n in LAND_N]
    np.testing.assert_allclose(found, LAND_95[s], rtol=0, atol=6e-4)


def test_lands_h_is_that_of_the_table_at_other_confidences() -> None:
    # Gilbert (1987), tables A10 to A13, by quadrature outside this project
    low = [land_h(0.1, n, 0.05) for n in LAND_N]
    expected = [-2.130, -1.806, -1.731, -1.690, -1.677, -1.666, -1.655, -1.648, -1.644, -1.642]
    np.testing.assert_allclose(low, expected, rtol=0, atol=6e-4)
    low = [land_h(1.0, n, 0.05) for n in LAND_N]
    expected = [-1.490, -1.562, -1.610, -1.658, -1.681, -1.707, -1.745, -1.784, -1.827, -1.874]
    np.testing.assert_allclose(low, expected, rtol=0, atol=6e-4)
    ninety = [land_h(1.0, n, 0.90) for n in LAND_N]
    expected = [5.955, 2.980, 2.450, 2.167, 2.073, 1.985, 1.889, 1.812, 1.745, 1.686]
    np.testing.assert_allclose(ninety, expected, rtol=0, atol=6e-4)


def test_lands_limit_holds_the_mean_as_often_as_it_says() -> None:
    # closed form: the mean of a lognormal is exp(mu + sigma^2 / 2); binomial error 0.0069
    draw = np.random.default_rng(5)
    held = [land_ucl(np.exp(draw.standard_normal(8))) >= math.exp(0.5) for _ in range(1000)]
    assert np.mean(held) == pytest.approx(0.95, abs=0.021)


def test_the_bootstrap_of_the_spatial_test_is_the_books() -> None:
    # book: a .061, 90 % BCa (115.8, 259.6) (values from memory); R's boot (116.2, 264.0)
    def variance(samples: np.ndarray) -> np.ndarray:
        return np.asarray(samples.var(axis=-1))

    assert float(variance(np.array(SPATIAL, float))) == pytest.approx(171.534, abs=5e-4)
    # of the mean it needs no jackknife, and is the same
    assert acceleration(CHROMIUM) == pytest.approx(
        acceleration(CHROMIUM, lambda samples: samples.mean(axis=-1)), rel=1e-12
    )
    assert acceleration(SPATIAL, variance) == pytest.approx(0.0612401, abs=1e-7)
    limits = bca_limits(SPATIAL, [0.05, 0.95], statistic=variance, resamples=40_000)
    np.testing.assert_allclose(np.asarray(limits), (115.8, 259.6), rtol=0, atol=5.0)


def test_the_bootstrap_limit_of_the_air_conditioning_data_is_rs() -> None:
    # R's boot, 50 000 replicates: 95 % BCa (56.9, 225.5), upper end of the 90 % one 203.4
    limit = bca_ucl(AIR_CONDITIONING)
    assert not isinstance(limit, CannotTell)
    assert limit == pytest.approx(203.4, abs=3.0)
    both = bca_limits(AIR_CONDITIONING, [0.025, 0.975], resamples=40_000)
    np.testing.assert_allclose(np.asarray(both), (56.9, 225.5), rtol=0, atol=3.0)


def test_the_bootstrap_limit_is_scipys() -> None:
    scipys = stats.bootstrap(
        (np.array(LAND),), np.mean, confidence_level=0.9, n_resamples=10_000, method="BCa", rng=3
    ).confidence_interval.high
    limit = bca_ucl(LAND)
    assert not isinstance(limit, CannotTell)
    assert limit == pytest.approx(float(scipys), rel=0.02)


def test_the_weights_of_eleven_men_are_not_normal() -> None:
    # Shapiro and Wilk (1965): W .79 (value from memory); p .006704 in scipy and in R
    assert shape_of(WEIGHTS).p_normal == pytest.approx(0.006704, abs=2e-6)


# --- tolerance ---------------------------------------------------------------------------------


def test_fifty_nine_readings_make_the_classic_statement() -> None:
    # Wilks 1941; 59, 93 and 124 are the textbook values
    assert [samples_needed(exceedances=one) for one in (0, 1, 2)] == [59, 93, 124]
    assert samples_needed(0.99) == 299
    assert samples_needed(0.90) == 29
    assert samples_needed(0.95, 0.90) == 45


@pytest.mark.parametrize(("n", "above"), [(59, 0), (92, 0), (93, 1), (123, 1), (124, 2)])
def test_the_nonparametric_limit_is_the_reading_with_so_many_above(n: int, above: int) -> None:
    # Wilks 1941, as above
    assert utl_nonparametric(np.arange(1.0, n + 1.0)) == n - above


@pytest.mark.parametrize(
    ("x", "n", "upper"),
    [(0, 10, 0.258866), (0, 20, 0.139108), (0, 30, 0.095034), (0, 59, 0.049508),
     (1, 59, 0.077898), (1, 93, 0.049994), (2, 124, 0.049900), (3, 100, 0.075711),
     (5, 60, 0.167263)],
)  # fmt: skip
def test_the_exact_limit_of_a_share_is_the_binomials(x: int, n: int, upper: float) -> None:
    # Clopper and Pearson 1934; closed form for x = 0: 1 - .05^(1/n)
    assert clopper_pearson(x, n)[1] == pytest.approx(upper, abs=5e-7)
    lower = clopper_pearson(x, n)[0]
    assert lower == 0.0 if x == 0 else stats.binom.sf(x - 1, n, lower) == pytest.approx(0.05)


# noncentral t outside this project; 5, 10, 15, 20, 25, 30, 40 and 50 also in Owen
# (1963), Hahn and Meeker table A.12 and Gilbert table A3, to three decimals (values from memory)
K_95_95 = {
    3: 7.6559, 4: 5.1439, 5: 4.2027, 6: 3.7077, 7: 3.3995, 8: 3.1873, 9: 3.0312, 10: 2.9110,
    11: 2.8150, 12: 2.7363, 13: 2.6705, 14: 2.6144, 15: 2.5660, 16: 2.5237, 17: 2.4863,
    18: 2.4529, 19: 2.4230, 20: 2.3960, 21: 2.3714, 22: 2.3490, 23: 2.3283, 24: 2.3093,
    25: 2.2917, 30: 2.2198, 35: 2.1667, 40: 2.1255, 45: 2.0924, 50: 2.0650,
}  # fmt: skip
K_OTHER = {
    0.90: {5: 3.4066, 10: 2.3546, 20: 1.9260, 30: 1.7773, 50: 1.6456},
    0.99: {5: 5.7411, 10: 3.9811, 20: 3.2952, 30: 3.0639, 50: 2.8624},
}
OWEN = {5: 4.203, 10: 2.911, 15: 2.566, 20: 2.396, 25: 2.292, 30: 2.220, 40: 2.126, 50: 2.065}


def test_the_one_sided_factors_are_those_of_the_tables() -> None:
    for n, k in K_95_95.items():
        assert tolerance_factor(n) == pytest.approx(k, abs=6e-5), n
    for n, k in OWEN.items():
        assert tolerance_factor(n) == pytest.approx(k, abs=6e-4), n
    for coverage, table in K_OTHER.items():
        for n, k in table.items():
            assert tolerance_factor(n, coverage) == pytest.approx(k, abs=6e-5), (coverage, n)


def test_the_handbooks_factor_for_43_is_found() -> None:
    # NIST/SEMATECH e-Handbook 7.2.6.3: exact 1.8740, its formula 1.8752 (values from memory)
    assert tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=6e-5)


EN_689 = {6: 2.187, 7: 2.120, 8: 2.072, 9: 2.035, 10: 2.005}  # EN 689:2018, table of U_R
EN_689_ON = {11: 1.9813, 12: 1.9612, 15: 1.9165, 20: 1.8702, 25: 1.8409, 30: 1.8203}


def test_the_european_test_has_the_standards_table() -> None:
    for n, u in EN_689.items():
        assert tolerance_factor(n, 0.95, 0.70) == pytest.approx(u, abs=6e-4)
    for n, u in EN_689_ON.items():
        assert tolerance_factor(n, 0.95, 0.70) == pytest.approx(u, abs=6e-5)


def test_the_european_screening_has_its_three_shares() -> None:
    # EN 689:2018: 3 up to 0.1, 4 up to 0.15, 5 up to 0.2 of the limit
    for n, share in ((3, 0.1), (4, 0.15), (5, 0.2)):
        assert screen([share * 0.99] * n, 1.0) == "compliant"
        assert screen([share * 0.5] * (n - 1) + [share * 1.01], 1.0) == "more readings"
        assert screen([share * 0.5] * (n - 1) + [1.01], 1.0) == "not compliant"


def test_an_invented_set_of_exposures_is_judged_as_outside_this_project() -> None:
    found = tolerance_test(EXPOSURES, 1.5)
    assert isinstance(found, ToleranceTest)
    assert found.u == pytest.approx(2.686048, abs=1e-6)
    assert found.compliant
    assert utl_lognormal(EXPOSURES, 0.95, 0.70) == pytest.approx(1.093210, abs=1e-6)
    assert utl_lognormal(EXPOSURES) == pytest.approx(1.941713, abs=1e-6)


def test_the_exceedance_fraction_has_the_exact_limits() -> None:
    # method of Hewett and Ganser 1997 (from memory); figures from outside this project, whose
    # upper 70 % limit held in 70.35 % of 2000 simulated sets
    at95, at70 = exceedance_lognormal(EXPOSURES, 1.5), exceedance_lognormal(EXPOSURES, 1.5, 0.70)
    assert at95.fraction == pytest.approx(0.00361513, abs=1e-8)
    assert at70.upper == pytest.approx(0.0155020, abs=1e-7)
    assert at95.upper == pytest.approx(0.0893540, abs=1e-7)
    assert at95.lower == pytest.approx(4.169e-05, abs=1e-8)


@pytest.mark.parametrize("confidence", [0.70, 0.95])
def test_a_tolerance_limit_at_the_level_is_an_exceedance_limit_of_five_percent(
    confidence: float,
) -> None:
    # identity: U = k  <=>  upper limit of the exceedance fraction = 1 - coverage
    level = utl_lognormal(EXPOSURES, 0.95, confidence)
    assert exceedance_lognormal(EXPOSURES, level, confidence).upper == pytest.approx(0.05, rel=1e-8)


# --- non-detects -------------------------------------------------------------------------------


def test_oahu_by_kaplan_meier_is_published_and_rs() -> None:
    # Helsel 2005: mean .949, median .700 (values from memory); R's survfit: the masses, .157025
    km = km_of(OAHU)
    assert km.mean == pytest.approx(0.948958, abs=5e-7)
    assert km.median == 0.70
    assert km.standard_error == pytest.approx(0.157025, abs=5e-7)
    assert km.values.tolist() == [3.2, 2.8, 1.7, 1.5, 0.9, 0.7, 0.6, 0.5]
    np.testing.assert_allclose(
        km.masses,
        [0.04167, 0.04167, 0.06548, 0.06548, 0.09821, 0.22917, 0.11458, 0.34375],
        atol=6e-6,
    )


def test_oahu_by_regression_on_order_is_published_and_statsmodels() -> None:
    # Helsel 2005: .972, .718, .700 (values from memory); statsmodels' test of the same
    ros = ros_of(OAHU)
    assert (ros.mean, ros.sd, ros.median) == pytest.approx((0.972463, 0.718012, 0.70), abs=1e-6)
    fitted = [0.35, 0.41, 0.46, 0.50, 0.50, 0.50, 0.57, 0.58, 0.60, 0.61, 0.68, 0.70, 0.70, 0.76,
              0.81, 0.90, 0.95, 0.98, 1.14, 1.42, 1.50, 1.70, 2.80, 3.20]  # fmt: skip
    np.testing.assert_allclose(ros.fitted, fitted, rtol=0, atol=0.01)
    limits, shares = exceedance_at_limits(*OAHU)
    assert limits.tolist() == [0.0, 0.9, 1.0, 2.0]
    np.testing.assert_allclose(shares, [1.0, 0.3125, 0.21429, 0.0833], atol=5e-5)


def test_oahu_by_likelihood_is_published_and_rs() -> None:
    # Helsel 2005: .945, .656, .777 (values from memory); R's survreg
    fit = fit_of(OAHU)
    assert (fit.log_mean, fit.log_sd) == pytest.approx((-0.252829, 0.626948), abs=1e-6)
    assert (fit.mean, fit.sd, fit.median) == pytest.approx((0.945259, 0.655926, 0.776601), abs=2e-6)


def test_helsels_appendix_b_is_statsmodels_and_rs() -> None:
    ros = ros_of(APPENDIX_B)
    assert (ros.mean, ros.sd) == pytest.approx((10.788166, 13.681528), abs=1e-6)
    fitted = [0.47, 0.85, 1.11, 1.27, 1.76, 2.34, 2.50, 3.00, 3.03, 4.80, 7, 9, 12, 15, 20, 27, 33,
              50]  # fmt: skip
    np.testing.assert_allclose(ros.fitted, fitted, rtol=0, atol=0.03)
    np.testing.assert_allclose(
        exceedance_at_limits(*APPENDIX_B)[1][1:], [0.55556, 0.33333], atol=5e-6
    )
    fit = fit_of(APPENDIX_B)
    assert (fit.log_mean, fit.log_sd) == pytest.approx((0.816770, 2.222066), abs=1e-6)
    assert fit.log_likelihood == pytest.approx(-50.423186, abs=1e-6)
    km = km_of(APPENDIX_B)  # R's survfit, with the share below 3 at 1
    assert (km.mean, km.standard_error) == pytest.approx((10.574074, 3.192059), abs=1e-6)
    assert km.below == pytest.approx(0.444444, abs=1e-6)


def test_the_basic_data_of_statsmodels_give_its_results() -> None:
    ros = ros_of(BASIC)
    assert (ros.mean, ros.sd) == pytest.approx((9.588851, 5.727996), abs=1e-6)
    imputed = [3.112797, 3.606343, 4.046028, 4.046028, 4.710081, 6.140109, 6.978415]
    drawn = [one for one in ros.fitted if not np.isclose(one, np.array(BASIC[0])).any()]
    np.testing.assert_allclose(drawn, imputed, atol=1e-6)
    fit = fit_of(BASIC)
    assert (fit.log_mean, fit.log_sd, fit.mean) == pytest.approx(
        (2.084852, 0.614773, 9.716495), abs=1e-6
    )
    assert km_of(BASIC).mean == pytest.approx(9.598629, abs=1e-6)


def test_the_sulfate_of_cohens_example_is_near_his_table_and_rs() -> None:
    # US EPA QA/G-9: mean 1723.7, s 155 by the table of lambda (values from memory); the exact
    # maximum by R's survreg: 1723.99511, 153.64509
    values, detect = np.array(SULFATE[0]), np.array(SULFATE[1])
    found = censored_normal(values, detect)
    assert not isinstance(found, CannotTell)
    assert found[:2] == pytest.approx((1723.99511, 153.64509), abs=1e-4)
    assert found[0] == pytest.approx(1723.7, abs=0.5)
    assert found[1] == pytest.approx(155, abs=1.5)
