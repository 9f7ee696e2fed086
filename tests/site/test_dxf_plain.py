"""Plain lines and arcs are read by columns: nothing but the time may tell."""

from __future__ import annotations

import io
import re
from itertools import compress
from typing import Any

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers import dxf_file
from hgmap.site.importers.dxf import draw_dxf
from hgmap.site.importers.dxf_curves import corners
from hgmap.site.importers.dxf_plain import plain_shapes

places = st.tuples(
    *[st.floats(0, 20).map(lambda one: round(one, 3))] * 2, st.sampled_from([0, 0.4])
)
layers = st.sampled_from(["A-WALL", "A-DOOR", "0", "Möbel", "A-FURN"])
looks = st.sampled_from([
    {}, {"color": 3}, {"invisible": 1}, {"paperspace": 1}, {"ltscale": 2.0}, {"thickness": 3.0},
    {"linetype": "CONTINUOUS", "lineweight": 25},
])  # fmt: skip
arcs = st.tuples(
    st.sampled_from([0.9, 0.8, -0.9, 0.0]),
    st.sampled_from([0, 90, -90, 270, 360, 12.5, 725]),
    st.sampled_from([0, 90, 180, 360, 200.25, -45, 12.5, 13]),
)
"""Radius, and angles of both ends (degrees)."""
entities = st.lists(
    st.tuples(st.sampled_from(["line", "line", "circle", "text"]), places, places, layers, looks)
    | st.tuples(st.just("arc"), places, arcs, layers, looks),
    min_size=1, max_size=12,
)  # fmt: skip


def drawn(version: str, drawn_on: list[Any]) -> str:
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = 6
    space = document.modelspace()
    for kind, start, end, layer, look in drawn_on:
        on = {"layer": layer, **look}
        if kind == "line":
            space.add_line(start, end, dxfattribs=on)
        elif kind == "circle":
            space.add_circle(start, 1.5, dxfattribs=on)
        elif kind == "arc":
            space.add_arc(start, *end, dxfattribs=on)
        else:
            space.add_text("Lab", dxfattribs={**on, "insert": start})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def read(text: str, *, by_columns: bool) -> Any:
    with pytest.MonkeyPatch.context() as patch:
        if not by_columns:
            patch.setattr(dxf_file, "plain_shapes", lambda codes, values: None)
        try:
            (drawing,) = draw_dxf(text.encode(), file="x.dxf", unit="m")
        except PlanError as error:
            return str(error)
    return drawing.parts, drawing.notes, drawing.elevation_m


def columns(text: str) -> tuple[list[str], list[str]]:
    lines = text.split("\n")
    return lines[0:-1:2], lines[1::2]


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(["R12", "R2000", "R2018"]), entities)
def test_a_drawing_is_the_same_with_its_plain_shapes_read_by_columns(
    version: str, drawn_on: list[Any]
) -> None:
    text = drawn(version, drawn_on)
    assert read(text, by_columns=True) == read(text, by_columns=False)


WALLS = drawn("R2010", [
    ("line", (0, 0, 0), (4, 0, 0), "A-WALL", {}),
    ("circle", (2, 2, 0), None, "A-WALL", {}),
    ("line", (4, 0, 0), (4, 3, 0), "A-WALL", {"color": 1}),
    ("arc", (4, 1, 0), (0.9, 0, 90), "A-DOOR", {"color": 5}),
])  # fmt: skip


def test_plain_shapes_are_found_and_leave_the_rest_in_order() -> None:
    found = plain_shapes(*columns(WALLS))
    assert found is not None
    plain, rest = found
    assert [corners(shape.loops[0])[[0, -1], :2].round(9).tolist() for shape in plain.shapes] == [
        [[0, 0], [4, 0]],
        [[4, 0], [4, 3]],
        [[4.9, 1], [4, 1.9]],
    ]
    left = list(compress(columns(WALLS)[1], rest))
    assert not {"LINE", "ARC"} & {*left}
    assert "CIRCLE" in left
    parts, _, _ = read(WALLS, by_columns=True)
    assert [part.label.split()[0] for part in parts] == ["LINE", "CIRCLE", "LINE", "ARC"]


@pytest.mark.parametrize(
    ("pattern", "instead"),
    [
        (r"\n 20\n0.0\n", "\n 20\nabc\n"),  # a number that is none
        (r"\n 62\n1\n", "\n 62\nred\n"),
        (r"\n 10\n4.0\n 20\n", "\n 10\n4.0\n 21\n"),  # a code twice
        (r"AcDbLine\n 10\n0.0\n", "AcDbLine\n 10\n1e30\n"),  # a place that is none
        (r"AcDbLine\n", "AcDbLine\n210\n0.0\n220\n0.0\n230\n-1.0\n"),
        (r"\n  8\nA-WALL\n100\nAcDbLine", "\n  8\nA-W\\\\U+00C4NDE\n100\nAcDbLine"),
        (r"LINE\n  5\n\w+\n", "LINE\n"),  # no handle
        (r"LINE\n  5\n(\w+)\n", "LINE\n  5\n0\n"),
        (r"AcDbLine\n", "AcDbLine\n999\nby hand\n"),
        (r"\n 40\n0.9\n", "\n 40\nabc\n"),
        (r"\n 40\n0.9\n", "\n 40\nnan\n"),
        (r"\n 40\n0.9\n", "\n"),  # no radius
        (r"\n 40\n0.9\n", "\n 40\n0.9\n 40\n1.1\n"),
        (r"\n 51\n90.0\n", "\n 51\ninf\n"),
        (r"\n 51\n90.0\n", "\n 51\n0.5\n"),  # hardly an arc
        (r"\n 51\n90.0\n", "\n 51\n359.9\n"),
        (r"AcDbCircle\n 10\n4.0\n", "AcDbCircle\n 10\n4e11\n"),  # lost in its last digits
        (r"AcDbCircle\n 10\n4.0\n", "AcDbCircle\n 39\n2.5\n 10\n4.0\n"),
    ],
)
def test_what_is_not_plain_is_read_or_complained_of_as_before(pattern: str, instead: str) -> None:
    text = re.sub(pattern, instead, WALLS)
    assert text != WALLS
    assert read(text, by_columns=True) == read(text, by_columns=False)
