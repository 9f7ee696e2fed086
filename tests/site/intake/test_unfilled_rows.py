"""A field sheet that comes back half filled in: what was never read is said, and is no reading."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import ReadingsError
from hgmap.report.design_tables import FIELD_COLUMNS
from hgmap.site.intake.answers import Answers
from hgmap.site.intake.import_readings import ImportedReadings, import_readings

Run = Callable[..., Any]
TITLES = ",".join(FIELD_COLUMNS)


def line(name: str, *, kind: str = "reading", **filled: str) -> str:
    """Write a row of a field sheet; what is filled in goes behind what was printed."""
    blanks = FIELD_COLUMNS[FIELD_COLUMNS.index("time") :]
    return ",".join((name, "ground", "A", "1", "2", "1.5", kind, "",
                     *(filled.get(one, "") for one in blanks)))  # fmt: skip


READ = {"time": "2026-03-01T09:05", "value": "0.4", "unit": "ug/m3"}


def bring(folder: Path, *lines: str, titles: str = TITLES) -> ImportedReadings:
    text = "\n".join((titles, *lines)) + "\n"
    return import_readings(text.encode(), folder, Answers(), name="sheet.csv")


def ids(folder: Path, written_rows: Any) -> list[str]:
    return [one["id"] for one in written_rows(folder / "readings" / "sheet.csv")]


def test_rows_that_were_never_filled_in_are_no_readings(bare_site: Path, written_rows: Any) -> None:
    done = bring(bare_site, line("F1-01", **READ), line("F1-02"), line("F1-03", kind="duplicate"),
                 line("F1-04", unit="ug/m3", instrument="an"), line("F1-05", **READ))  # fmt: skip
    assert ids(bare_site, written_rows) == ["F1-01", "F1-05"]
    assert done.unfilled == ("F1-02", "F1-03", "F1-04")
    assert (done.rows, done.doubtful, done.left_out) == (2, 0, ())


@pytest.mark.parametrize(
    "filled",
    [
        {"time": "2026-03-01T09:10"},
        {"note": "door locked"},
        {"qualifier": ">"},
        {"value": "smudged"},
    ],
)
def test_a_row_with_anything_written_at_the_place_stays_and_is_held(
    bare_site: Path, written_rows: Any, filled: dict[str, str]
) -> None:
    done = bring(bare_site, line("F1-01", **READ), line("F1-02", unit="ug/m3", **filled))
    assert ids(bare_site, written_rows) == ["F1-01", "F1-02"]
    assert (done.unfilled, done.doubtful) == ((), 1)


@pytest.mark.parametrize(
    ("titles", "full", "empty"),
    [
        # an analyser's log: what went off the scale has an empty result
        ("id,room,value,unit", "1,A,0.4,ug/m3", "2,A,,ug/m3"),
        # no id, so nobody printed it
        ("room,x,time,value,unit", "A,1,2026-03-01T09:05,0.4,ug/m3", "A,2,,,ug/m3"),
        # a day is written by whoever was there
        ("id,room,date,value,unit", "1,A,2026-03-01,0.4,ug/m3", "2,A,2026-03-01,,ug/m3"),
        # a laboratory that found nothing gives its limit
        ("id,room,time,value,unit,MDL", "1,A,2026-03-01T09:05,0.4,ug/m3,0.1", "2,A,,,ug/m3,0.1"),
        # a column that is none of ours may be a note
        ("id,room,time,value,unit,Weather", "1,A,2026-03-01T09:05,0.4,ug/m3,x", "2,A,,,ug/m3,y"),
    ],
)
def test_an_empty_result_of_another_table_stays_and_is_held(
    bare_site: Path, titles: str, full: str, empty: str
) -> None:
    done = bring(bare_site, full, empty, titles=titles)
    assert (done.rows, done.unfilled, done.doubtful) == (2, (), 1)


def test_a_table_with_no_result_but_a_printed_id_and_an_empty_time_was_never_filled_in(
    bare_site: Path,
) -> None:
    done = bring(bare_site, "1,A,2026-03-01T09:05,0.4,ug/m3", "2,A,,,ug/m3",
                 titles="Sample ID,Room,Time,Result,Unit")  # fmt: skip
    assert (done.rows, done.unfilled) == (1, ("2",))


@pytest.mark.parametrize("torn", ["F1-02,ground,A,1", 'F1-02,ground,"A,1,2,1.5,,,2026-03-01,0.9\n'])
def test_a_row_that_was_torn_stays_and_is_held(bare_site: Path, torn: str) -> None:
    done = bring(bare_site, line("F1-01", **READ), torn)
    assert (done.rows, done.unfilled, done.doubtful) == (2, (), 1)


def test_a_result_in_a_column_that_is_empty_in_the_first_rows_is_not_lost(
    bare_site: Path, written_rows: Any
) -> None:
    titles = "id,room,time,value,unit,second pass"
    full = [f"R{k},A,2026-03-01T09:05,0.4,ug/m3," for k in range(250)]
    done = bring(bare_site, *full, "R250,A,,,ug/m3,OL", "R251,A,,,ug/m3,", titles=titles)
    assert ids(bare_site, written_rows)[-1] == "R250"
    assert (done.unfilled, done.doubtful) == (("R251",), 1)


@pytest.mark.parametrize(
    ("column", "cell"),
    [
        ("unit", "0.4"),
        ("unit", "<0.1 ug/m3"),
        ("unit", "OL"),
        ("kind", "OL"),
        ("duplicate_of", "ND"),
        ("duplicate_of", ">"),
        ("instrument", "> 50"),
        ("height", "<0.05"),
        ("room", "<0.05"),
    ],
)
def test_a_result_that_slipped_into_a_printed_column_is_not_lost(
    bare_site: Path, column: str, cell: str
) -> None:
    slipped = line("F1-02").split(",")
    slipped[FIELD_COLUMNS.index(column)] = cell
    done = bring(bare_site, line("F1-01", **READ), ",".join(slipped), line("F1-03"))
    assert (done.rows, done.unfilled, done.doubtful) == (2, ("F1-03",), 1)


def test_a_workbook_leaves_the_empty_cells_at_the_end_of_a_row_out(
    bare_site: Path, make_workbook: Callable[..., bytes]
) -> None:
    rows = [one.split(",") for one in (TITLES, line("F1-01", **READ), line("F1-02"))]
    data = make_workbook({"sheet": [[cell or None for cell in row] for row in rows]})
    done = import_readings(data, bare_site, Answers(), name="sheet.xlsx")
    assert (done.rows, done.unfilled) == (1, ("F1-02",))


@pytest.mark.parametrize(
    ("merged", "unfilled"), [("J3:J4", ("F1-04",)), ("G3:G4", ("F1-03", "F1-04"))]
)
def test_a_row_that_a_merged_number_covers_is_not_lost(
    bare_site: Path, make_workbook: Callable[..., bytes], merged: str, unfilled: tuple[str, ...]
) -> None:
    rows: list[list[Any]] = [list(FIELD_COLUMNS)]
    rows += [[cell or None for cell in line(f"F1-0{k}").split(",")] for k in (1, 2, 3, 4)]
    for row in rows[1:3]:
        row[FIELD_COLUMNS.index("time")] = "2026-03-01T09:05"
        row[FIELD_COLUMNS.index("value")], row[FIELD_COLUMNS.index("unit")] = 60, "ug/m3"
    data = make_workbook({"sheet": rows}, lambda book: book["sheet"].merge_cells(merged))
    done = import_readings(data, bare_site, Answers(), name="sheet.xlsx")
    assert done.unfilled == unfilled


def test_a_sheet_of_which_nothing_was_filled_in_is_refused_and_nothing_is_written(
    bare_site: Path,
) -> None:
    before = (bare_site / "site.toml").read_bytes()
    with pytest.raises(ReadingsError, match=r"sheet.csv: nothing is filled in: 2 rows without"):
        bring(bare_site, line("F1-01"), line("F1-02"))
    assert (bare_site / "site.toml").read_bytes() == before
    assert not list(bare_site.rglob("*.csv"))


def test_they_are_counted_and_named_in_one_line(bare_site: Path, run: Run, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    blank = [line(f"F1-{k:02d}") for k in range(2, 42)]
    sheet.write_text("\n".join((TITLES, line("F1-01", **READ), *blank)) + "\n", "utf-8")
    got = run("import", "readings", sheet, "--into", bare_site)
    assert got.code == 1, got.text
    words = " ".join(got.out.split())
    names = ", ".join(f"F1-{k:02d}" for k in range(2, 42))
    assert f"40 rows with nothing filled in are left out: {names}" in words
    assert "1 readings written" in words
