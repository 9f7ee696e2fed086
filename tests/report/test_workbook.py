"""XLSX: typed cells, frozen headers and filters, read by two libraries and by an office."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
import zipfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import openpyxl
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from python_calamine import CalamineWorkbook

from hgmap.report.log_table import log_table
from hgmap.report.tables import csv_text, resample_csv, rooms_csv, zones_csv
from hgmap.report.typed_cells import typed
from hgmap.report.workbook import workbook_bytes
from tests.clearance_cases import LOG
from tests.report.exported import Mapped, mapped

SHEETS = ["about", "zones", "rooms", "readings", "resample", "log"]
XML = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def content(got: Mapped, **how: Any) -> bytes:
    return workbook_bytes(got.facts, got.floors, got.site.readings, **how)


def opened(data: bytes) -> Any:
    return openpyxl.load_workbook(io.BytesIO(data))


def by_calamine(data: bytes, sheet: str) -> pd.DataFrame:
    """Read a sheet without openpyxl; the cells are of the kinds that the file says."""
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    header, *rows = book.get_sheet_by_name(sheet).to_python()
    return pd.DataFrame(rows, columns=header, dtype=object)


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture(scope="module")
def logged(site_maker: Any, tmp_path_factory: pytest.TempPathFactory, make_rows: Any,
           make_table: Any) -> Mapped:  # fmt: skip
    """Names that a spreadsheet could run, and an instrument log with a row that is not one."""
    folder = tmp_path_factory.mktemp("logged")

    def make(path: Path, **what: Any) -> Path:
        site: Path = site_maker(path, **what)
        (site / "instruments").mkdir()
        (site / "instruments/log.csv").write_text(LOG + "analyser,gold film,,,no such check\n")
        return site

    rows = [*make_rows(), "=cmd|'/C calc'!A0,ground,A,2,2,1.5,,0.5,ug/m3,,+1-1"]
    return mapped(make, folder / "site", readings={"first.csv": make_table(rows)})


def test_every_sheet_has_a_frozen_header_and_a_filter_over_all_of_it(plain: Mapped) -> None:
    book = opened(content(plain))
    assert book.sheetnames == SHEETS
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert sheet.auto_filter.ref == sheet.dimensions
        assert all(cell.font.b for cell in sheet[1])


def test_a_second_level_has_a_sheet_of_its_own(placed: Mapped) -> None:
    book = opened(content(placed))
    assert book.sheetnames == ["about", "zones", "zones by level", *SHEETS[2:]]
    assert {row[1].value for row in book["zones by level"].iter_rows(min_row=2)} == {3, 6}


def test_two_readers_find_the_numbers_of_the_csv(plain: Mapped) -> None:
    data = content(plain)
    floors = plain.floors
    wanted = {
        "zones": zones_csv(one.zones for one in floors),
        "rooms": rooms_csv((one.evidence, one.rooms) for one in floors),
        "resample": resample_csv(one.resample for one in floors),
    }
    for name, text in wanted.items():
        rows = rows_of(text)
        sheet = opened(data)[name]
        header = [cell.value for cell in sheet[1]]
        table = by_calamine(data, name)
        assert list(table.columns) == header == list(rows[0])
        assert len(table) == sheet.max_row - 1 == len(rows)
        for index, row in enumerate(rows):
            for column, title in enumerate(header):
                one, other = sheet.cell(index + 2, column + 1).value, table.iloc[index, column]
                if isinstance(one, int | float):
                    assert float(row[title]) == one == other, (name, title)
                else:
                    assert row[title] == (one or "") == other, (name, title)


def test_numbers_are_numbers_times_are_times_and_text_is_text(plain: Mapped) -> None:
    book = opened(content(plain))
    readings = book["readings"]
    header = [cell.value for cell in readings[1]]
    first = dict(zip(header, readings[2], strict=True))
    assert first["id"].value == "R1"
    assert first["time"].value == datetime(2026, 3, 2, 9, 0)
    assert first["time"].is_date
    assert (first["x_m"].value, first["y_m"].value, first["height_m"].value) == (1.1, 0.9, 1.5)
    assert {first[name].data_type for name in ("x_m", "concentration", "height_m")} == {"n"}
    assert first["as_written"].data_type == "s"  # with its sign and unit
    zones = book["zones"]
    kinds = dict(zip([cell.value for cell in zones[1]], zones[2], strict=True))
    assert kinds["area_m2"].data_type == kinds["highest_probability"].data_type == "n"
    assert kinds["zone"].data_type == "s"


def test_a_room_called_007_keeps_its_noughts() -> None:
    header, rows = typed((("room", "area_m2", "as_written"), [("007", "7.50", "0.5 ug/m3")]))
    assert list(header) == ["room", "area_m2", "as_written"]
    assert list(rows) == [("007", 7.5, "0.5 ug/m3")]


def test_no_cell_of_a_persons_is_a_formula(logged: Mapped) -> None:
    data = content(logged)
    for sheet in opened(data):
        for row in sheet.iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                if isinstance(cell.value, str):
                    assert not cell.value.startswith(tuple("=+-@"))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for name in archive.namelist():
            if name.startswith("xl/worksheets/"):
                assert not list(ElementTree.fromstring(archive.read(name)).iter(f"{XML}f"))
    ids = [row[0].value for row in opened(data)["readings"].iter_rows(min_row=2)]
    assert "'=cmd|'/C calc'!A0" in ids


@pytest.mark.parametrize("name", ["#N/A", "#REF!", "0.5", "1e3", "TRUE", "2026-03-02", "学校"])
def test_a_room_whose_name_looks_like_something_else_stays_a_name(plain: Mapped, name: str) -> None:
    (reading,) = [one for one in plain.site.readings if one.id == "R1"]
    data = workbook_bytes(plain.facts, plain.floors, [reading._replace(note=name, room=name)])
    row = opened(data)["readings"][2]
    named = [cell for cell in row if cell.value == name]
    assert len(named) == 2
    assert {cell.data_type for cell in named} == {"s"}
    assert list(by_calamine(data, "readings").iloc[0]).count(name) == 2


def test_the_archive_is_whole_and_its_sheets_say_where_they_freeze_and_filter(
    plain: Mapped,
) -> None:
    with zipfile.ZipFile(io.BytesIO(content(plain))) as archive:
        assert archive.testzip() is None
        for name in archive.namelist():
            root = ElementTree.fromstring(archive.read(name))  # every part is well-formed
            if name.startswith("xl/worksheets/"):
                pane = next(root.iter(f"{XML}pane"))
                assert (pane.get("state"), pane.get("ySplit")) == ("frozen", "1")
                assert next(root.iter(f"{XML}autoFilter")).get("ref", "").startswith("A1:")


def test_an_office_reads_the_zones_as_the_csv_has_them(plain: Mapped, tmp_path: Path) -> None:
    data = content(plain)
    # the same cells, straight from the file: this is asked wherever the tests run
    sheet = opened(data)["zones"]
    areas = [row[7].value for row in sheet.iter_rows(min_row=2)]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        names = re.findall(r'<sheet [^>]*name="([^"]+)"', archive.read("xl/workbook.xml").decode())
        cells = ElementTree.fromstring(archive.read("xl/worksheets/sheet2.xml")).iter(f"{XML}c")
        raw = [float(next(cell.iter(f"{XML}v")).text or "") for cell in cells
               if re.fullmatch(r"H(?!1$)\d+", cell.get("r", ""))]  # fmt: skip
    assert names == SHEETS
    assert raw == areas == [float(row["area_m2"]) for row in rows_of(
        zones_csv(one.zones for one in plain.floors))]  # fmt: skip
    office = shutil.which("soffice")
    if office is None:
        return
    (tmp_path / "site.xlsx").write_bytes(data)
    number = 1 + SHEETS.index("zones")
    done = subprocess.run(
        [office, f"-env:UserInstallation=file://{tmp_path}/home", "--headless", "--convert-to",
         f"csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,{number}",
         "--outdir", str(tmp_path), str(tmp_path / "site.xlsx")],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = rows_of((tmp_path / "site-zones.csv").read_text("utf-8"))
    assert [float(row["area_m2"]) for row in found] == areas
    assert [row["zone"] for row in found] == [row[4].value for row in sheet.iter_rows(min_row=2)]


def test_the_first_sheet_has_level_answer_and_cautions(plain: Mapped) -> None:
    table = by_calamine(content(plain), "about")
    told = list(table.itertuples(index=False, name=None))
    assert ("action level", "3 µg/m³") in told
    assert ("caution", "a caution of the level") in told
    assert any(heading == "ground: answer" and "to remediate" in text for heading, text in told)
    assert any("not a health opinion" in text for _, text in told)


def test_the_log_has_every_check_and_the_row_that_is_none(logged: Mapped) -> None:
    table = by_calamine(content(logged), "log")
    log = logged.site.log
    assert log is not None
    assert len(table) == len(log.checks) + len(log.problems)
    assert log.problems
    assert (table["entry"] == "not read").sum() == len(log.problems)
    checks = table[table["entry"] != "not read"]
    assert list(pd.to_datetime(checks["start"])) == [one.start for one in log.checks]
    assert "no start" in table["note"].iloc[-1]
    assert csv_text(*log_table(logged.site)).count("\r\n") == len(table) + 1


def test_what_is_too_long_for_a_sheet_goes_on_in_the_next(plain: Mapped) -> None:
    book = opened(content(plain, most_rows=7))
    parts = [one for one in book.sheetnames if one.startswith("readings")]
    assert parts == ["readings", "readings 2", "readings 3"]
    ids = [row[0].value for name in parts for row in book[name].iter_rows(min_row=2)]
    assert ids == [f"R{k}" for k in range(1, 16)]
    assert [book[name].max_row for name in parts] == [8, 8, 2]


def test_the_same_run_gives_the_same_bytes_and_no_date(plain: Mapped) -> None:
    data = content(plain)
    assert content(plain) == data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert {one.date_time for one in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert b"dcterms" not in re.sub(rb"xmlns:dcterms=", b"", archive.read("docProps/core.xml"))


@settings(max_examples=15)
@given(name=st.text(max_size=300))
def test_any_name_of_a_site_makes_a_workbook(plain: Mapped, name: str) -> None:
    facts = replace(plain.facts, site=replace(plain.site, name=name))
    book = opened(workbook_bytes(facts, (), ()))
    told = [row[1].value for row in book["about"].iter_rows(min_row=2) if row[0].value == "site"]
    assert len(told) == 2
    assert not (told[0] or "").startswith(tuple("=+-@"))
