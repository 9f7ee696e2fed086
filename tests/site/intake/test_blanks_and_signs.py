"""Blanks, bags and limits by their names alone never become room air or plain numbers."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import HgmapError
from hgmap.site.intake.answers import Answers
from hgmap.site.intake.import_readings import ImportedReadings, import_readings

START = "ID,Floor,Room,Height (m),Hg (ug/m3)"
ROW = "ground,A,1.5,0.05"


def bring(data: str | bytes, folder: Path, name: str = "a.csv", **said: Any) -> ImportedReadings:
    raw = data.encode() if isinstance(data, str) else data
    return import_readings(raw, folder, Answers(**said), name=name)


def rows_of(folder: Path, name: str = "a.csv") -> list[dict[str, str]]:
    text = (folder / "readings" / name).read_text("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


@pytest.mark.parametrize(
    ("identifier", "note"),
    [("FB-1", ""), ("Blank 2", ""), ("Outdoor", ""), ("DUP-1", ""), ("Bag headspace 1", ""),
     ("7", "field blank"), ("7", "outdoor background"), ("7", "Bag headspace")],
)  # fmt: skip
def test_an_id_or_note_that_speaks_of_a_blank_is_held_until_the_kind_is_written(
    identifier: str, note: str, bare_site: Path
) -> None:
    done = bring(f"{START},Note\n{identifier},{ROW},{note}\n", bare_site)
    assert done.doubtful == 1
    assert "write the kind, or 'reading'" in done.doubts[0]


def test_a_kind_that_somebody_wrote_settles_it(bare_site: Path) -> None:
    done = bring(f"{START},Kind\nFB-1,{ROW},room air\nFB-2,{ROW},field blank\n", bare_site)
    assert done.doubtful == 0
    assert [row["kind"] for row in rows_of(bare_site)] == ["reading", "field blank"]


@pytest.mark.parametrize("room", ["BG12", "FB 3", "Bag 3", "BG"])
def test_a_room_with_a_number_is_a_room(room: str, bare_site: Path) -> None:
    bring(f"{START}\n1,ground,{room},1.5,0.9\n", bare_site)
    row = rows_of(bare_site)[0]
    assert (row["room"], row["kind"]) == (room, "")


@pytest.mark.parametrize(
    ("title", "cell", "qualifier", "value"),
    [
        ("Detect_Flag", "N", "", "U 0.05"),
        ("Detected?", "No", "", "U 0.05"),
        ("Detected?", "Yes", "", "0.05"),
        ("Non-detect", "yes", "", "U 0.05"),
        ("Non-detect", "no", "", "0.05"),
        ("Detect flag", "N", "J", "UJ 0.05"),
        ("Detect flag", "N", "E", "E (not detected) 0.05"),
        ("Detected", "ND", "", "ND 0.05"),
        ("Detected", "maybe", "", "maybe 0.05"),
    ],
)
def test_a_column_that_says_not_detected_makes_a_limit(
    title: str, cell: str, qualifier: str, value: str, bare_site: Path
) -> None:
    bring(f"{START},Qualifier,{title}\n1,{ROW},{qualifier},{cell}\n2,{ROW},>,Y\n", bare_site)
    assert rows_of(bare_site)[0]["value"] == value


def test_a_sign_in_a_column_without_a_name_is_asked_and_both_answers_work(bare_site: Path) -> None:
    text = "ID,Floor,Room,Height (m),,Hg (ug/m3)\n1,ground,A,1.5,,0.9\n2,ground,A,1.5,<,0.05\n"
    with pytest.raises(HgmapError, match=r"row 3: .*say --column qualifier=#5 or --column note=#5"):
        bring(text, bare_site)
    bring(text, bare_site, columns={"qualifier": "#5"})
    assert [row["qualifier"] for row in rows_of(bare_site)] == ["", "<"]
    bring(text, bare_site, "b.csv", columns={"note": "#5"})
    assert [row["qualifier"] for row in rows_of(bare_site, "b.csv")] == ["", ""]


@pytest.mark.parametrize(
    ("number_format", "value", "qualifier"),
    [
        ('"<"0.00', "0.05", "<"),
        ("\\<0.00", "0.05", "<"),
        ('0.00" ng/m3"', "0.05 ng/m3 (column: µg/m³)", ""),
        ("0.00,", "0.05 (shown in thousands)", ""),
        ('0.00" approx"', "0.05", ""),
        ("#,##0.00", "0.05", ""),
        ("[Red]0.00;-0.00", "0.05", ""),
        ("General", "0.05", ""),
        ("0%", "5 %", ""),
    ],
)
def test_what_a_format_shows_beside_a_number_is_read(
    number_format: str,
    value: str,
    qualifier: str,
    bare_site: Path,
    make_workbook: Callable[..., bytes],
) -> None:
    def spoil(book: Any) -> None:
        book["a"]["E2"].number_format = number_format

    rows = [START.split(","), ["1", "ground", "A", 1.5, 0.05]]
    bring(make_workbook({"a": rows}, spoil), bare_site, "a.xlsx")
    row = rows_of(bare_site)[0]
    assert (row["value"], row["qualifier"]) == (value, qualifier)


def test_a_result_that_is_struck_through_is_held(
    bare_site: Path, make_workbook: Callable[..., bytes]
) -> None:
    from openpyxl.styles import Font

    def spoil(book: Any) -> None:
        book["a"]["E2"].font = Font(strike=True)

    rows = [START.split(","), ["1", "ground", "A", 1.5, 0.05], ["2", "ground", "A", 1.5, 0.06]]
    done = bring(make_workbook({"a": rows}, spoil), bare_site, "a.xlsx")
    assert "1 cells are struck through: results of theirs are held" in done.notes
    assert [row["value"] for row in rows_of(bare_site)] == ["0.05 (struck through)", "0.06"]
    assert done.doubtful == 1


def test_a_hidden_sheet_is_not_read_unasked(
    bare_site: Path, make_workbook: Callable[..., bytes]
) -> None:
    def spoil(book: Any) -> None:
        book["Old"].sheet_state = "hidden"

    rows = [START.split(","), ["1", "ground", "A", 1.5, 0.05]]
    data = make_workbook({"Data": [["Probe site", "Mercury ug"], ["A", 3]], "Old": rows}, spoil)
    with pytest.raises(HgmapError, match=r"is hidden.*--sheet 'Old'"):
        bring(data, bare_site, "a.xlsx")
    assert bring(data, bare_site, "a.xlsx", sheet="Old").rows == 1


def test_feet_that_a_format_shows_are_feet(
    bare_site: Path, make_workbook: Callable[..., bytes]
) -> None:
    def spoil(book: Any) -> None:
        book["a"]["D2"].number_format = '0" ft"'

    rows = [START.replace(" (m)", "").split(","), ["1", "ground", "A", 1, 0.05]]
    bring(make_workbook({"a": rows}, spoil), bare_site, "a.xlsx")
    assert float(rows_of(bare_site)[0]["height"]) == 0.3048
