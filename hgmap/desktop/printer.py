"""Putting sheets on paper through the system's own printing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize, QPainter
from PySide6.QtPrintSupport import QPrintDialog, QPrinter
from PySide6.QtWidgets import QDialog, QWidget

from hgmap.desktop.painter import paint_sheet

if TYPE_CHECKING:
    from hgmap.report.drawing import Sheet

DPI: Final = 300
"""Letters and marks are painted as pixels of this fineness."""


def print_sheets(parent: QWidget, sheets: Sequence[Sheet]) -> bool:
    """Ask for a printer and print; tell whether that was done."""
    printer = QPrinter()
    dialog = QPrintDialog(printer, parent)
    if dialog.exec() != QDialog.DialogCode.Accepted:
        return False
    return put_on_paper(printer, sheets)


def put_on_paper(printer: QPrinter, sheets: Sequence[Sheet]) -> bool:
    """Print sheets at their true scale, each page in its own direction; tell whether it went."""
    printer.setResolution(DPI)
    printer.setFullPage(True)
    painter = QPainter()
    for number, sheet in enumerate(sheets):
        printer.setPageLayout(_layout(sheet))
        if number == 0 and not painter.begin(printer):
            return False
        if number and not printer.newPage():
            painter.end()
            return False
        paint_sheet(painter, sheet, DPI / 25.4)
    return painter.end() if sheets else False


def _layout(sheet: Sheet) -> QPageLayout:
    wide = sheet.width_mm > sheet.height_mm
    short, long = sorted((sheet.width_mm, sheet.height_mm))
    size = QPageSize(QSizeF(short, long), QPageSize.Unit.Millimeter)
    way = QPageLayout.Orientation.Landscape if wide else QPageLayout.Orientation.Portrait
    return QPageLayout(size, way, QMarginsF())
