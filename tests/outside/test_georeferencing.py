"""Frames fitted to control points, and traverses, against published examples.

Each source stands beside its numbers; a value from memory says so.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Polygon

from hgmap.site.control.deed import read_deed
from hgmap.site.control.fit import fit_points
from hgmap.site.control.traverse import balanced, run_traverse, steps_of
from hgmap.site.lengths import US_SURVEY_FOOT_M
from hgmap.site.map_frame import MapFrame

# Ghilani and Wolf, Adjustment Computations, example 18.1, two-dimensional conformal coordinate
# transformation (values from memory)
BOOK_PLAN = [[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]]
BOOK_MAP = [[1049422.40, 51089.20], [1049413.95, 49659.30], [1049244.95, 49884.95]]
BOOK_NEW = {
    (174.148, -120.262): (1049187.361, 51040.629),
    (513.520, -192.130): (1047637.713, 51278.829),
    (754.444, -67.706): (1046582.113, 50656.241),
    (972.788, 120.994): (1045644.713, 49749.336),
}

# four corners of a rectangle, worked by hand: the affine fit is a similarity
CORNERS = [[0, 0], [100, 0], [100, 50], [0, 50]]
CORNERS_ON_MAP = [[10.02, 20.00], [109.98, 30.01], [105.00, 79.99], [5.00, 70.00]]


def test_the_conformal_example_of_the_book_comes_out_as_printed() -> None:
    fit = fit_points("conformal", BOOK_PLAN, BOOK_MAP)
    (a, minus_b), (b, also_a) = fit.matrix
    assert a == also_a == pytest.approx(-4.51249, abs=5e-6)
    assert b == -minus_b == pytest.approx(-0.25371, abs=5e-6)
    assert fit.origin == pytest.approx([1050003.715, 50542.131], abs=6e-4)
    assert fit.scale == pytest.approx(4.51962, abs=5e-6)
    angle = fit.frame("").angle_deg % 360
    assert angle == pytest.approx(183 + 13 / 60 + 5.0 / 3600, abs=0.06 / 3600)
    # residuals and S0 as this project worked them out again beside the book
    assert fit.residuals == pytest.approx(
        np.array([[0.003838, -0.029133], [0.100867, -0.076742], [-0.104704, 0.105875]]), abs=1e-6
    )
    assert fit.degrees_of_freedom == 2
    assert fit.standard_error_m == pytest.approx(0.13982, abs=1e-5)


@pytest.mark.parametrize(("place", "expected"), BOOK_NEW.items())
def test_further_points_of_the_book_land_where_they_were_printed(
    place: tuple[float, float], expected: tuple[float, float]
) -> None:
    frame = fit_points("conformal", BOOK_PLAN, BOOK_MAP).frame("")
    assert frame.to_map([place])[0] == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("kind", ["conformal", "affine"])
def test_four_corners_worked_by_hand(kind: str) -> None:
    fit = fit_points(kind, CORNERS, CORNERS_ON_MAP)  # type: ignore[arg-type]
    assert fit.matrix == pytest.approx(np.array([[0.9998, -0.1], [0.1, 0.9998]]), abs=1e-9)
    assert fit.origin == pytest.approx([10.01, 20.005], abs=1e-9)
    assert np.abs(fit.residuals) == pytest.approx(np.tile([0.01, 0.005], (4, 1)), abs=1e-9)
    assert fit.rmse_m == pytest.approx(0.0111803, abs=5e-8)
    assert fit.scale == pytest.approx(1.0047886, abs=5e-8)
    assert fit.frame("").angle_deg == pytest.approx(5.711728, abs=5e-7)
    free = {"conformal": 4, "affine": 2}[kind]
    assert fit.standard_error_m == pytest.approx(math.sqrt(4 * (0.01**2 + 0.005**2) / free))


def test_the_affine_example_of_the_registry_lands_where_it_was_printed() -> None:
    # IOGP publication 373-7-2 (EPSG guidance note 7-2), affine parametric transformation, Jamaica
    # (values from memory); the frame is made from its own parameters by fitting three points
    a0, a1, a2 = 82357.457, 0.304794369, 0.000015417425
    b0, b1, b2 = 28091.324, -0.000015417425, 0.304794369
    plan = np.array([[0.0, 0.0], [1e6, 0.0], [0.0, 1e6]])
    on_map = np.column_stack([a0 + plan @ (a1, a2), b0 + plan @ (b1, b2)])
    fit = fit_points("affine", plan, on_map)
    assert fit.rmse_m < 1e-6
    found = fit.frame("").to_map([(553900.0, 482500.0)])[0]
    assert found == pytest.approx([251190.497, 175146.067], abs=6e-4)


def test_a_similarity_of_the_registry_is_a_frame_of_ours() -> None:
    # IOGP 373-7-2, similarity transformation (parameters and easting from memory, the northing
    # worked out): XT = XT0 + X M cos q + Y M sin q, YT = YT0 - X M sin q + Y M cos q
    frame = MapFrame("", 611267.2865, 3046512.8505, -315.0, 0.9997728332)
    assert frame.to_map([(20000.0, 10000.0)])[0] == pytest.approx(
        [618336.748, 3067721.235], abs=1e-3
    )


def test_the_fit_is_that_of_two_libraries() -> None:
    # scikit-image's estimates: the same least squares by another way (normalised, by SVD)
    transform = pytest.importorskip("skimage.transform")
    rng = np.random.default_rng(11)
    plan = rng.uniform(-50, 50, (7, 2))
    on_map = MapFrame("", 500.0, 700.0, 33.0, 1.0004).to_map(plan) + rng.normal(0, 0.02, (7, 2))
    affine = fit_points("affine", plan, on_map)
    design = np.column_stack([plan, np.ones(7)])
    other, *_ = np.linalg.lstsq(design, on_map, rcond=None)
    assert affine.matrix == pytest.approx(other[:2].T, abs=1e-9)
    similar = fit_points("conformal", plan, on_map)
    umeyama = transform.SimilarityTransform.from_estimate(plan, on_map)
    assert similar.frame("").angle_deg == pytest.approx(math.degrees(umeyama.rotation), abs=1e-9)


# Read at engineering.purdue.edu/~asm215/topics/travcalc.html: latitudes, departures, their sums,
# the length and the balanced coordinates as printed there (feet, to the cent)
PURDUE = """N 26°10' E 285.10 ft
S 75°25' E 610.45 ft
S 15°30' W 720.48 ft
N 1°42' W 203.00 ft
N 53°06' W 647.02 ft"""
PURDUE_STEPS = [
    (125.72, 255.88), (590.78, -153.70), (-192.54, -694.28), (-6.02, 202.91), (-517.41, 388.48),
]  # fmt: skip
PURDUE_CORNERS = [
    (10125.66, 10255.96), (10716.31, 10102.44), (10523.62, 9408.37), (10517.55, 9611.34),
    (10000.00, 10000.00),
]  # fmt: skip
FOOT = 0.3048


def test_a_published_traverse_in_bearings_and_feet() -> None:
    courses = read_deed(PURDUE, where="example")
    traverse = run_traverse(courses, (10_000 * FOOT, 10_000 * FOOT))
    assert steps_of(courses) / FOOT == pytest.approx(np.array(PURDUE_STEPS), abs=0.006)
    assert traverse.length_m / FOOT == pytest.approx(2466.05)
    east, north = traverse.misclosure
    assert (east / FOOT, north / FOOT) == pytest.approx((0.53, -0.71), abs=0.006)
    # printed: 0.89 / 2466.05, 1 in 2771, from the rounded 0.89
    assert traverse.misclosure_m / FOOT == pytest.approx(0.89, abs=0.01)
    assert traverse.ratio == pytest.approx(2771, rel=0.01)
    # printed corners are sums of balanced steps that were each rounded to the cent
    assert balanced(traverse)[1:] / FOOT == pytest.approx(np.array(PURDUE_CORNERS), abs=0.015)


def test_the_same_traverse_in_azimuths_is_the_same_figure() -> None:
    by_azimuth = (
        "26°10' 285.10 ft; 104°35' 610.45 ft; 195°30' 720.48 ft; 358°18' 203 ft; 306°54' 647.02 ft"
    )
    one = run_traverse(read_deed(PURDUE, where="a")).corners
    assert run_traverse(read_deed(by_azimuth, where="b")).corners == pytest.approx(one, abs=1e-9)


def test_a_second_published_traverse_of_four_courses() -> None:
    # read in a lecture on the compass rule (scribd.com/document/493615208): latitudes 19.451,
    # -37.457, -35.294, 53.585, their sum 0.285; departures 78.012, 27.214, -63.672, and a sum of
    # -0.311; adjusted 19.3653 and 78.1055 for the first course
    text = "N 76°00' E 80.40 m; S 36° E 46.30 m; S 61°00'W 72.80 m; N 38 00 W 68.00 m"
    traverse = run_traverse(read_deed(text, where="example"))
    steps = steps_of(traverse.courses)
    assert steps[:, 1] == pytest.approx([19.451, -37.457, -35.294, 53.585], abs=6e-4)
    assert steps[:3, 0] == pytest.approx([78.012, 27.214, -63.672], abs=6e-4)
    assert traverse.misclosure == pytest.approx((-0.311, 0.285), abs=2e-3)  # sums of rounded ones
    assert balanced(traverse)[1] == pytest.approx([78.1055, 19.3653], abs=6e-4)
    assert traverse.length_m == pytest.approx(267.5)


def test_the_area_by_coordinates_of_a_published_polygon() -> None:
    # (1,6) (3,1) (7,2) (4,4) (8,5): 16.5, the example of the shoelace formula in an encyclopedia
    # (value from memory); walked here by bearings and lengths
    corners = [(1, 6), (3, 1), (7, 2), (4, 4), (8, 5)]
    courses = []
    for (x, y), (to_x, to_y) in zip(corners, [*corners[1:], corners[0]], strict=True):
        azimuth = math.degrees(math.atan2(to_x - x, to_y - y)) % 360
        courses.append(f"{azimuth:.12f}° {math.hypot(to_x - x, to_y - y):.12f} m")
    traverse = run_traverse(read_deed("; ".join(courses), where="example"), (1.0, 6.0))
    assert traverse.area_m2 == pytest.approx(16.5, abs=1e-9)
    assert traverse.area_m2 == pytest.approx(Polygon(corners).area)
    assert traverse.misclosure_m < 1e-9


def test_units_of_length_are_those_of_the_tables() -> None:
    # NIST Special Publication 811, appendix B (values from memory): foot (US survey) 0.3048006 m,
    # chain 20.11684 m, rod 5.029210 m; foot 0.3048 m exactly; a link is a hundredth of a chain
    assert pytest.approx(0.3048006, abs=5e-8) == US_SURVEY_FOOT_M
    for text, metres, within in (
        ("1 chain", 20.11684, 5e-6), ("1 rod", 5.029210, 5e-7), ("1 ft", 0.3048, 0.0),
        ("100 links", 20.11684, 5e-6), ("1 US survey foot", 0.3048006, 5e-8),
    ):  # fmt: skip
        course = read_deed(f"North {text}", where="example")[0]
        assert course.length_m == pytest.approx(metres, abs=within or 1e-15)
