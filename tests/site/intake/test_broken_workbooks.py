"""Broken workbooks, all invented and made here: a one-line answer each; good rows are kept."""

from __future__ import annotations

import datetime as dt
import io
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import ReadingsError
from hgmap.site.intake.workbook import UNSTORED, open_workbook
from hgmap.site.intake.zipcheck import check_zip

TITLES = ["id", "room", "height", "time", "Hg (ng/m3)"]
GOOD = [TITLES, ["R1", "A", 1.5, dt.datetime(2026, 3, 2, 9, 5), 410],
        ["R2", "B", 1.5, dt.datetime(2026, 3, 2, 9, 6), 90.5]]  # fmt: skip
Make = Callable[..., bytes]
Read = Callable[[Path], list[dict[str, str]]]


@pytest.fixture
def bring(bare_site: Path, tmp_path: Path, run: Callable[..., Any]) -> Callable[..., Any]:
    """Return a function that imports the bytes of a workbook."""

    def bring_it(data: bytes, *options: str) -> Any:
        (tmp_path / "book.xlsx").write_bytes(data)
        return run("import", "readings", tmp_path / "book.xlsx", "--into", bare_site, *options)

    return bring_it


def written(site: Path) -> Path:
    return site / "readings" / "book.csv"


def test_a_workbook_is_read_with_its_dates_and_numbers(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    done = bring(make_workbook({"Data": GOOD}))
    assert done.code == 0, done.text
    rows = written_rows(written(bare_site))
    assert [(row["id"], row["value"], row["unit"], row["time"]) for row in rows] == [
        ("R1", "410", "ng/m³", "2026-03-02T09:05"),
        ("R2", "90.5", "ng/m³", "2026-03-02T09:06"),
    ]


def test_a_number_of_a_workbook_is_never_taken_for_thousands(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    rows = [["id", "room", "Hg (ng/m3)"], ["R1", "A", 1.125], ["R2", "A", "0,41"], ["R3", "A", 12]]
    assert bring(make_workbook({"Data": rows})).code == 0
    assert [row["value"] for row in written_rows(written(bare_site))] == ["1.1250", "0.41", "12"]


def test_merged_text_stands_for_every_row_and_a_merged_number_for_one(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    rows = [[*TITLES, "note"], ["R1", "A", 1.5, None, 5, "wet"], ["R2", None, 1.5, None, None],
            ["R3", None, 1.5, None, 7]]  # fmt: skip

    def merge(book: Any) -> None:
        book["Data"].merge_cells("B2:B4")
        book["Data"].merge_cells("E2:E3")
        book["Data"].merge_cells("F2:F4")

    done = bring(make_workbook({"Data": rows}, merge))
    assert "note: 3 merged ranges: their text stands for every row of them, a number" in done.out
    assert "will be held: row 3: no value" in done.out
    found = written_rows(written(bare_site))
    assert [row["room"] for row in found] == ["A", "A", "A"]
    assert [row["value"] for row in found] == ["5", "", "7"]
    assert [row["note"] for row in found] == ["wet", "wet", "wet"]


def test_hidden_rows_are_read_and_said(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    def hide(book: Any) -> None:
        book["Data"].row_dimensions[3].hidden = True

    done = bring(make_workbook({"Data": GOOD}, hide))
    assert "note: hidden rows were read too: 3" in done.out
    assert len(written_rows(written(bare_site))) == 2


def _stored(name: str, text: bytes) -> bytes:
    """Give the formula of E2 a stored result, as a spreadsheet does; that of E3 has none."""
    if not name.startswith("xl/worksheets/"):
        return text
    return text.replace(b"<f>205*2</f><v />", b"<f>205*2</f><v>410</v>").replace(
        b"<f>205*2</f><v></v>", b"<f>205*2</f><v>410</v>"
    )


def test_the_stored_result_of_a_formula_is_used_and_one_without_is_held(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    rows = [TITLES, ["R1", "A", 1.5, None, "=205*2"], ["R2", "A", 1.5, None, "=E2/4"]]
    done = bring(make_workbook({"Data": rows}, parts=_stored))
    assert "note: 2 cells are formulas" in done.out
    assert "note: 1 formulas have no stored result" in done.out
    assert f"will be held: row 3: value {UNSTORED!r}: not a number" in done.out
    assert [row["value"] for row in written_rows(written(bare_site))] == ["410", UNSTORED]


def test_error_cells_percents_and_numbers_as_text_are_told_apart(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    rows = [TITLES, *([f"R{k}", "A", 1.5, None, value] for k, value in
                      enumerate(["#N/A", "#DIV/0!", 0.05, "410", True], start=1))]  # fmt: skip

    def percent(book: Any) -> None:
        book["Data"]["E4"].number_format = "0%"

    done = bring(make_workbook({"Data": rows}, percent))
    assert "will be held: row 3: value '#DIV/0!': not a number" in done.out
    assert "will be held: row 4: value '5 %': unit '%' is not known" in done.out
    assert "will be held: row 6: value 'TRUE': not a number" in done.out
    values = [row["value"] for row in written_rows(written(bare_site))]
    assert values == ["#N/A", "#DIV/0!", "5 %", "410", "TRUE"]


def test_two_sheets_of_readings_are_asked(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    data = make_workbook({"Ground": GOOD, "First": GOOD, "Notes": [["nothing here"]]})
    done = bring(data)
    assert done.code == 2
    assert done.err == ("hgmap: book.xlsx: 2 sheets hold readings ('Ground', 'First'); say which "
                        "with --sheet\n")  # fmt: skip
    assert "2 readings written" in bring(data, "--sheet", "first").out
    assert "no sheet 'Third'" in bring(data, "--sheet", "Third", "--replace").err


def test_the_one_sheet_with_a_header_is_taken_and_the_others_are_named(
    make_workbook: Make, bring: Callable[..., Any]
) -> None:
    done = bring(make_workbook({"Cover": [["Invented survey"], ["2026"]], "Data": GOOD}))
    assert "note: sheets that were not read: 'Cover'" in done.out
    assert "2 readings written" in done.out
    done = bring(make_workbook({"Cover": [["a"]], "Other": [["b"]]}), "--replace")
    assert "no sheet has a header of readings ('Cover', 'Other')" in done.err


def test_a_truncated_workbook_is_one_line(make_workbook: Make, bring: Callable[..., Any]) -> None:
    data = make_workbook({"Data": GOOD})
    for length in (len(data) - 10, len(data) // 2, 30, 5):
        done = bring(data[:length])
        assert done.err == "hgmap: book.xlsx: is cut short or damaged; save the workbook again\n"


def test_no_damaged_byte_makes_a_traceback(make_workbook: Make, bring: Callable[..., Any]) -> None:
    data = make_workbook({"Data": GOOD})
    for place in range(0, len(data), max(1, len(data) // 60)):
        spoiled = bytearray(data)
        spoiled[place] ^= 0x5A
        bring(bytes(spoiled), "--dry-run")  # ``run`` asserts that there is no traceback


def test_another_archive_is_no_workbook(bring: Callable[..., Any]) -> None:
    other = io.BytesIO()
    with zipfile.ZipFile(other, "w") as archive:
        archive.writestr("hello.txt", "hello")
    done = bring(other.getvalue())
    assert done.err == "hgmap: book.xlsx: is no XLSX workbook; save it as XLSX or CSV\n"


def _with_part(data: bytes, name: str, content: bytes) -> bytes:
    changed = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(data)) as before,
        zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as after,
    ):
        for part in before.namelist():
            after.writestr(part, content if part == name else before.read(part))
    return changed.getvalue()


def test_a_zip_bomb_is_refused_by_its_directory(
    make_workbook: Make, bring: Callable[..., Any]
) -> None:
    # 300 MB of one byte: 0.3 MB packed; beyond what the texts of a workbook may take
    bomb = _with_part(make_workbook({"Data": GOOD}), "xl/styles.xml", b" " * 300_000_000)
    assert len(bomb) < 500_000
    done = bring(bomb)
    assert done.err.startswith(
        "hgmap: book.xlsx: unpacks to more than 256 MiB beside its sheets; save the sheet"
    )


def test_a_zip_bomb_that_lies_about_its_size_is_refused_while_it_is_unpacked(
    make_workbook: Make,
) -> None:
    data = bytearray(_with_part(make_workbook({"Data": GOOD}), "xl/styles.xml", b" " * 5_000_000))
    # the directory says 1000 bytes where there are five million
    place = data.rindex(b"xl/styles.xml") - 46
    assert data[place : place + 4] == b"PK\x01\x02"
    data[place + 24 : place + 28] = struct.pack("<I", 1000)
    with pytest.raises(ReadingsError, match="unpacks to more than"):
        check_zip(bytes(data), where="book.xlsx")


def test_a_small_limit_refuses_by_the_directory_alone(make_workbook: Make) -> None:
    data = make_workbook({"Data": GOOD})
    check_zip(data, where="book.xlsx")
    with pytest.raises(ReadingsError, match="unpacks to more than 0 MiB"):
        check_zip(data, where="book.xlsx", most=1000)


def test_entities_in_a_part_are_refused(make_workbook: Make, bring: Callable[..., Any]) -> None:
    def define(name: str, text: bytes) -> bytes:
        if name != "xl/workbook.xml":
            return text
        return b'<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "aaaa">]>' + text

    done = bring(make_workbook({"Data": GOOD}, parts=define))
    assert "holds a definition that no spreadsheet writes" in done.err


def test_a_row_number_beyond_every_sheet_is_not_waited_for(
    make_workbook: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hgmap.site.intake.workbook.MOST_ROWS", 5000)  # 2**20 takes seconds

    def far(name: str, text: bytes) -> bytes:
        return text.replace(b'<row r="3"', b'<row r="99999999999"')

    data = make_workbook({"Data": GOOD}, parts=far)
    sheet = open_workbook(data, where="book.xlsx", sheet=None)
    assert len(list(sheet.rows())) <= 5000


def test_cells_of_a_workbook_that_begin_formulas_are_written_as_text(
    make_workbook: Make, bring: Callable[..., Any], bare_site: Path, written_rows: Read
) -> None:
    def as_text(book: Any) -> None:
        for place, text in (("A2", "=cmd"), ("B2", "@A"), ("B3", "-B")):
            book["Data"][place].value = text
            book["Data"][place].data_type = "s"

    assert bring(make_workbook({"Data": GOOD}, as_text)).code == 0
    rows = written_rows(written(bare_site))
    assert (rows[0]["id"], rows[0]["room"], rows[1]["room"]) == ("'=cmd", "'@A", "'-B")
