"""Each row becomes one reading, used or held with its reason; none is lost."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import ReadingsError
from hgmap.site.building import Floor, NamedGrid
from hgmap.site.folder import DEFAULT_HEIGHT_BANDS
from hgmap.site.model import Conditions, Problem
from hgmap.site.plan import read_plan
from hgmap.site.reading import Reading
from hgmap.site.reading_context import COLUMNS
from hgmap.site.readings import ReadingContext, hold_repeated_ids, read_readings

HEADER = "id,floor,room,x,y,height,time,value,unit,qualifier,round,note"
GOOD = "R1,ground,A,1,1,1.5,2026-03-02T09:30,0.41,ug/m3,,,"

Read = Callable[..., tuple[list[Reading], list[Problem]]]


@pytest.fixture(scope="module")
def context(make_plan: Any) -> ReadingContext:
    plan = read_plan(json.dumps(make_plan()).encode(), where="p", floor="ground")
    floor = Floor("ground", "Ground floor", plan.rooms, plan.walls, plan.openings)
    return ReadingContext(
        medium="air",
        analyte="elemental mercury vapour",
        floors={"ground": floor, "ground floor": floor},
        lost_floors=frozenset({"attic"}),
        rounds=frozenset({"before", "after"}),
        bands=DEFAULT_HEIGHT_BANDS,
        detection_limit=None,
        default_height_m=None,
    )


@pytest.fixture(scope="module")
def read(context: ReadingContext) -> Read:
    def read_it(
        text: str | bytes, round_name: str | None = "before", **changes: Any
    ) -> tuple[list[Reading], list[Problem]]:
        data = text if isinstance(text, bytes) else text.encode()
        return read_readings(
            data, replace(context, **changes), where="a.csv", round_name=round_name
        )

    return read_it


@pytest.fixture(scope="module")
def one(read: Read) -> Callable[..., Reading]:
    """Return a function that reads the good row with some cells changed."""

    def read_one(**cells: str) -> Reading:
        context = {k: cells.pop(k) for k in list(cells) if k not in COLUMNS}
        row = dict(zip(HEADER.split(","), GOOD.split(","), strict=True)) | cells
        out = io.StringIO()
        csv.writer(out).writerows([list(row), list(row.values())])
        readings, _ = read(out.getvalue(), **context)
        assert len(readings) == 1
        return readings[0]

    return read_one


def test_a_whole_row_is_read_as_written(one: Callable[..., Reading]) -> None:
    reading = one()
    assert reading.usable
    assert (reading.id, reading.floor, reading.room, reading.round) == ("R1", "ground", "A",
                                                                        "before")  # fmt: skip
    assert (reading.x, reading.y, reading.height_m) == (1.0, 1.0, 1.5)
    assert (reading.value, reading.unit, reading.concentration) == (0.41, "ug/m3", 0.41)
    assert reading.time is not None
    assert reading.time.isoformat() == "2026-03-02T09:30:00"
    assert (reading.band, reading.placed, reading.where) == (
        "adult breathing",
        "given",
        "a.csv, row 2",
    )
    assert reading.cautions == ()


@pytest.mark.parametrize(
    ("cells", "reason"),
    [
        ({"value": ""}, "no value"),
        ({"value": "NaN"}, "value 'NaN': not measured"),
        ({"value": "inf"}, "value 'inf': not a number"),
        ({"value": "1e999"}, "beyond any measurement"),
        ({"value": "1e7"}, "above the saturated concentration"),
        ({"value": "1,234"}, "decimal mark or for thousands"),
        ({"value": "-0.1"}, "cannot be"),
        ({"value": "<LOD"}, "a non-detect without its detection limit"),
        ({"value": "ND"}, "a non-detect without its detection limit"),
        ({"value": "trace"}, "how much is not said"),
        ({"value": "OL"}, "above the top of the scale, which is not said"),
        ({"value": "5.5 ng/m3"}, "two units"),
        ({"value": "9-2"}, "ends below its start"),
        ({"value": "9", "qualifier": "to"}, "a range without its low end"),
        ({"qualifier": "about"}, "qualifier 'about' is not"),
        ({"kind": "ambient"}, "kind 'ambient' is not known"),
        ({"x": "", "y": "", "grid": "C4"}, "the floor has no grid"),
        ({"x": "", "y": "", "offsets": "left 1"}, "not from two walls"),
        ({"x": "", "y": "", "offsets": "left 1; bottom 99"}, "outside room 'Room A'"),
        ({"offsets": "right 1; top 1"}, "m apart"),
        ({"room": "", "x": "", "y": "", "offsets": "left 1; top 1"}, "of which room?"),
        ({"value": "0"}, "a reading of zero is a non-detect"),
        ({"value": "<0.05", "qualifier": ">"}, "disagree"),
        ({"unit": ""}, "no unit"),
        ({"unit": "furlong"}, "not known"),
        ({"unit": "mg/kg"}, "is a unit for bulk"),
        ({"unit": "ppb"}, "without the temperature"),
        ({"unit": "ppm"}, "not read"),
        ({"time": "2 March"}, "not a date"),
        ({"time": "2026-02-30"}, "no day 30"),
        ({"time": "02/03/2026"}, "is the day first or the month?"),
        ({"floor": "basement"}, "no floor 'basement'"),
        ({"floor": "grund"}, "did you mean 'ground'?"),
        ({"floor": "attic"}, "the plan of floor 'attic' could not be read"),
        ({"room": "C"}, "no room 'C' on floor 'ground'"),
        ({"room": "Rom A"}, "did you mean 'Room A'?"),
        ({"x": "7"}, "(7, 1) lies 1.00 m outside room 'Room A'"),
        ({"room": "", "x": "99"}, "lies in no room"),
        ({"room": "", "x": "", "y": ""}, "neither a room nor coordinates"),
        ({"y": ""}, "x without y"),
        ({"x": "abc"}, "x 'abc' is not a number"),
        ({"x": "1e999"}, "beyond any measurement"),
        ({"height": ""}, "no height"),
        ({"height": "somewhere"}, "height 'somewhere'"),
        ({"height": "3"}, "in no height band"),
        ({"height": "-1"}, "below the floor"),
        ({"round": "later"}, "round 'later' is not in site.toml"),
    ],
)
def test_a_reading_that_cannot_be_trusted_is_held_with_its_reason(
    one: Callable[..., Reading], cells: dict[str, str], reason: str
) -> None:
    reading = one(**cells)
    assert not reading.usable
    assert reason in "; ".join(reading.held)
    assert all("\n" not in text for text in reading.held)
    for number in (reading.x, reading.y, reading.value, reading.height_m, reading.concentration):
        assert number is None or abs(number) < float("inf")


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        ({"value": "~150", "unit": "ng/m3"}, ("~", 150.0, None, 0.15, None)),
        ({"value": "100-5,000", "unit": "ng/m3"}, ("to", 5000.0, 100.0, 5.0, 0.1)),
        ({"value": "5", "low": "2", "qualifier": "to"}, ("to", 5.0, 2.0, 5.0, 2.0)),
        ({"value": "up to 500", "unit": "ng/m3"}, ("up to", 500.0, None, 0.5, None)),
        ({"value": ">999"}, (">", 999.0, None, 999.0, None)),
        ({"value": "ND", "detection_limit": "0.1"}, ("<", 0.1, None, 0.1, None)),
        ({"value": "0", "detection_limit": "0.1"}, ("<", 0.1, None, 0.1, None)),
        ({"value": "0.05", "qualifier": "ND"}, ("<", 0.05, None, 0.05, None)),
        ({"value": "0.5 ug/m3", "unit": ""}, ("", 0.5, None, 0.5, None)),
        ({"value": "0.41", "qualifier": "="}, ("", 0.41, None, 0.41, None)),
    ],
)
def test_a_result_is_read_as_people_write_it(
    one: Callable[..., Reading], cells: dict[str, str], expected: tuple[Any, ...]
) -> None:
    reading = one(**cells)
    assert reading.held == ()
    assert (
        reading.qualifier, reading.value, reading.low, reading.concentration,
        reading.concentration_low,
    ) == pytest.approx(expected)  # fmt: skip
    if expected[0] in ("~", "to", "up to"):
        assert reading.verdict == "usable with a caution"


def test_an_instruments_height_may_be_in_feet_or_words(one: Callable[..., Reading]) -> None:
    assert one(height="5 ft").height_m == pytest.approx(1.524)
    assert one(height="breathing zone").verdict == "usable with a caution"


def test_parts_per_billion_take_the_air_of_the_row_else_of_the_round(read: Read) -> None:
    text = f"{HEADER},temperature,pressure\n{GOOD.replace('ug/m3', 'ppb')},{{}},{{}}\n"
    # 8.199 µg/m³ a ppb at 25 °C and one atmosphere: mercury.md section 4, calculated there from
    # the ideal gas law; half the pressure halves it.
    conditions = {"before": Conditions(temperature_c=25.0)}
    for cells, context, expected in (
        (("25", ""), {}, 0.41 * 8.199),
        (("25", "50.6625"), {}, 0.41 * 8.199 / 2),
        (("", ""), {"conditions": conditions}, 0.41 * 8.199),
    ):
        reading = read(text.format(*cells), **context)[0][0]
        assert reading.held == ()
        assert reading.concentration == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize("kind", ["background", "field blank", "bag headspace"])
def test_what_is_not_taken_at_a_place_needs_none_and_is_never_mapped(
    one: Callable[..., Reading], kind: str
) -> None:
    for cells in ({"floor": "", "room": "", "x": "", "y": "", "height": ""}, {"room": "nowhere"}):
        reading = one(kind=kind, **cells)
        assert reading.held == ()
        assert not reading.on_map
        assert reading.band == ""


def test_a_bulk_sample_beside_air_readings_keeps_its_own_unit_and_is_never_mapped(
    one: Callable[..., Reading],
) -> None:
    reading = one(kind="bulk sample", value="200", unit="mg/kg")
    assert (reading.held, reading.medium, reading.concentration) == ((), "bulk", 200.0)
    assert not reading.on_map
    # without a word that it is meant so, the unit may be a slip: held
    assert not one(value="200", unit="mg/kg").usable


def test_a_source_search_is_in_its_own_band_at_any_height(one: Callable[..., Reading]) -> None:
    for height in ("", "1.5", "0.02"):
        reading = one(kind="source search", height=height)
        assert (reading.usable, reading.band) == (True, "source search")


def test_a_place_may_be_a_grid_square_or_offsets_from_two_walls(
    read: Read, context: ReadingContext
) -> None:
    floor = context.floors["ground"]
    grid = NamedGrid("", 0.0, 0.0, 1.0, 0.5)
    floors = dict.fromkeys(("ground", "ground floor"), replace(floor, grids=(grid,)))
    text = f"{HEADER},grid,offsets\nR1,ground,A,,,1.5,,0.4,ug/m3,,,,{{}},{{}}\n"
    for cells, source, place in (
        (("C4", ""), "grid", (2.0, 1.5)),
        (("", "left 2 bottom 1.5"), "", None),
        (("", "left 2; bottom 1.5"), "walls", (2.0, 1.5)),
        (("C4", "left 2; bottom 1.5"), "grid", (2.0, 1.5)),
    ):
        reading = read(text.format(*cells), floors=floors)[0][0]
        assert reading.usable == (place is not None)
        if place is not None:
            assert reading.placed == source
            assert (reading.x, reading.y) == pytest.approx(place)


def test_a_file_without_a_round_of_its_own_needs_it_in_the_row(read: Read) -> None:
    readings, _ = read(f"{HEADER}\n{GOOD}\n", round_name=None)
    assert "several rounds share this file" in readings[0].held[0]


@pytest.mark.parametrize(("text", "sign"), [("<0.05", "<"), ("> 2", ">"), ("<  0.05", "<")])
def test_a_qualifier_may_stand_before_the_value(
    one: Callable[..., Reading], text: str, sign: str
) -> None:
    reading = one(value=text)
    assert reading.usable
    assert reading.qualifier == sign


def test_a_zero_is_a_non_detect_at_the_limit_of_the_site(read: Read) -> None:
    text = f"{HEADER}\n{GOOD.replace('0.41', '0')}\n"
    reading = read(text, detection_limit=(0.05, "µg/m³"))[0][0]
    assert reading.usable
    assert (reading.qualifier, reading.value, reading.unit) == ("<", 0.05, "µg/m³")
    assert "zero read as a non-detect" in reading.cautions[0]


def test_a_reading_with_a_room_only_stands_inside_it_and_says_so(
    one: Callable[..., Reading],
) -> None:
    reading = one(x="", y="")
    assert reading.usable
    assert reading.placed == "room"
    assert reading.x is not None
    assert 0 < reading.x < 6
    assert "representative point" in reading.cautions[0]


def test_a_reading_with_coordinates_only_finds_its_room(one: Callable[..., Reading]) -> None:
    assert one(room="", x="7").room == "B"


def test_a_reading_on_the_line_between_two_rooms_says_so(one: Callable[..., Reading]) -> None:
    reading = one(room="", x="6")
    assert reading.usable
    assert "on the line between" in reading.cautions[0]


def test_rooms_are_found_by_id_or_name_in_any_capitals(one: Callable[..., Reading]) -> None:
    assert {one(room=name).room for name in ("A", "a", "Room A", "ROOM A")} == {"A"}


def test_a_height_that_is_not_stated_is_taken_from_the_site_and_said(read: Read) -> None:
    text = f"{HEADER}\n{GOOD.replace('1.5', '')}\n"
    reading = read(text, default_height_m=1.2)[0][0]
    assert (reading.height_m, reading.usable) == (1.2, True)
    assert "height not stated" in reading.cautions[0]


def test_a_single_floor_need_not_be_named_unless_another_was_lost(
    read: Read, context: ReadingContext
) -> None:
    text = f"{HEADER}\n{GOOD.replace('ground', '')}\n"
    assert read(text)[0][0].held == ("no floor",)
    alone = read(text, lost_floors=frozenset())[0][0]
    assert (alone.floor, alone.usable) == ("ground", True)


# --- whole files


def table_of(delimiter: str, *rows: tuple[str, str, str]) -> str:
    """Return a file of rows of x, y and value."""
    lines = [("id", "floor", "room", "x", "y", "height", "value", "unit")]
    lines += [(f"R{n}", "ground", "A", x, y, "1", value, "ng/m3")
              for n, (x, y, value) in enumerate(rows)]  # fmt: skip
    return "\n".join(delimiter.join(line) for line in lines) + "\n"


@pytest.mark.parametrize("delimiter", ["\t", ";", "|"])
def test_thousands_in_a_file_without_a_decimal_comma_are_held_not_divided(
    read: Read, delimiter: str
) -> None:
    readings, _ = read(table_of(delimiter, ("1", "2", "1,850"), ("2", "2", "850")))
    assert readings[0].value is None
    assert "value '1,850': is the comma a decimal mark or for thousands?" in readings[0].held[0]
    assert (readings[1].value, readings[1].usable) == (850.0, True)


def test_thousands_beside_decimal_points_are_held(read: Read) -> None:
    readings, _ = read(table_of("\t", ("1.5", "2", "1,850"), ("2", "2", "<1,850")))
    for reading in readings:
        assert "the file also writes '1.5'" in reading.held[0]


def test_a_point_among_decimal_commas_is_held(read: Read) -> None:
    readings, _ = read(table_of(";", ("1,5", "2", "1.850"), ("2", "2", "1,850")))
    assert "value '1.850': is the point a decimal mark or for thousands?" in readings[0].held[0]
    assert "the file also writes '1,5'" in readings[0].held[0]
    assert (readings[1].value, readings[1].usable) == (1.85, True)


def test_a_decimal_comma_in_any_column_behind_any_sign_speaks_for_the_file(read: Read) -> None:
    readings, _ = read(table_of(";", ("1", "2", "1,850"), ("2", "2", "< 0,5")))
    assert [one.value for one in readings] == [1.85, 0.5]
    assert all(one.usable for one in readings)


def test_a_file_with_semicolons_decimal_commas_and_latin_1_is_read(read: Read) -> None:
    text = "id;floor;room;x;y;height;value;unit;note\nR1;ground;A;1,5;1,25;1,5;0,41;µg/m³;Büro\n"
    readings, notes = read(b"\xef\xbb\xbf" + text.encode())
    assert (readings[0].x, readings[0].value, readings[0].note) == (1.5, 0.41, "Büro")
    assert notes == []
    latin, notes = read(text.encode("latin-1"))
    assert latin == readings
    assert "read as cp1252" in notes[0].message


@pytest.mark.parametrize(
    ("data", "complaint"),
    [
        ("", "the file is empty"),
        (HEADER + "\n", "has a header but no row"),
        ("id,floor\n1,ground\n", "no column 'value' and no column 'unit'"),
        ("value\n1\n", "no column 'unit'"),
        ("value,unit,Value\n1,ug/m3,2\n", "column 'Value' stands twice"),
        ("x,x_m,value,unit\n1,1,1,ug/m3\n", "column 'x_m' stands twice"),
    ],
)
def test_a_file_that_is_no_readings_file_is_one_line(read: Read, data: str, complaint: str) -> None:
    with pytest.raises(ReadingsError, match=complaint) as caught:
        read(data)
    assert str(caught.value).startswith("a.csv")


def test_a_column_that_is_not_known_is_said_with_the_nearest(read: Read) -> None:
    _, notes = read("value,unit,flor\n1,ug/m3,ground\n")
    assert notes[0].message == "column 'flor' is not read"
    assert notes[0].todo == "did you mean 'floor'?"


def test_a_row_with_too_many_cells_is_held(read: Read) -> None:
    readings, _ = read(f"{HEADER}\n{GOOD},extra\n{GOOD.replace('R1', 'R2')},\n")
    assert "more cells than the header" in readings[0].held[0]
    assert readings[1].usable


def test_a_row_with_too_few_cells_is_held_and_the_next_is_used(read: Read) -> None:
    readings, _ = read(f"{HEADER}\nR0,ground\n{GOOD}\n")
    assert not readings[0].usable
    assert readings[1].usable


def test_a_loose_quotation_mark_holds_its_row_and_no_other(read: Read) -> None:
    text = f'{HEADER}\n"{GOOD}\n{GOOD}\n{GOOD.replace("R1", "R2")}"broken\n'
    readings, notes = read(text)
    assert [one.where for one in readings] == [f"a.csv, row {n}" for n in (2, 3, 4)]
    assert not readings[0].usable
    assert readings[1].usable
    assert notes[0].todo == "look at the quotation marks"


# --- the same id twice


def test_the_same_row_twice_counts_once(read: Read) -> None:
    first, second = hold_repeated_ids(read(f"{HEADER}\n{GOOD}\n{GOOD}\n")[0])
    assert first.usable
    assert "the same row twice" in second.held[0]
    assert "a.csv, row 2" in second.held[0]


def test_one_id_for_two_different_readings_holds_both(read: Read) -> None:
    both = hold_repeated_ids(read(f"{HEADER}\n{GOOD}\n{GOOD.replace('0.41', '0.9')}\n")[0])
    for reading in both:
        assert "stands for different readings (a.csv, row 2, a.csv, row 3)" in reading.held[0]


def test_the_same_id_in_two_rounds_is_no_matter(read: Read) -> None:
    rows = f"{HEADER}\n{GOOD}\n{GOOD.replace('ug/m3,,,', 'ug/m3,,after,')}\n"
    assert all(one.usable for one in hold_repeated_ids(read(rows)[0]))


def test_rows_without_an_id_in_two_files_of_a_round_are_not_taken_for_each_other(
    context: ReadingContext,
) -> None:
    readings = []
    for file, value in (("readings/a.csv", "0.41"), ("readings/b.csv", "0.9")):
        text = f"{HEADER}\n{GOOD.replace('R1', '').replace('0.41', value)}\n"
        readings += read_readings(text.encode(), context, where=file, round_name="before")[0]
    assert all(one.usable for one in hold_repeated_ids(readings))
    assert len({one.id for one in readings}) == 2


# --- laws


@given(st.lists(st.tuples(st.text(max_size=30), st.text(max_size=60)), min_size=1, max_size=8))
def test_any_id_and_note_is_read_and_no_row_is_lost(
    read: Read, pairs: list[tuple[str, str]]
) -> None:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(["id", "floor", "room", "height", "value", "unit", "note", "kind"])
    # a kind, for an id such as FB1 would be asked what it is
    writer.writerows([a, "ground", "A", "1.5", "0.4", "ug/m3", b, "reading"] for a, b in pairs)
    text = out.getvalue().replace("\0", "")  # a file with a NUL is refused as no text
    readings, _ = read(text.encode("utf-8", "replace"))
    assert len(readings) == len(pairs)
    assert all(one.usable for one in readings)
    assert len(hold_repeated_ids(readings)) == len(pairs)


@given(st.lists(st.text(st.characters(exclude_characters="\r\n\0"), max_size=40), max_size=8))
def test_any_line_as_it_stands_swallows_no_good_row(read: Read, lines: list[str]) -> None:
    body = [line for pair in zip(lines, [GOOD] * len(lines), strict=True) for line in pair]
    text = "\n".join([HEADER, GOOD, *body, GOOD]) + "\n"
    readings, _ = read(text.encode("utf-8", "replace"))
    assert sum(one.id == "R1" and one.usable for one in readings) >= 2 + len(lines)


@given(st.dictionaries(st.sampled_from(HEADER.split(",")), st.text(max_size=12), max_size=5))
def test_any_cell_is_used_or_held_and_never_crashes(
    one: Callable[..., Reading], cells: dict[str, str]
) -> None:
    cells = {
        key: "".join(c for c in text if c not in "\0\r\n" and not "\ud800" <= c <= "\udfff")
        for key, text in cells.items()
    }
    reading = one(**cells)
    if reading.usable:
        assert reading.concentration is not None
        assert reading.concentration > 0
        assert reading.band
        assert reading.x is not None
        assert reading.y is not None
