"""Bearings and distances as deeds write them, and the figures that they walk round."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, SiteError
from hgmap.from_python import import_plan
from hgmap.site.control.corners import read_deed_file, write_corners
from hgmap.site.control.deed import read_course, read_deed
from hgmap.site.control.points import read_control_points
from hgmap.site.control.traverse import balanced, doubt_of_closure, run_traverse

SQUARE = "North 10 m; East 10 m; South 10 m; West 10 m"
WHOLE = 45 + 30 / 60 + 15 / 3600


@pytest.mark.parametrize(
    ("text", "azimuth", "length"),
    [
        ("N 45°30'15\" E 120.5 m", WHOLE, 120.5),
        ("S 45°30'15\" E 120.5 m", 180 - WHOLE, 120.5),
        ("S45°30′15″W 120.5m", 180 + WHOLE, 120.5),
        ("N 45-30-15 W 120.5 metres", 360 - WHOLE, 120.5),
        ("n 45 30 15 e, 120.5 m.", WHOLE, 120.5),
        ("N 45d30m15s E 120.5 m", WHOLE, 120.5),
        ("thence North 45 degrees 30 minutes 15 seconds East, a distance of 1,120.50 feet;",
         WHOLE, 1120.5 * 0.3048),
        ("N. 45º 30’ 15” E., 80 ft", WHOLE, 80 * 0.3048),
        ("N 45.5042° E 10 US survey feet", 45.5042, 10 * 1200 / 3937),
        ("N 45°30' E 10 U.S. survey ft", 45.5, 10 * 1200 / 3937),
        ("S 45° E 3 chains", 135, 3 * 66 * 1200 / 3937),
        ("N 0° E 5 rods", 0, 5 * 16.5 * 1200 / 3937),
        ("N 90° E 5 m", 90, 5),
        ("due West 7 m", 270, 7),
        ("N 10 meters", 0, 10),
        ("N 5° E 10 meters", 5, 10),
        ("Thence South 7 m", 180, 7),
        ("123.5° 8 m", 123.5, 8),
        ("azimuth 123-30-00 8 m", 123.5, 8),
        ("Az. 123°30' 8 m", 123.5, 8),
        ("360° 8 m", 0, 8),
        ("3) N 12°30'15.5\" E .5 m", 12.5 + 15.5 / 3600, 0.5),
    ],
)  # fmt: skip
def test_a_course_may_be_written_in_many_ways(text: str, azimuth: float, length: float) -> None:
    course = read_course(text.rstrip(";"))
    assert course.azimuth_deg == pytest.approx(azimuth, abs=1e-9)
    assert course.length_m == pytest.approx(length, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("N 91° E 5 m", "no angle up to 90"),
        ("N 45°75' E 5 m", "no angle up to 90"),
        ("N 45°30'60\" E 5 m", "no angle up to 90"),
        ("N 45.5°30' E 5 m", "no angle up to 90"),
        ("400° 5 m", "no angle up to 360"),
        ("N 45° E 5", "has no distance with its unit"),
        ("N 45° E", "has no distance with its unit"),
        ("N 45° E 5 cubits", "'cubits' is no unit"),
        ("N 45° E 0 m", "a course of no length"),
        ("N 45° E -5 m", "has no distance with its unit"),
        ("N 45° E 3,5 m", "is the comma a decimal mark or for thousands"),
        ("N 45° E 1,205 m", "is the comma a decimal mark or for thousands"),
        ("along the brook 40 m", "is no bearing and distance"),
        ("45 m", "is no bearing and distance"),
        ("E 45° N 5 m", "is no bearing and distance|no unit|distance with its unit"),
    ],
)
def test_a_course_that_cannot_be_read_is_refused_with_its_place(text: str, said: str) -> None:
    with pytest.raises(SiteError, match=said) as caught:
        read_deed(f"# a lot\n{SQUARE}\n{text}", where="deed.txt")
    assert caught.value.where == "deed.txt, row 3, course 5"
    assert caught.value.todo


@pytest.mark.parametrize("text", ["", "# only a remark\n", " ; ;\n"])
def test_a_deed_without_a_course_is_refused(text: str) -> None:
    with pytest.raises(SiteError, match="no course"):
        read_deed(text, where="deed.txt")


@given(st.text(max_size=60))
def test_any_text_is_a_course_or_refused_in_one_line(text: str) -> None:
    told, course = "", None
    try:
        course = read_course(text)
    except HgmapError as error:
        told = str(error)
    assert "\n" not in told
    assert course is None or (0 <= course.azimuth_deg < 360 and course.length_m > 0)


@given(st.floats(0, 359.999), st.floats(0.01, 1e4))
def test_a_bearing_says_the_same_as_its_azimuth(azimuth: float, length: float) -> None:
    turned = azimuth % 180
    angle = min(turned, 180 - turned)
    first = "N" if azimuth <= 90 or azimuth >= 270 else "S"
    second = "E" if azimuth <= 180 else "W"
    one = read_course(f"{first} {angle:.10f}° {second} {length:.6f} m")
    other = read_course(f"{azimuth:.10f}° {length:.6f} m")
    assert math.remainder(one.azimuth_deg - other.azimuth_deg, 360) == pytest.approx(0, abs=1e-8)
    assert one.length_m == other.length_m


@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=3, max_size=9))
def test_walking_round_any_figure_comes_back_to_its_start(
    corners: list[tuple[float, float]],
) -> None:
    courses = []
    for (x, y), (to_x, to_y) in zip(corners, [*corners[1:], corners[0]], strict=True):
        length = math.hypot(to_x - x, to_y - y)
        if length < 1e-3:
            return
        azimuth = math.degrees(math.atan2(to_x - x, to_y - y)) % 360
        courses.append(f"{azimuth:.12f}° {length:.12f} m")
    traverse = run_traverse(read_deed(";".join(courses), where=""), corners[0])
    assert traverse.misclosure_m < 1e-6
    assert traverse.corners[:-1] == pytest.approx(np.array(corners), abs=1e-6)
    assert balanced(traverse)[-1] == pytest.approx(corners[0], abs=1e-9)


def test_a_square_closes_to_the_last_digit_wherever_it_begins() -> None:
    traverse = run_traverse(read_deed(SQUARE, where=""), (604_000.0, 5_712_000.0))
    assert traverse.misclosure_m == 0.0
    assert traverse.ratio == math.inf
    assert traverse.area_m2 == pytest.approx(100.0)
    assert traverse.places["3"] == (604_010.0, 5_712_010.0)
    assert len(traverse.places) == 4
    assert doubt_of_closure(traverse) == ""


def test_a_figure_that_does_not_close_says_so() -> None:
    wrong = run_traverse(read_deed(SQUARE.replace("West 10", "West 9.8"), where=""))
    assert doubt_of_closure(wrong) == "the figure closes only to 1 in 199"
    opened = run_traverse(read_deed("North 10 m; East 10 m", where=""))
    assert "the figure is open: it ends 14.14 m from its start" in doubt_of_closure(opened)
    assert opened.area_m2 is None
    assert len(opened.places) == 3
    crossed = run_traverse(
        read_deed("45° 14.1421356 m; West 10 m; 135° 14.1421356 m; West 10 m", where="")
    )
    assert crossed.closed
    assert "crosses itself" in doubt_of_closure(crossed)


def test_corners_become_a_table_to_fill_in_and_come_back_as_control_points(tmp_path: Path) -> None:
    traverse = read_deed_file(SQUARE.encode(), (100.0, 200.0), where="deed.txt")
    write_corners(tmp_path / "corners.csv", traverse, "EPSG:25832")
    lines = (tmp_path / "corners.csv").read_text("utf-8").splitlines()
    assert lines[0] == "point,x,y,east,north"
    assert lines[1] == "1,,,100.0000,200.0000"
    filled = "\n".join([lines[0], *(line.replace(",,,", ",1,2,") for line in lines[1:])])
    found = read_control_points(filled.encode(), where="corners.csv")
    assert [(one.east, one.north) for one in found.points] == [*traverse.places.values()]


@pytest.mark.parametrize("crs", ["EPSG:25832", None])
def test_an_outline_can_be_imported_as_a_plan(tmp_path: Path, crs: str | None) -> None:
    start = (604_000.0, 5_712_000.0) if crs else (0.0, 0.0)
    traverse = read_deed_file(SQUARE.encode(), start, where="deed.txt")
    write_corners(tmp_path / "lot.geojson", traverse, crs)
    assert ("crs" in json.loads((tmp_path / "lot.geojson").read_text("utf-8"))) is bool(crs)
    report = import_plan(tmp_path / "lot.geojson", tmp_path / "site", "lot")
    assert report.area_m2 == pytest.approx(100.0)


def test_corners_go_into_no_other_format_and_an_open_figure_has_no_outline(tmp_path: Path) -> None:
    traverse = read_deed_file(b"North 10 m; East 10 m", (0.0, 0.0), where="deed.txt")
    with pytest.raises(SiteError, match="no format of corners"):
        write_corners(tmp_path / "corners.txt", traverse, None)
    with pytest.raises(SiteError, match="no inside"):
        write_corners(tmp_path / "corners.geojson", traverse, None)
    assert not list(tmp_path.iterdir())
