"""Plain lines are read by columns: nothing but the time may tell."""

from __future__ import annotations

import io
import re
from typing import Any

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers import dxf_file
from hgmap.site.importers.dxf import draw_dxf
from hgmap.site.importers.dxf_lines import plain_lines

places = st.tuples(
    *[st.floats(0, 20).map(lambda one: round(one, 3))] * 2, st.sampled_from([0, 0.4])
)
layers = st.sampled_from(["A-WALL", "A-DOOR", "0", "Möbel", "A-FURN"])
looks = st.sampled_from([
    {}, {"color": 3}, {"invisible": 1}, {"paperspace": 1}, {"ltscale": 2.0}, {"thickness": 3.0},
    {"linetype": "CONTINUOUS", "lineweight": 25},
])  # fmt: skip
entities = st.lists(
    st.tuples(st.sampled_from(["line", "line", "circle", "arc", "text"]), places, places, layers,
              looks), min_size=1, max_size=12,
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
            space.add_arc(start, 0.9, 0, 90, dxfattribs=on)
        else:
            space.add_text("Lab", dxfattribs={**on, "insert": start})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def read(text: str, *, by_columns: bool) -> Any:
    with pytest.MonkeyPatch.context() as patch:
        if not by_columns:
            patch.setattr(dxf_file, "plain_lines", lambda codes, values: None)
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
def test_a_drawing_is_the_same_with_its_plain_lines_read_by_columns(
    version: str, drawn_on: list[Any]
) -> None:
    text = drawn(version, drawn_on)
    assert read(text, by_columns=True) == read(text, by_columns=False)


WALLS = drawn("R2010", [
    ("line", (0, 0, 0), (4, 0, 0), "A-WALL", {}),
    ("circle", (2, 2, 0), None, "A-WALL", {}),
    ("line", (4, 0, 0), (4, 3, 0), "A-WALL", {"color": 1}),
])  # fmt: skip


def test_plain_lines_are_found_and_leave_the_rest_in_order() -> None:
    found = plain_lines(*columns(WALLS))
    assert found is not None
    lines, rest = found
    assert [line.loops[0][:, :2].tolist() for line in lines.shapes] == [  # type: ignore[index]
        [[0, 0], [4, 0]],
        [[4, 0], [4, 3]],
    ]
    assert [values for values, is_rest in zip(columns(WALLS)[1], rest, strict=True)
            if is_rest].count("LINE") == 0  # fmt: skip
    parts, _, _ = read(WALLS, by_columns=True)
    assert [part.label.split()[0] for part in parts] == ["LINE", "CIRCLE", "LINE"]


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
    ],
)
def test_lines_that_are_not_plain_are_read_or_complained_of_as_before(
    pattern: str, instead: str
) -> None:
    text = re.sub(pattern, instead, WALLS)
    assert text != WALLS
    assert read(text, by_columns=True) == read(text, by_columns=False)
