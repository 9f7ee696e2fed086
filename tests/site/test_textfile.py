"""Tables as people export them are read, row by row, with the numbers that an editor shows."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import ReadingsError
from hgmap.site.textfile import (
    AmbiguousNumberError,
    DecimalMarks,
    TextTable,
    decimal_marks,
    parse_number,
    printable,
    read_table,
)

NOTHING = DecimalMarks()
COMMA = DecimalMarks(comma="12,5")
POINT = DecimalMarks(point="12.5")
BOTH = DecimalMarks(comma="12,5", point="12.5")


def read(data: str | bytes) -> TextTable:
    return read_table(data.encode() if isinstance(data, str) else data, where="a.csv")


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_the_delimiter_is_found_and_rows_keep_their_line_numbers(delimiter: str, end: str) -> None:
    text = end.join([delimiter.join(row) for row in (("a", "b"), ("1", "2"), ("", ""), ("3", "4"))])
    table = read(text)
    assert table.delimiter == delimiter
    assert table.header == ("a", "b")
    assert table.rows == ((2, ("1", "2")), (4, ("3", "4")))


@pytest.mark.parametrize(
    ("data", "encoding"),
    [
        ("é,b\n1,2".encode(), "utf-8"),
        (b"\xef\xbb\xbf" + "é,b\n1,2".encode(), "utf-8"),
        ("é,b\n1,2".encode("latin-1"), "cp1252"),
        ("é,b\n1,2".encode("utf-16"), "utf-16"),
    ],
)
def test_the_encoding_is_found(data: bytes, encoding: str) -> None:
    table = read(data)
    assert (table.header, table.encoding) == (("é", "b"), encoding)


@pytest.mark.parametrize("data", [b"", b"   \n\n ", b"\xef\xbb\xbf", b"\n;;\n"])
def test_an_empty_file_is_one_line(data: bytes) -> None:
    with pytest.raises(ReadingsError, match=r"^a\.csv: the file is empty; "):
        read(data)


@pytest.mark.parametrize("data", [b"PK\x03\x04zip", b"%PDF-1.7", b"\x89PNG\r\n", b"a\x00b,c\n1,2"])
def test_a_file_that_is_no_text_says_so(data: bytes) -> None:
    with pytest.raises(ReadingsError, match="is not a text table"):
        read(data)


def test_a_cell_over_two_lines_is_one_cell_and_the_next_row_keeps_its_line() -> None:
    table = read('a,b\n1,"two\nlines"\n2,x\n')
    assert table.rows == ((2, ("1", "two\nlines")), (4, ("2", "x")))
    assert table.remark == ""


@pytest.mark.parametrize(
    "rows",
    [
        ['1,"never closed', "2,x", "3,y"],
        ['1,"opened', "2,x", '3,"again', "4,y"],
        ['1,"12" pipe', "2,x", "3,y"],
        ['"1,x', "2,x", "3,y"],
    ],
)
def test_a_loose_quotation_mark_swallows_no_row(rows: list[str]) -> None:
    table = read("\n".join(["a,b", *rows]) + "\n")
    assert [number for number, _ in table.rows] == list(range(2, 2 + len(rows)))
    assert table.rows[1][1] == ("2", "x")
    assert "each line was read by itself" in table.remark


def test_a_cell_of_a_million_letters_stops_no_other_row() -> None:
    table = read(f"a,b\n1,{'x' * 1_000_000}\n2,y\n")
    assert [number for number, _ in table.rows] == [2, 3]


def test_a_header_alone_has_no_rows() -> None:
    assert read("a,b\n").rows == ()


def test_what_could_steer_a_terminal_is_replaced() -> None:
    assert read("a,b\n1,x\x1b[2Jy\n").rows[0][1] == ("1", "x\ufffd[2Jy")
    assert printable("plain, accented é, 漢字, tab\t") == "plain, accented é, 漢字, tab\t"


@given(
    st.lists(
        st.tuples(st.text(max_size=20), st.text(max_size=20)).filter(
            lambda row: any(cell.strip(" \0\r\n\t").strip() for cell in row)
        ),
        max_size=8,
    ),
    st.sampled_from([",", ";", "\t", "|"]),
)
def test_what_a_csv_writer_writes_comes_back(rows: list[tuple[str, str]], delimiter: str) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(("id", "note"))
    writer.writerows(rows)
    table = read(out.getvalue().replace("\0", "").encode("utf-8", "replace"))
    assert len(table.rows) == len(rows)


# --- numbers


@pytest.mark.parametrize(
    ("text", "marks", "value"),
    [
        ("0.41", NOTHING, 0.41),
        ("0,41", NOTHING, 0.41),
        ("0,410", NOTHING, 0.41),
        ("0,410", POINT, 0.41),
        ("0.410", COMMA, 0.41),
        ("12,5", NOTHING, 12.5),
        ("1234,567", NOTHING, 1234.567),
        ("1,850", COMMA, 1.85),
        ("1.850", NOTHING, 1.85),
        ("1.850", POINT, 1.85),
        ("1850.5", COMMA, 1850.5),
        ("1e7", NOTHING, 1e7),
        ("1E-3", NOTHING, 1e-3),
        (".5", NOTHING, 0.5),
        ("5.", NOTHING, 5.0),
        ("+3", NOTHING, 3.0),
        ("\u22123", NOTHING, -3.0),
        ("1\u00a0200", NOTHING, 1200.0),
        ("1.234,5", COMMA, None),
        ("1,234.5", NOTHING, None),
        ("1,2,3", COMMA, None),
        ("NaN", NOTHING, None),
        ("inf", NOTHING, None),
        ("-inf", NOTHING, None),
        ("1_000", NOTHING, None),
        ("0x10", NOTHING, None),
        ("", NOTHING, None),
        (",", NOTHING, None),
        (".", NOTHING, None),
        ("LOD", NOTHING, None),
        ("1e", NOTHING, None),
    ],
)
def test_a_number_is_read_as_written_or_not_at_all(
    text: str, marks: DecimalMarks, value: float | None
) -> None:
    assert parse_number(text, marks) == value


@pytest.mark.parametrize("text", ["1,234", "12,345", "-1,000", "999,999"])
@pytest.mark.parametrize("marks", [NOTHING, POINT, BOTH])
def test_a_comma_that_could_be_thousands_is_never_guessed(text: str, marks: DecimalMarks) -> None:
    with pytest.raises(AmbiguousNumberError, match="comma"):
        parse_number(text, marks)


@pytest.mark.parametrize("text", ["1.234", "12.345", "-1.000", "999.999"])
@pytest.mark.parametrize("marks", [COMMA, BOTH])
def test_a_point_among_decimal_commas_is_never_guessed(text: str, marks: DecimalMarks) -> None:
    with pytest.raises(AmbiguousNumberError, match=r"point .* writes '12,5'"):
        parse_number(text, marks)


@pytest.mark.parametrize("text", ["1,234,567", "1.234.567"])
@pytest.mark.parametrize("marks", [NOTHING, COMMA, POINT])
def test_two_groups_of_three_are_no_decimals(text: str, marks: DecimalMarks) -> None:
    with pytest.raises(AmbiguousNumberError):
        parse_number(text, marks)


@pytest.mark.parametrize(
    ("cells", "comma", "point"),
    [
        (["1,850", "12,345", "3", "1.850", "LOD", ""], "", ""),
        (["12,5", "0,4"], "12,5", ""),
        (["0,410"], "0,410", ""),
        (["1234,567"], "1234,567", ""),
        (["1.234.567"], "1.234.567", ""),
        (["0.5"], "", "0.5"),
        (["1234.567"], "", "1234.567"),
        (["1,234,567"], "", "1,234,567"),
        (["1,5", "1.5"], "1,5", "1.5"),
    ],
)
def test_only_a_number_that_can_mean_one_thing_proves_a_mark(
    cells: list[str], comma: str, point: str
) -> None:
    assert decimal_marks(cells) == DecimalMarks(comma, point)
