from __future__ import annotations

import csv
import io

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.editing.sheet import (
    ReadingsSheet,
    read_sheet,
    with_cells,
    with_columns,
    with_rows,
    without_rows,
)
from hgmap.errors import ReadingsError

NAME = "readings/first.csv"
TABLE = b'id,x,value,note\nR1,1,0.5,\n\nR2,2,0.6,"a ""b"", c"\nR3,3,0.7,last'


def sheet(data: bytes = TABLE) -> ReadingsSheet:
    return read_sheet(data, name=NAME)


CELL = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cf", "Cs", "Zl", "Zp"]), max_size=6
).map(str.strip)
LATIN = st.text(st.sampled_from("aéµ \",;\t|'x1."), max_size=6).map(str.strip)


@st.composite
def tables(draw: st.DrawFn) -> bytes:
    """Draw a file as some program may have written it."""
    codec, mark = draw(st.sampled_from([
        ("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("cp1252", b""), ("utf-16-le", b"\xff\xfe"),
        ("utf-16-be", b"\xfe\xff"),
    ]))  # fmt: skip
    cell = LATIN if codec == "cp1252" else CELL | LATIN
    rows = draw(st.lists(st.lists(cell | st.just("two\nlines"), min_size=1, max_size=5),
                         max_size=6))  # fmt: skip
    stream = io.StringIO()
    writer = csv.writer(
        stream,
        delimiter=draw(st.sampled_from(",;\t|")),
        lineterminator=draw(st.sampled_from(["\n", "\r\n"])),
        quoting=draw(st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])),
    )
    writer.writerow(["id", "value", "unit", "note"])
    writer.writerows(rows)
    text = stream.getvalue()
    if draw(st.booleans()):
        text = text.rstrip("\r\n")
    return mark + text.encode(codec)


@given(tables() | st.binary(max_size=80))
def test_a_table_that_is_read_is_written_as_it_was(data: bytes) -> None:
    try:
        one = sheet(data)
    except ReadingsError:
        return
    assert one.to_bytes() == data
    assert with_cells(one, {}) is one


@given(tables(), st.data())
def test_an_edited_cell_leaves_every_other_line_as_it_was(data: bytes, draw: st.DataObject) -> None:
    one = sheet(data)
    assume(one.rows)
    row, cells = draw.draw(st.sampled_from(one.rows))
    position = draw.draw(st.integers(0, 5))
    new = draw.draw(LATIN)
    assume(any(c for k, c in enumerate(cells) if k != position) or new)
    after = with_cells(one, {(row, position): new})
    assert after.cell(row, position) == new
    others = [other for other in one.rows if other[0] != row]
    assert [other for other in after.rows if other[0] != row] == others
    count = one.record(row)[1]
    assert after.lines[: row - 1] == one.lines[: row - 1]
    assert after.lines[row - 1 + count :] == one.lines[row - 1 + count :]
    kept = {k: c for k, c in enumerate(cells) if k != position}
    assert {k: after.cell(row, k) for k in kept} == kept
    assume("\n" not in one.cell(row, position))  # a new text is of one line
    back = with_cells(after, {(row, position): one.cell(row, position)})
    assert [back.cell(other, k) for other, _ in one.rows for k in range(6)] == [
        one.cell(other, k) for other, _ in one.rows for k in range(6)
    ]


@given(tables(), st.lists(st.lists(LATIN, min_size=4, max_size=4).filter(any), max_size=3))
def test_rows_are_added_below_and_taken_away_again(data: bytes, rows: list[list[str]]) -> None:
    one = sheet(data)
    after = with_rows(one, rows)
    assert after.to_bytes().startswith(data)
    assert [list(cells) for _, cells in after.rows[len(one.rows) :]] == rows
    back = without_rows(after, [row for row, _ in after.rows[len(one.rows) :]])
    assert back.rows == one.rows
    assert back.to_bytes().startswith(data)


@given(tables(), st.data())
def test_a_deleted_row_takes_only_its_own_lines(data: bytes, draw: st.DataObject) -> None:
    one = sheet(data)
    assume(one.rows)
    row, _ = draw.draw(st.sampled_from(one.rows))
    count = one.record(row)[1]
    after = without_rows(one, [row])
    assert after.lines == one.lines[: row - 1] + one.lines[row - 1 + count :]
    kept = without_rows(one, [row], keep_numbers=True)
    assert kept.rows == tuple(other for other in one.rows if other[0] != row)


def test_a_cell_is_written_in_the_files_own_way() -> None:
    after = with_cells(sheet(), {(4, 3): "d, e", (2, 2): "0.9"})
    assert after.to_bytes() == TABLE.replace(b"0.5", b"0.9").replace(
        b'"a ""b"", c"', b'"d, e"'
    )  # fmt: skip
    semicolons = b'\xef\xbb\xbf"id";"value"\r\n"R1";"0,5"\r\n'
    after = with_rows(sheet(semicolons), [["R2", "0,6"]])
    assert after.to_bytes() == semicolons + b'"R2";"0,6"\r\n'
    after = with_cells(sheet(b'id,v\n R1 ,"1"\n'), {(2, 1): "2"})
    assert after.to_bytes() == b'id,v\n R1 ,"2"\n'


def test_a_column_is_added_to_the_header_alone() -> None:
    after = with_columns(sheet(), ["floor"])
    assert after.to_bytes() == TABLE.replace(b"note\n", b"note,floor\n")
    assert with_cells(after, {(2, 4): "top"}).to_bytes().splitlines()[1] == b"R1,1,0.5,,top"
    with pytest.raises(ReadingsError, match="row 2: the row has more cells"):
        with_columns(sheet(b"id,v\nR1,2,3\n"), ["floor"])


def test_bytes_that_the_encoding_does_not_know_stay() -> None:
    data = b"id,note\nR1,\x81\xe9\nR2,\n"
    assert with_cells(sheet(data), {(3, 1): "é"}).to_bytes() == data[:-1] + b"\xe9\n"
    with pytest.raises(ReadingsError, match="cannot be written in the file's encoding"):
        with_cells(sheet(data), {(3, 1): "水"})


def test_a_row_on_two_lines_that_becomes_one_leaves_the_numbers_of_the_others() -> None:
    data = b'id,note\nR1,"two\nlines"\nR2,\n'
    after = with_cells(sheet(data), {(2, 1): "one"})
    assert [row for row, _ in after.rows] == [2, 4]


def test_quotation_marks_that_do_not_fit_are_edited_line_by_line_or_not_at_all() -> None:
    data = b'id,note\nR1,"never closed\nR2,b\n'
    assert with_cells(sheet(data), {(3, 1): "c"}).to_bytes() == data.replace(b",b", b",c")
    mended = with_cells(sheet(data), {(2, 1): "closed"})
    assert [cells for _, cells in mended.rows] == [("R1", "closed"), ("R2", "b")]


def test_a_row_that_is_not_there_is_told() -> None:
    for row in (1, 3, 99):
        with pytest.raises(ReadingsError, match=f"row {row}: no such row"):
            with_cells(sheet(), {(row, 0): "x"})
