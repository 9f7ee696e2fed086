"""Titles, headers and columns: by name, by unit, by content; two that fit are asked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import ReadingsError
from hgmap.site.intake.header import find_header
from hgmap.site.intake.mapping import Columns, choose_columns
from hgmap.site.intake.opening import open_text
from hgmap.site.intake.synonyms import RANK, SYNONYMS, TARGETS, read_title


def columns_of(text: str, **said: str) -> Columns:
    sheet = open_text(text.encode(), where="a.csv")
    header = find_header(sheet.top(), {one.casefold() for one in said.values()})
    assert header is not None
    rows = [row for row in sheet.rows() if row[0] > header.last]
    return choose_columns(header, rows, said, where="a.csv")


def theirs(columns: Columns) -> dict[str, str]:
    return {one.ours: one.theirs for one in columns.matches}


@pytest.mark.parametrize(
    ("title", "key", "concentration", "measure"),
    [
        ("Hg (ng/m3)", "hg", "ng/m³", ""),
        ("Result [µg/m³]", "result", "µg/m³", ""),
        ("Hg ng/m3", "hg", "ng/m³", ""),
        ("hg_ug_m3", "hg", "µg/m³", ""),
        ("Reading in ug/m3", "reading", "µg/m³", ""),
        ("µg/100 cm²", "", "µg/100 cm²", ""),
        ("ppb", "", "ppb", ""),
        ("Height (ft)", "height", "", "ft"),
        ("height_m", "height", "", "m"),
        ("Temp °F", "temp", "", "°f"),
        ("Pressure [mbar]", "pressure", "", "mbar"),
        ("Date/Time", "date time", "", ""),
        ("Sample #", "sample", "", ""),
        ("#", "no", "", ""),
        ("x", "x", "", ""),
        ("m", "m", "", ""),  # a title alone is no unit
    ],
)
def test_a_title_is_taken_apart(title: str, key: str, concentration: str, measure: str) -> None:
    found = read_title(title)
    assert (found.key, found.concentration, found.measure) == (key, concentration, measure)


def test_every_synonym_means_one_column_and_reads_as_it_is_spelled() -> None:
    assert set(SYNONYMS) == set(TARGETS)
    assert sum(map(len, SYNONYMS.values())) == len(RANK)
    for name, (ours, _) in RANK.items():
        assert read_title(name.title()).ours is not None, name
        assert read_title(name).ours[0] == ours, name  # type: ignore[index]


def test_columns_are_known_by_name_unit_and_content() -> None:
    columns = columns_of(
        "Nr;Raum;When it was;Quecksilber [ng/m3];what\n1;A;2026-03-02 9:05;410;field blank\n"
        "2;B;2026-03-02 9:06;90;blank\n"
    )
    assert theirs(columns) == {"id": "Nr", "room": "Raum", "time": "When it was",
                               "value": "Quecksilber [ng/m3]", "kind": "what"}  # fmt: skip
    assert {one.ours: one.why for one in columns.matches}["time"] == "by its content"


def test_a_column_of_numbers_alone_is_the_value_and_a_second_one_a_question() -> None:
    assert theirs(columns_of("id,room,x1\nR1,A,0.5\n"))["value"] == "x1"
    with pytest.raises(ReadingsError, match="'x1' and 'x2' could both be the value"):
        columns_of("id,room,x1,x2\nR1,A,0.5,0.6\n")
    assert theirs(columns_of("id,room,x1,x2\nR1,A,0.5,0.6\n", value="x2"))["value"] == "x2"


def test_the_better_name_wins_and_an_empty_column_is_no_rival() -> None:
    columns = columns_of("sample,room,location,result,reading\nS1,A,by the door,0.5,\n")
    assert theirs(columns)["room"] == "room"
    assert theirs(columns)["value"] == "result"
    assert [columns.titles[k].text for k in columns.unread] == ["location"]


def test_a_person_may_say_a_column_by_title_by_number_or_that_there_is_none() -> None:
    text = "id,room,value,unit\nR1,A,0.5,ug/m3\n"
    assert theirs(columns_of(text, note="ROOM"))["note"] == "room"
    assert "room" not in theirs(columns_of(text, note="room"))
    assert theirs(columns_of(text, note="#2"))["note"] == "room"
    assert "unit" not in theirs(columns_of(text, unit=""))
    for ours, title, why in (
        ("note", "rooom", "no column 'rooom'"), ("note", "#9", "no column '#9'"),
        ("vlaue", "value", "did you mean 'value'"), ("note", "#99999999999", "no column"),
    ):  # fmt: skip
        with pytest.raises(ReadingsError, match=why):
            columns_of(text, **{ours: title})


@pytest.mark.parametrize(
    ("text", "delimiter_count"),
    [
        ("id;room;Hg (ng/m3)\nR1;A;0,41\nR2;B;0,52\n", 3),
        ("id|room|Hg (ng/m3)\nR1|A, B|0.41\n", 3),
        ("id\troom\tHg (ng/m3)\nR1\tA, B\t0,41\n", 3),
        ("id,room,Hg (ng/m3)\nR1,A;B,0.41\n", 3),
        ("id    room    Hg (ng/m3)\nR1    A one    0.41\n", 3),
    ],
)
def test_the_delimiter_is_the_one_that_finds_the_header(text: str, delimiter_count: int) -> None:
    rows = list(open_text(text.encode(), where="a.csv").rows())
    assert {len(cells) for _, cells in rows} == {delimiter_count}


def test_a_cell_over_two_lines_is_one_and_rows_keep_their_line_numbers() -> None:
    sheet = open_text(b'id,room,value\r\nR1,"A\r\nB",1\r\n\r\nR2,\xe2\x80\xa8C,2\r\n', where="a")
    assert [(n, list(cells)) for n, cells in sheet.rows()] == [
        (1, ["id", "room", "value"]), (2, ["R1", "A\nB", "1"]), (4, []), (5, ["R2", "C", "2"]),
    ]  # fmt: skip


@given(st.text(max_size=200))
def test_no_title_makes_it_raise(text: str) -> None:
    assert read_title(text).text == text


@given(st.binary(max_size=300))
def test_no_bytes_make_the_opening_raise_anything_but_one_line(data: bytes) -> None:
    try:
        sheet = open_text(data, where="a.csv")
    except ReadingsError:
        return
    numbers = [number for number, _ in sheet.rows()]
    assert numbers == sorted(set(numbers))
    find_header(sheet.top())


def test_a_second_table_below_does_not_hide_the_rows_of_the_first() -> None:
    text = "room,result,unit\nA,0.5,ug/m3\nid,room,result,unit,x,y\nR1,B,0.7,ug/m3,1,1\n"
    header = find_header(open_text(text.encode(), where="a.csv").top())
    assert header is not None
    assert header.rows == (1,)


def test_low_is_the_end_of_a_range_only_beside_a_qualifier() -> None:
    # "low" and "high" may be two heights: then low is no end of a range
    columns = columns_of("room,low,high value\nA,0.5,0.7\n")
    assert theirs(columns) == {"room": "room", "value": "high value"}
    assert "low" in theirs(columns_of("room,low,value,qualifier\nA,0.5,0.7,to\n"))


def test_numbered_results_are_asked_and_a_volume_is_no_kind() -> None:
    with pytest.raises(ReadingsError, match=r"'Reading 1' .* and 'Reading 2' .* could both be"):
        columns_of("Location,Reading 1,Reading 2\nA,0.5,0.6\n")
    columns = columns_of("Sample,Location,Volume (L),Result (ug/m3)\nS1,A,96,0.5\nS2,A,96,0.4\n")
    assert theirs(columns) == {"id": "Sample", "room": "Location", "value": "Result (ug/m3)"}


def test_a_line_of_names_above_the_header_is_no_part_of_it() -> None:
    text = "Building: Old school,Surveyor: nobody,\nRoom,Time,Hg (ng/m3)\nA,2026-03-02,410\n"
    header = find_header(open_text(text.encode(), where="a.csv").top())
    assert header is not None
    assert header.rows == (2,)
