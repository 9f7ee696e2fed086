"""Control points from tables as people write them; bad rows are named, good ones survive."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, SiteError
from hgmap.site.control.points import ControlPoint, read_control_points

GOOD = "point,x,y,east,north\nA,0,0,604000.5,5712000.25\nB,10.5,-2,604010,5712001\n"


def test_a_table_gives_its_points() -> None:
    found = read_control_points(GOOD.encode(), where="points.csv")
    assert found.points[0] == ControlPoint("A", 0.0, 0.0, 604000.5, 5712000.25)
    assert found.points[1].y == -2
    assert found.problems == ()


@pytest.mark.parametrize(
    "header",
    ["Point;X (m);Y (m);Easting;Northing", "name;x_m;y_m;E;N", "PT;plan x;plan-y;map e;map n",
     "No;local_x;local_y;EAST [m];NORTH [m]"],
)  # fmt: skip
def test_titles_may_be_others_in_any_case_with_semicolons_and_decimal_commas(header: str) -> None:
    text = f"{header}\nA;0,5;1,25;604000,5;5712000,75\n"
    found = read_control_points(text.encode(), where="points.csv")
    assert found.points == (ControlPoint("A", 0.5, 1.25, 604000.5, 5712000.75),)


def test_columns_may_stand_in_any_order_and_others_between_them() -> None:
    text = "north,note,y,x,east\n9,hello,2,1,8\n"
    found = read_control_points(text.encode(), where="points.csv")
    assert found.points == (ControlPoint("1", 1.0, 2.0, 8.0, 9.0),)


def test_bad_rows_are_named_with_what_is_wrong_and_good_ones_survive() -> None:
    text = GOOD + "C,1,2,,4\nA,1,2,3,4\nD,one,2,3,4\nE,1\nF,1e13,2,3,4\nG,20,5,604020,5712006\n"
    found = read_control_points(text.encode(), where="points.csv")
    assert [one.name for one in found.points] == ["A", "B", "G"]
    told = [f"{one.where}: {one.message}" for one in found.problems]
    assert told == [
        "points.csv, row 4: east is empty: left out",
        "points.csv, row 5: there is a point 'A' already: left out",
        "points.csv, row 6: x 'one' is not a number: left out",
        "points.csv, row 7: y is empty: left out",
        "points.csv, row 8: x '1e13' is beyond any measurement: left out",
    ]
    assert all(one.severity == "warning" for one in found.problems)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("point,x,y,east\nA,1,2,3\n", "no column for north"),
        ("point,x,y,lon,lat\nA,1,2,3,4\n", "no column for east, north"),
        ("point,x,y,east,easting,north\nA,1,2,3,4,5\n", "two columns for east"),
        ("a\0b", "is not a text table"),
    ],
)
def test_a_table_without_its_columns_is_refused(text: str, said: str) -> None:
    with pytest.raises(SiteError, match=said):
        read_control_points(text.encode(), where="points.csv")


def test_corners_of_a_deed_fill_in_where_east_and_north_are_empty() -> None:
    known = {"1": (10.0, 20.0), "2": (30.0, 40.0)}
    text = "point,x,y,east,north\n1,0,0,,\n2,5,5,31,41\n3,1,1,,\n"
    found = read_control_points(text.encode(), where="points.csv", known=known)
    assert found.points == (
        ControlPoint("1", 0.0, 0.0, 10.0, 20.0), ControlPoint("2", 5.0, 5.0, 31.0, 41.0),
    )  # fmt: skip
    assert found.problems[0].message == "no corner of the deed is called '3': left out"
    bare = read_control_points(b"point,x,y\n2,1,1\n", where="points.csv", known=known)
    assert bare.points == (ControlPoint("2", 1.0, 1.0, 30.0, 40.0),)


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_one_line(data: bytes) -> None:
    for head in (b"", b"point,x,y,east,north\n"):
        told = ""
        try:
            read_control_points(head + data, where="points.csv")
        except HgmapError as error:
            told = str(error)
        assert "\n" not in told
