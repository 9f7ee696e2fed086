"""Broken files of text, all invented: each has a one-line answer with its row; the rest is kept.

The files are in ``broken/``. Workbooks are in ``test_broken_workbooks.py``; the file of a million
rows is in ``tests/bench/million_rows.py``, since it takes longer than a test may.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

BROKEN = Path(__file__).parent / "broken"

NOTHING_DONE = [
    # file, what is broken, options, the whole answer behind the file's name
    ("wrong_header.csv", "titles that say nothing", [],
     "no header was found in its first 3 rows; write one line of titles over the rows, or say "
     "--column value=#3 and the like by number"),
    ("no_header.csv", "no header", [], "no header was found in its first 2 rows; write one line"),
    ("empty.csv", "no byte", [], "the file is empty; export it again"),
    ("spaces_only.csv", "spaces", [], "the file is empty; export it again"),
    ("header_only.csv", "no row", [], "has a header but no row; export it again"),
    ("only_totals.csv", "totals alone", [],
     "no row is a reading (row 2: a line of totals: 'Total'); look at the rows"),
    ("thousands.csv", "1,850 beside 1.5", [],
     "row 2: column 'value': value '1,850': is the comma a decimal mark or for thousands? the file "
     "also writes '1.5'; say --decimal comma or --decimal point"),
    ("thousands_other.csv", "1.850 beside 0,410", [],
     "row 2: column 'value': value '1.850': is the point a decimal mark or for thousands?"),
    ("units_missing.csv", "units nowhere", [],
     "row 2: column 'result': '410' has no unit, nor has the column; say the unit, as --unit"),
    ("unit_of_tonnes.csv", "Mg/m3: milligrams, or tonnes", [],
     "row 2: column 'Hg (Mg/m3)': '410' has no unit, nor has the column; say the unit"),
    ("two_results.csv", "two columns of results", [],
     "row 1: columns 'Hg (ng/m3)' (#3) and 'Result (ng/m3)' (#4) could both be the value; say "
     "which: --column value='Hg (ng/m3)'"),
    ("duplicate_header.csv", "one title twice", [],
     "row 1: columns 'value' (#3) and 'value' (#4) could both be the value; say which: --column "
     "value=#3"),
    ("dates_ambiguous.csv", "02/03/2026", [],
     "row 2: column 'time': '02/03/2026 9:05': is the day first or the month?; say --dates "
     "day-first or --dates month-first"),
    ("dates_contradict.csv", "13/03 and 03/14", [],
     "row 3: column 'time': '13/03/2026' has the day first, '03/14/2026' the month; say --dates"),
    ("clock_only.csv", "times without a day, new round", ["--round", "new"],
     "row 2: column 'time': time '9:05': a time of day without a date; say the day with --date"),
    ("round_unknown.csv", "a round that the site has not", [],
     "row 3: round 'second' is not in site.toml; add it there, or say --column round= and --round"),
    ("binary.csv", "bytes of no text", [], "is not a text table; export it as CSV"),
    ("portable_document.csv", "a PDF", [], "is a PDF, not a table; export it as CSV"),
    ("password.xlsx", "a workbook with a password", [],
     "is an old workbook or one with a password; save it as XLSX without a password"),
    ("old_workbook.xlsx", "an old workbook renamed", [],
     "is an old workbook or one with a password; save it as XLSX without a password"),
]  # fmt: skip

KEPT = [
    # file, what is broken, a line of the answer, rows written, those of them that will be held
    ("two_header_rows.csv", "units under the titles", "note: the header is rows 1 and 2", 2, 0),
    ("group_header_rows.csv", "titles over groups", "2 readings written", 2, 0),
    ("title_lines.csv", "title lines, the unit in one", "note: unit ng/m³ as row 2 says", 2, 0),
    ("totals_row.csv", "totals", "left out: row 4: a line of totals: 'Total'", 2, 0),
    ("repeated_header.csv", "a header on each page", "left out: row 4: the header again", 3, 0),
    ("note_lines.csv", "remarks between rows",
     "left out: row 3: a line of text: 'windows were opened after this one'", 2, 0),
    ("blank_lines.csv", "empty lines", "left out: rows 3-5: empty", 2, 0),
    ("mixed_units.csv", "ng/m3, ug/m3 and mg/kg", "3 readings written", 3, 0),
    ("unit_in_cell_against_title.csv", "a cell against its title",
     "row 3: value '0.5 ug/m3': its unit is not ng/m³, as its column says", 2, 1),
    ("unit_column_gaps.csv", "a unit left out", "will be held: row 3: no unit", 3, 1),
    ("unit_unknown.csv", "bananas", "will be held: row 3: unit 'bananas' is not known", 3, 2),
    ("dates_impossible.csv", "31 February", "row 2: time '31/02/2026': no day 31 in month 2", 2, 1),
    ("universal_time.csv", "a time zone", "row 2: time '2026-03-02T09:05Z': in universal", 2, 1),
    ("decimal_comma_between_commas.csv", "0,41 between commas", "will be held: row 3:", 3, 1),
    ("unclosed_quote.csv", "a quotation mark never closed",
     "note: row 3: unexpected end of data; each line was read by itself", 3, 1),
    ("ragged.csv", "rows of other lengths", "will be held: row 3: no value", 4, 1),
    ("bom.csv", "a byte-order mark", "2 readings written", 2, 0),
    ("nul_bytes.csv", "NUL", "note: control characters were replaced by \ufffd", 2, 0),
    ("right_to_left.csv", "U+202E", "note: control characters were replaced by \ufffd", 2, 0),
    ("control_characters.csv", "ESC", "note: control characters were replaced by \ufffd", 2, 0),
    ("formula_injection.csv", "cells that begin formulas", "3 readings written", 3, 0),
    ("utf16.csv", "UTF-16", "note: read as UTF-16; look at the accents", 2, 0),
    ("utf16_without_mark.csv", "UTF-16 without a mark", "note: read as UTF-16", 2, 0),
    ("latin1.csv", "latin-1", "note: read as Windows-1252; look at the accents", 2, 0),
    ("only_carriage_returns.csv", "lines end in CR", "2 readings written", 2, 0),
    ("negative.csv", "below zero", "will be held: row 2: value '-0.5' is below zero", 2, 1),
    ("text_in_numbers.csv", "words for numbers", "row 3: value 'see note': not a number", 3, 2),
    ("percent.csv", "5 %", "will be held: row 3: value '5 %': unit '%' is not known", 2, 1),
    ("nan_and_inf.csv", "nan, inf", "will be held: row 3: value 'inf': not a number", 3, 1),
    ("beyond_numbers.csv", "1e400", "row 2: value '1e400': beyond any measurement", 2, 1),
    ("ranges_upside_down.csv", "5-3", "row 2: value '5-3': a range that ends below its", 2, 1),
    ("dates_for_ranges.csv", "5-Jul for 5-7", "row 2: value '5-Jul': a date: did a spreadsheet",
     2, 1),
    ("kinds_unknown.csv", "ambient", "will be held: row 2: kind 'ambient' is not known", 3, 1),
    ("heights_in_words.csv", "above the sink", "row 3: height 'above the sink' names no", 3, 2),
    ("temperature_without_unit.csv", "71: of what?", "1 temperature or pressure names no unit",
     2, 0),
]  # fmt: skip


def test_there_are_fifty_and_every_file_is_in_a_table() -> None:
    listed = [one[0] for one in (*NOTHING_DONE, *KEPT)]
    assert sorted(listed) == sorted(path.name for path in BROKEN.iterdir())
    assert len(listed) >= 50


@pytest.mark.parametrize(("file", "broken", "options", "answer"), NOTHING_DONE,
                         ids=[one[0] for one in NOTHING_DONE])  # fmt: skip
def test_a_file_that_leaves_a_question_is_one_line_and_nothing_is_written(
    file: str,
    broken: str,
    options: list[str],
    answer: str,
    bare_site: Path,
    run: Callable[..., Any],
) -> None:
    before = (bare_site / "site.toml").read_bytes()
    done = run("import", "readings", BROKEN / file, "--into", bare_site, *options)
    assert done.code == 2, broken
    joint = ", " if answer.startswith("row ") else ": "
    assert done.err.startswith(f"hgmap: {file}{joint}{answer}")
    assert done.out == ""
    assert (bare_site / "site.toml").read_bytes() == before
    assert not (bare_site / "readings").exists() or not list((bare_site / "readings").iterdir())


@pytest.mark.parametrize(("file", "broken", "line", "rows", "held"), KEPT,
                         ids=[one[0] for one in KEPT])  # fmt: skip
def test_the_rest_of_a_broken_file_is_kept(
    file: str,
    broken: str,
    line: str,
    rows: int,
    held: int,
    bare_site: Path,
    run: Callable[..., Any],
    written_rows: Callable[[Path], list[dict[str, str]]],
) -> None:
    done = run("import", "readings", BROKEN / file, "--into", bare_site)
    assert line in done.out, broken
    assert done.out.count("will be held: row") == held
    assert done.code == (1 if held or "left out" in done.out else 0)
    written = written_rows(bare_site / "readings" / file)
    assert len(written) == rows
    assert f'readings = ["readings/{file}"]' in (bare_site / "site.toml").read_text("utf-8")


def test_no_cell_that_is_written_begins_a_formula(
    bare_site: Path,
    run: Callable[..., Any],
    written_rows: Callable[[Path], list[dict[str, str]]],
) -> None:
    run("import", "readings", BROKEN / "formula_injection.csv", "--into", bare_site)
    rows = written_rows(bare_site / "readings" / "formula_injection.csv")
    cells = [cell for row in rows for cell in row.values()]
    assert not [cell for cell in cells if cell.lstrip("\u200b").startswith(tuple("=+-@"))]
    assert [row["id"] for row in rows] == ["'=cmd", "'@R2", "R3"]
    assert rows[2]["room"] == "'-A"


def test_a_decimal_comma_between_commas_never_becomes_a_result(
    bare_site: Path,
    run: Callable[..., Any],
    written_rows: Callable[[Path], list[dict[str, str]]],
) -> None:
    run("import", "readings", BROKEN / "decimal_comma_between_commas.csv", "--into", bare_site)
    rows = written_rows(bare_site / "readings" / "decimal_comma_between_commas.csv")
    assert rows[1]["value"].startswith("row of more cells: R2 | ground | A")
    assert rows[1]["unit"] == ""
    assert (rows[0]["value"], rows[2]["value"]) == ("0.5", "0.5")


def test_a_huge_cell_is_held_and_does_not_stop_the_others(
    bare_site: Path, tmp_path: Path, run: Callable[..., Any]
) -> None:
    file = tmp_path / "huge.csv"
    file.write_text(f"id,room,value,unit\nR1,A,{'9' * 300_000},ug/m3\nR2,A,0.5,ug/m3\n", "utf-8")
    done = run("import", "readings", file, "--into", bare_site)
    assert "2 readings written" in done.out
    assert done.out.count("will be held: row 2:") == 1


def test_ten_thousand_columns_are_read_and_those_left_behind_are_counted(
    bare_site: Path, tmp_path: Path, run: Callable[..., Any]
) -> None:
    file = tmp_path / "wide.csv"
    titles = ["id", "room", "value", "unit", *(f"extra {k}" for k in range(9996))]
    cells = ["R1", "A", "0.5", "ug/m3", *map(str, range(9996))]
    file.write_text(f"{','.join(titles)}\n{','.join(cells)}\n", "utf-8")
    done = run("import", "readings", file, "--into", bare_site)
    assert done.code == 0, done.err
    assert "1 readings written" in done.out
    assert "and 9968 more" in done.out  # of 9996, 8 went into the note and 20 are named


def test_thirty_thousand_rows_keep_their_count(
    bare_site: Path,
    tmp_path: Path,
    run: Callable[..., Any],
) -> None:
    file = tmp_path / "long.csv"
    rows = [f"R{k},A,{k % 97 / 10},ug/m3" for k in range(30_000)]
    rows[12_345] = "R12345,A,?!,ug/m3"
    file.write_text("\n".join(["id,room,value,unit", *rows]), "utf-8")
    done = run("import", "readings", file, "--into", bare_site)
    assert "30000 readings written" in done.out
    assert "will be held: row 12347: value '?!': not a number" in done.out
