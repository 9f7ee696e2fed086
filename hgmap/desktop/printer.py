"""Putting sheets on paper through the system's own printing."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QAbstractPrintDialog, QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QWidget

from hgmap.desktop.painter import paint_sheet
from hgmap.desktop.words import tr
from hgmap.site.files import write_atomically

if TYPE_CHECKING:
    from hgmap.report.drawing import Sheet

DPI: Final = 300
"""Letters and marks are painted as pixels of this fineness."""


def ask_for_printer(parent: QWidget, count: int) -> QPrinter | None:
    """Ask for a printer, and which of so many pages; None where nothing is to be printed."""
    printer = QPrinter()
    dialog = QPrintDialog(printer, parent)
    dialog.setMinMax(1, max(count, 1))
    dialog.setOption(QAbstractPrintDialog.PrintDialogOption.PrintPageRange)
    return printer if dialog.exec() == QDialog.DialogCode.Accepted else None


def pages_asked(printer: QPrinter, sheets: Sequence[Sheet]) -> Sequence[Sheet]:
    """Return the sheets of the pages asked for, those of "1, 4" too; all where none was."""
    asked = printer.pageRanges()
    if asked.isEmpty():
        return sheets
    return tuple(sheet for number, sheet in enumerate(sheets, 1) if asked.contains(number))


def put_on_paper(
    printer: QPrinter,
    sheets: Sequence[Sheet],
    progress: Callable[[str, float], None] = lambda text, share: None,
) -> bool:
    """Print sheets at their true scale, each page in its own direction; tell whether it went.

    ``progress`` is called before each page; raising inside it ends the printing there. Printing
    into a file puts the whole file in place, or none.

    Raises
    ------
    HgmapError
        If that file cannot be written.
    """
    name = printer.outputFileName()
    if not name or not sheets:
        return _printed(printer, sheets, progress)
    file = Path(name)
    went = False

    def fill(temporary: Path) -> None:
        nonlocal went
        printer.setOutputFileName(str(temporary))
        went = _printed(printer, sheets, progress)
        if not (went and _is_whole(temporary)):
            raise OSError(tr("the disk may be full"))

    try:
        write_atomically(file, fill)
    finally:
        printer.setOutputFileName(name)
    return went


def _printed(
    printer: QPrinter, sheets: Sequence[Sheet], progress: Callable[[str, float], None]
) -> bool:
    printer.setResolution(DPI)
    if sheets:
        printer.setDocName(sheets[0].title)
    if printer.pageOrder() == QPrinter.PageOrder.LastPageFirst:
        sheets = sheets[::-1]  # Qt leaves that to the program
    printer.setFullPage(True)
    painter = QPainter()
    try:
        for number, sheet in enumerate(sheets):
            progress(sheet.title, number / len(sheets))
            printer.setPageLayout(_layout(sheet))
            if number == 0 and not painter.begin(printer):
                return False
            if number and not printer.newPage():
                return False
            paint_sheet(painter, sheet, DPI / 25.4)
        return painter.end() if sheets else False
    except BaseException:
        if painter.isActive():
            printer.abort()
        raise
    finally:
        if painter.isActive():
            painter.end()


def _is_whole(file: Path) -> bool:
    """Tell whether a PDF ends where its own table says so: Qt says nothing of a disk that is full.

    What is no PDF is taken as it is.
    """
    data = file.read_bytes()
    if file.suffix.lower() != ".pdf":
        return bool(data)
    end = re.search(rb"startxref\s+(\d+)\s+%%EOF\s*$", data[-64:])
    return end is not None and data[int(end[1]) :].startswith(b"xref")


def _layout(sheet: Sheet) -> QPageLayout:
    wide = sheet.width_mm > sheet.height_mm
    short, long = sorted((sheet.width_mm, sheet.height_mm))
    size = QPageSize(QSizeF(short, long), QPageSize.Unit.Millimeter)
    way = QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait
    return QPageLayout(size, way, QMarginsF())
