"""Pages on their way to a printer, or into a file in its place."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from PySide6.QtGui import QPageRanges
from PySide6.QtPrintSupport import QPrinter

from hgmap.desktop import printer as printing
from hgmap.desktop.printer import pages_asked, put_on_paper
from hgmap.desktop.work import WorkStopped
from hgmap.errors import HgmapError
from hgmap.report.drawing import Label, Sheet


def sheet(number: int, wide: bool = False) -> Sheet:
    sides = (215.9, 279.4) if number % 2 else (210.0, 297.0)
    width, height = reversed(sides) if wide else sides
    return Sheet(width, height, (), (Label(20.0, 20.0, "page", 9.0),), f"Sheet {number}")


MIXED = (sheet(0), sheet(1), sheet(2, wide=True), sheet(3, wide=True), sheet(4))


@pytest.fixture
def printer(qtbot: object, tmp_path: Path) -> QPrinter:
    made = QPrinter()
    made.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    made.setOutputFileName(str(tmp_path / "paper.pdf"))
    return made


def sizes(file: Path) -> list[tuple[float, float]]:
    boxes = [page.mediabox for page in PdfReader(file).pages]
    return [(float(box.width) * 25.4 / 72.0, float(box.height) * 25.4 / 72.0) for box in boxes]


@pytest.mark.parametrize("last_first", [False, True])
def test_each_page_has_its_own_paper_and_direction(
    printer: QPrinter, tmp_path: Path, last_first: bool
) -> None:
    wanted = [(one.width_mm, one.height_mm) for one in MIXED]
    if last_first:
        printer.setPageOrder(QPrinter.PageOrder.LastPageFirst)
        wanted.reverse()
    assert put_on_paper(printer, MIXED)
    file = tmp_path / "paper.pdf"
    for printed, asked in zip(sizes(file), wanted, strict=True):
        assert printed == pytest.approx(asked, abs=0.3)
    about = PdfReader(file).metadata
    assert about is not None
    assert about.title == "Sheet 0"


def test_a_range_of_pages_is_kept(printer: QPrinter) -> None:
    assert pages_asked(printer, MIXED) == MIXED
    printer.setFromTo(2, 3)
    assert pages_asked(printer, MIXED) == MIXED[1:3]
    printer.setPageRanges(QPageRanges.fromString("1,4-5"))
    assert pages_asked(printer, MIXED) == (MIXED[0], *MIXED[3:])
    printer.setFromTo(7, 9)
    assert not pages_asked(printer, MIXED)


@pytest.mark.parametrize("there_before", [b"", b"of yesterday"])
def test_a_print_that_is_stopped_or_fails_leaves_no_half_file(
    printer: QPrinter, tmp_path: Path, there_before: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "paper.pdf"
    if there_before:
        file.write_bytes(there_before)
    said: list[float] = []

    def stop(text: str, share: float) -> None:
        said.append(share)
        if share:
            raise WorkStopped

    with pytest.raises(WorkStopped):
        put_on_paper(printer, MIXED, stop)
    assert said == [0.0, 0.2]
    monkeypatch.setattr(QPrinter, "newPage", lambda self: False)
    with pytest.raises(HgmapError, match=r"paper\.pdf: cannot be written"):
        put_on_paper(printer, MIXED)
    assert [one.read_bytes() for one in tmp_path.iterdir()] == [there_before] * bool(there_before)


@pytest.mark.parametrize("lost", [slice(0, 900), slice(900, None)], ids=["end", "part"])
def test_a_file_that_a_full_disk_cut_is_not_taken_for_a_print(
    printer: QPrinter, tmp_path: Path, lost: slice, monkeypatch: pytest.MonkeyPatch
) -> None:
    painted = printing._printed

    def cut(*given: Any) -> bool:
        went = painted(*given)
        file = Path(given[0].outputFileName())
        file.write_bytes(file.read_bytes()[lost])
        return went

    monkeypatch.setattr(printing, "_printed", cut)
    with pytest.raises(HgmapError, match=r"paper\.pdf: cannot be written"):
        put_on_paper(printer, MIXED)
    assert not list(tmp_path.iterdir())
