"""A table of rooms by their sides becomes drawings, a storey each."""

from __future__ import annotations

import csv
import io

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing
from hgmap.site.importers.schedule import LAID_APART, NO_OPENINGS, draw_schedule


def draw(text: str, **options: str) -> tuple[Drawing, ...]:
    return draw_schedule(text.encode(), file="rooms.csv", **options)  # type: ignore[arg-type]


def bounds(drawing: Drawing) -> dict[str, tuple[float, ...]]:
    return {
        one.name: tuple(round(x, 4) for x in one.geometry.bounds) for one in drawing.of_role("room")
    }


sides = st.floats(0.3, 500).map(lambda side: round(side, 3))
places = st.floats(-2000, 2000).map(lambda place: round(place, 3))
SEPARATORS = {",": ".", ";": ",", "\t": "."}


@given(sides, sides, places, places, st.sampled_from(sorted(SEPARATORS)))
def test_a_rectangle_of_any_size_comes_back_whatever_parts_the_cells(
    width: float, depth: float, x: float, y: float, mark: str
) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark)
    writer.writerow(["Room", "x", "y", "width", "depth", "height"])
    # four decimals: 1,500 alone could be a thousand and a half, or one and a half
    numbers = [f"{one:.4f}".replace(".", SEPARATORS[mark]) for one in (x, y, width, depth)]
    writer.writerow(["Lab", *numbers, "2"])
    (only,) = draw(out.getvalue())
    (room,) = only.of_role("room")
    assert room.geometry.bounds == pytest.approx((x, y, x + width, y + depth), abs=1e-9)
    assert room.geometry.area == pytest.approx(width * depth, rel=1e-9)
    assert only.metres_per_unit == 1
    assert only.crs is None


@pytest.mark.parametrize(
    ("titles", "cells", "metres"),
    [
        ("width (ft),depth (ft)", "10,20", (3.048, 6.096)),
        ("width [cm],depth [cm]", "310,620", (3.1, 6.2)),
        ("width in,depth in", "100,200", (2.54, 5.08)),
        ("width,depth", "12'6\",10'", (3.81, 3.048)),
        ("width,depth", '"12\' 6 1/2""",10 ft', (3.8227, 3.048)),
        ("width,depth", '150",3.5 m', (3.81, 3.5)),
        ("width_mm,depth_mm", "3100,6200", (3.1, 6.2)),
    ],
)
def test_lengths_are_read_as_people_write_them(
    titles: str, cells: str, metres: tuple[float, float]
) -> None:
    (only,) = draw(f"room,x,y,{titles}\nLab,0,0,{cells}\n")
    assert bounds(only)["Lab"] == (0, 0, *metres)


@pytest.mark.parametrize(
    ("titles", "size"),
    [("length,width", (6, 4)), ("width,depth", (6, 4)), ("length,depth", (6, 4)),
     ("width,length", (4, 6)), ("length,width,depth", (6, 4))],
)  # fmt: skip
def test_a_length_runs_along_x_and_so_does_a_width_beside_a_depth(
    titles: str, size: tuple[float, float]
) -> None:
    (only,) = draw(f"room,x,y,{titles}\nLab,0,0,6,4,9\n")
    assert bounds(only)["Lab"] == (0, 0, *size)


def test_each_storey_is_a_drawing_and_its_rooms_may_have_names_of_another_one() -> None:
    ground, first = draw(
        "floor,room,x,y,length,width\nGround,Lab,0,0,6,4\nFirst,Lab,0,0,6,4\nGround,Store,6,0,3,4\n"
    )
    assert (ground.storey, first.storey) == ("Ground", "First")
    assert bounds(ground) == {"Lab": (0, 0, 6, 4), "Store": (6, 0, 9, 4)}
    assert bounds(first) == {"Lab": (0, 0, 6, 4)}
    assert ground.notes == (NO_OPENINGS,)
    assert first.notes == ()


def test_rooms_without_a_place_are_told_not_to_know_each_other() -> None:
    (only,) = draw("room,width,depth\nLab,6,4\nStore,3,4\n")
    assert only.notes == (LAID_APART, NO_OPENINGS)
    lab, store = only.of_role("room")
    assert lab.geometry.distance(store.geometry) >= 1 - 1e-9


def test_a_bad_row_is_told_with_its_file_and_row_and_the_good_ones_survive() -> None:
    (only,) = draw("room,x,y,width,depth\nLab,0,0,6,4\nHall,0,9,nan,4\nStore,1e9,0,3,4\n")
    assert list(bounds(only)) == ["Lab"]
    assert only.notes[0].startswith("rooms.csv, row 3: left out: length 'nan' is not a number")
    assert only.notes[1].startswith("rooms.csv, row 4: left out: it lies at x 1e+09, y 0 m")


def test_a_workbook_is_read() -> None:
    book = openpyxl.Workbook()
    for row in (["Room", "x", "y", "width (ft)", "depth (ft)"], ["Lab", 0, 0, 10, 20]):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    (only,) = draw_schedule(out.getvalue(), file="rooms.xlsx")
    assert bounds(only) == {"Lab": (0, 0, 3.048, 6.096)}


def test_a_length_that_stands_in_two_units_is_taken_from_the_first() -> None:
    (only,) = draw_schedule(b"room,width (m),width (ft),depth\nLab,5,16.4,3\n", file="rooms.csv")
    assert bounds(only) == {"Lab": (0, 0, 5, 3)}


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        (b"", "is empty"),
        (b"\x00\x01\x02", "is not a text table"),
        (b"PK\x03\x04 cut short", "cannot be read|damaged|not a workbook"),
        (b"room,x,y\nLab,0,0\n", "no row of titles has length and width"),
        (b"room,width,depth\n", "no row is a room"),
        (b"room,width,width,depth\nLab,5,4,3\n", "two columns are called 'width'"),
        (b"room,length (ft),room length (ft),depth\nA,5,4,3\n", "or mean the same"),
        (b"%PDF-1.4 a plan", "is not a text table"),
        (b"room,x,y,width,depth\n" + b"A,0,0,3,3\n" * 5001, "has 5001 rooms; at most 5000"),
    ],
)
def test_what_is_no_table_of_rooms_is_refused_in_one_line(data: bytes, complaint: str) -> None:
    with pytest.raises(PlanError, match=complaint) as caught:
        draw_schedule(data, file="rooms.csv")
    assert str(caught.value).startswith("rooms.csv")
    assert "\n" not in str(caught.value)
    assert "--" not in str(caught.value)
    assert caught.value.todo
