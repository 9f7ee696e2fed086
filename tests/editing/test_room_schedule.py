"""A table of rooms and their sizes becomes a plan; a bad row is named and the others survive."""

from __future__ import annotations

import io
import itertools
from typing import Any

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.plan_edits import move_room
from hgmap.editing.room_schedule import RoomSchedule, read_room_schedule
from hgmap.errors import PlanError
from tests.editing.drawn_plans import plan_of


def read(text: str, **options: Any) -> RoomSchedule:
    return read_room_schedule(text.encode(), where="rooms.csv", **options)


def sizes(schedule: RoomSchedule) -> dict[str, tuple[float, float]]:
    found = {}
    for one in plan_of(schedule.draft).rooms:
        west, south, east, north = one.polygon.bounds
        found[one.name] = (round(east - west, 3), round(north - south, 3))
    return found


def test_rooms_are_laid_out_with_a_gap_and_can_be_dragged() -> None:
    schedule = read("name,length,width\nLab,6,5\nStore,3,2.5\nHall,10,8\n")
    assert sizes(schedule) == {"Lab": (6, 5), "Store": (3, 2.5), "Hall": (10, 8)}
    assert schedule.problems == ()
    polygons = [one.polygon for one in plan_of(schedule.draft).rooms]
    assert all(a.distance(b) >= 1 - 1e-9 for a, b in itertools.combinations(polygons, 2))
    moved = move_room(schedule.draft, schedule.draft.rooms[0].key, -20, 0)
    assert len(plan_of(moved).rooms) == 3


def test_places_are_used_where_they_are_known() -> None:
    schedule = read("Room;Length;Width;x;y\nLab;6,5;5;0;0\nStore;3;2,5;6,5;0\nHall;10;8;;\n")
    bounds = [one.polygon.bounds for one in plan_of(schedule.draft).rooms]
    assert bounds[:2] == [(0, 0, 6.5, 5), (6.5, 0, 9.5, 2.5)]
    assert bounds[2][0] >= 10.5


def test_feet_are_taken_from_the_title_the_option_and_the_cell() -> None:
    by_title = read("name,length (ft),width (ft),area (sq ft)\nLab,10,20,200\n")
    assert sizes(by_title) == {"Lab": (3.048, 6.096)}
    assert by_title.problems == ()
    assert sizes(read("name,length,width\nLab,10,20\n", units="ft")) == {"Lab": (3.048, 6.096)}
    assert sizes(read('name,length,width\nLab,"10\' 6""",20\'\n')) == {"Lab": (3.2, 6.096)}
    assert sizes(read("name,length_m,width_m\nLab,10,20\n", units="ft")) == {"Lab": (10, 20)}


@pytest.mark.parametrize("titles", ["Room,Name", "Name,Room"])
def test_where_room_and_name_stand_side_by_side_room_is_its_number(titles: str) -> None:
    cells = "G01,Lab" if titles == "Room,Name" else "Lab,G01"
    (only,) = read(f"{titles},Length,Width\n{cells},6,5\n").draft.rooms
    assert (only.id, only.name) == ("G01", "Lab")


def test_a_bad_row_is_named_and_the_good_ones_survive() -> None:
    schedule = read(
        "name,length,width,area,x,y\n"
        "Lab,6,5,30,,\n,6,5,,,\nA,six,5,,,\nB,6,,,,\nC,0,5,,,\nD,6000,5,,,\nE,,,16,,\n"
        "F,6,5,99,,\nLab,2,2,,,\nG,4,4,,1e9,0\n"
    )
    held = {one.where: one.message for one in schedule.problems if one.severity == "held"}
    assert held == {
        "rooms.csv, row 3": "left out: it has no name",
        "rooms.csv, row 4": "left out: length 'six' is not a number",
        "rooms.csv, row 5": "left out: it has no width",
        "rooms.csv, row 6": "left out: a length of 0 m",
        "rooms.csv, row 7": "left out: a length of 6000 m",
        "rooms.csv, row 11": "left out: it lies at x 1e+09, y 0 m",
    }
    notes = [one.message for one in schedule.problems if one.severity == "note"]
    assert notes == [
        "'E' has an area only: drawn as a square",
        "length by width is 30.00 m², the table says 99.00 m²",
        "a name stands twice: this is 'Lab (2)' now",
    ]
    assert list(sizes(schedule)) == ["Lab", "E", "F", "Lab (2)"]


def test_rooms_placed_on_one_another_are_laid_out_and_told() -> None:
    schedule = read("name,length,width,x,y\nA,6,5,0,0\nB,6,5,3,0\nC,6,5,6,0\n")
    assert [one.where for one in schedule.problems] == ["rooms.csv, row 3"]
    assert len(plan_of(schedule.draft).rooms) == 3


@pytest.mark.parametrize(
    ("text", "complaint"),
    [
        ("", "is empty"),
        ("name,length\nLab,3\n", "no row of titles has width"),
        ("a,b\n1,2\n", "no row of titles has name and length and width"),
        ("name,length,width\n", "no row is a room"),
        ("name,length,width\nLab,x,y\n", r"no row is a room \(row 2 left out: length 'x'"),
        ("name,length,width,x,y\nA,6,5,-4000,0\nB,6,5,4000,0\n", "span 8006 m"),
    ],
)
def test_a_table_without_rooms_is_refused_in_one_line(text: str, complaint: str) -> None:
    with pytest.raises(PlanError, match=complaint) as caught:
        read(text)
    assert str(caught.value).startswith("rooms.csv")
    assert "\n" not in str(caught.value)


def workbook(*sheets: tuple[str, list[list[Any]]]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_workbook_is_read_with_a_title_line_above_its_header() -> None:
    rows = [["Schedule of rooms"], [], ["No.", "Room", "Length", "Width"], ["001", "Lab", 6, 5.25],
            ["002", "'=Store", 3, 2]]  # fmt: skip
    schedule = read_room_schedule(workbook(("Rooms", rows)), where="r.xlsx")
    assert sizes(schedule) == {"Lab": (6, 5.25), "=Store": (3, 2)}
    assert [one.id for one in schedule.draft.rooms] == ["001", "002"]
    two = workbook(("East", rows), ("West", rows))
    with pytest.raises(PlanError, match="say which sheet"):
        read_room_schedule(two, where="r.xlsx")
    assert len(read_room_schedule(two, where="r.xlsx", sheet="east").draft.rooms) == 2


words = st.text("ABab 12", max_size=3)
numbers = st.one_of(
    st.just(""), st.integers(-5, 40).map(str), st.floats(0, 30).map("{:.2f}".format)
)


@given(st.lists(st.tuples(words, words, numbers, numbers, numbers, numbers, numbers), max_size=12))
def test_whatever_the_rows_say_the_plan_is_read_or_refused_in_one_line(
    rows: list[tuple[str, ...]],
) -> None:
    text = "\n".join(["name,id,length,width,area,x,y", *(",".join(row) for row in rows)])
    try:
        schedule = read(text)
    except PlanError as error:
        if "no row is a room" not in str(error):
            raise
        return
    lost = {one.where for one in schedule.problems if one.severity == "held"}
    filled = sum(any(cell.strip() for cell in row) for row in rows)
    assert len(plan_of(schedule.draft).rooms) + len(lost) == filled


def test_the_draft_is_written_as_any_other_plan() -> None:
    schedule = read("name,length,width\nLab,6,5\n")
    assert schedule.draft.to_bytes().splitlines()[1] == (
        b'{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Lab"}, '
        b'"geometry": {"type": "Polygon", "coordinates": '
        b"[[[0.0, 0.0], [0.0, 5.0], [6.0, 5.0], [6.0, 0.0], [0.0, 0.0]]]}}"
    )
