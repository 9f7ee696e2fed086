"""A picture lies where its points say, or it is said which of them does not belong."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.pictures.placed import PicturePoint, place_by_points, read_point
from hgmap.site.pictures.world_file import read_world_file
from hgmap.site.plan_picture import PlanPicture

pixels = st.tuples(st.floats(0, 8000), st.floats(0, 8000))
HELD = PlanPicture("plans/a.png", 0.02, 12.0, 3.0, 40.0)
CORNERS = [(0.0, 0.0), (900.0, 10.0), (880.0, 700.0), (15.0, 690.0), (500.0, 300.0)]


def points_of(
    picture: PlanPicture, at: list[tuple[float, float]], wrong: dict[int, tuple[float, float]]
) -> list[PicturePoint]:
    made = []
    for n, (pixel, (x, y)) in enumerate(zip(at, picture.to_metres(at), strict=True)):
        dx, dy = wrong.get(n, (0.0, 0.0))
        made.append(PicturePoint(pixel, (float(x) + dx, float(y) + dy)))
    return made


@given(
    st.lists(pixels, min_size=2, max_size=7, unique=True), st.floats(1e-3, 1.9),
    st.floats(-180, 180), st.floats(-500, 500), st.floats(-500, 500),
)  # fmt: skip
def test_a_picture_is_found_again_from_its_points(
    at: list[tuple[float, float]], scale: float, angle: float, x: float, y: float
) -> None:
    assume(min(math.dist(a, b) for n, a in enumerate(at) for b in at[:n]) > 2)
    picture = PlanPicture("plans/a.png", scale, angle, x, y)
    placed = place_by_points(points_of(picture, at, {}), file="plans/a.png")
    # two points two pixels apart hold a corner far away less well
    np.testing.assert_allclose(placed.picture.to_metres(at), picture.to_metres(at), atol=1e-6)
    assert placed.rmse_m < 1e-6
    assert not placed.doubts


def test_two_points_always_fit_which_is_said() -> None:
    placed = place_by_points(points_of(HELD, CORNERS[:2], {}), file="plans/a.png")
    assert placed.notes == ("two points always fit: a third one would check them",)
    assert placed.picture.angle_deg == pytest.approx(12)


def test_small_misses_are_listed_and_a_large_one_is_a_doubt() -> None:
    fine = place_by_points(points_of(HELD, CORNERS[:3], {1: (0.02, 0)}), file="a.png")
    assert 0 < fine.rmse_m < 0.02
    assert len(fine.points) == 3
    assert not fine.doubts
    loose = place_by_points(points_of(HELD, CORNERS[:3], {1: (0.4, 0)}), file="a.png")
    assert "a point misses by" in loose.doubts[0]


def test_a_point_that_the_others_contradict_is_named() -> None:
    placed = place_by_points(points_of(HELD, CORNERS, {3: (0.3, 0.2)}), file="a.png")
    assert "point 4 (column 15, row 690) stands out" in placed.doubts[0]
    with pytest.raises(PlanError, match=r"do not fit.*point 4 .* stands out"):
        place_by_points(points_of(HELD, CORNERS, {3: (5.0, 2.0)}), file="a.png")


def test_a_mirrored_picture_is_refused() -> None:
    upwards = [PicturePoint((one.pixel[0], 700 - one.pixel[1]), one.place)
               for one in points_of(HELD, CORNERS, {})]  # fmt: skip
    with pytest.raises(PlanError, match="a mirrored picture only; count rows downwards"):
        place_by_points(upwards, file="a.png")
    # two points fit it as well: then the walls would be mirrored, which a third one tells
    assert not place_by_points(upwards[:2], file="a.png").doubts


@pytest.mark.parametrize(
    ("points", "text"),
    [
        (["0,0=0,0"], "two points with their places"),
        (["0,0=0,0", "10,10"], "two points with their places"),
        (["0,0=0,0", "1,1=5,5"], "points 1 and 2 are one point of the picture"),
        (["0,0=0,0", "9,9=5,5", "9,9=6,6"], "points 2 and 3 are one point"),
        (["0,0=3,3", "100,0=3,3"], "points 1 and 2 have one place"),
        (["0,0=0,0", "100,0=500,0"], "a pixel would be 5 m wide"),
        (["0,0=0,0", "100,0=0.0001,0"], "a pixel would be 1e-06 m wide"),
    ],
)
def test_points_that_place_nothing_are_refused(points: list[str], text: str) -> None:
    with pytest.raises(PlanError, match=text):
        place_by_points([read_point(one) for one in points], file="a.png")


@pytest.mark.parametrize(
    "text", ["", "1", "1,2=3", "1;2=3;4", "a,b=c,d", "1,2=3,4,5", "1,2==3,4", "1,5,2=3,4",
             "nan,1=2,3", "1e999,0=0,0"],
)  # fmt: skip
def test_what_is_no_point_is_said_with_how_one_is_written(text: str) -> None:
    with pytest.raises(PlanError, match="write column,row=x,y"):
        read_point(text)


def test_a_point_is_read_as_people_write_it() -> None:
    assert read_point(" 12.5 , 7= -3.25,+4 ") == PicturePoint((12.5, 7.0), (-3.25, 4.0))
    assert read_point("3,4") == PicturePoint((3.0, 4.0))


@given(st.floats(1e-3, 1.9), st.floats(-179, 179), st.floats(-900, 900), st.floats(-900, 900))
def test_a_world_file_says_where_the_middles_of_pixels_lie(
    scale: float, angle: float, x: float, y: float
) -> None:
    picture = PlanPicture("a.png", scale, angle, x, y)
    a, b, _, d, e, _ = picture.affine
    (c, f), (right_x, right_y) = picture.to_metres([(0.5, 0.5), (1.5, 0.5)])
    assert (right_x - c, right_y - f) == pytest.approx((a, d))
    text = "\n".join(repr(float(one)) for one in (a, d, b, e, c, f))
    read = read_world_file(text.encode(), where="a.pgw", file="a.png")
    corners = [(0, 0), (1000, 0), (0, 1000)]
    np.testing.assert_allclose(read.to_metres(corners), picture.to_metres(corners), atol=1e-6)


@pytest.mark.parametrize(
    ("lines", "text"),
    [
        ("", "no world file"),
        ("1 2 3", "no world file"),
        ("a b c d e f", "no world file"),
        ("0.1 0 0 nan 0 0", "no world file"),
        ("\xff", "no world file"),
        ("0.1 0 0 0.1 0 0", "mirrors"),
        ("0.1 0 0 -0.2 0 0", "not square"),
        ("5 0 0 -5 0 0", "a pixel would be 5 m wide"),
        ("0.1 0 0 -0.1 691000 5334000", "far from the plan"),
    ],
)
def test_a_world_file_that_places_no_plan_is_refused(lines: str, text: str) -> None:
    with pytest.raises(PlanError, match=text):
        read_world_file(lines.encode("latin-1"), where="a.pgw", file="a.png")
