"""Rows as high as their words, measured only where they are seen: thousands of rows open at once.

A table that measures every row to its contents takes a second for two thousand of them.
"""

from __future__ import annotations

from typing import Final

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QHeaderView, QTableView

_MOST_ROUNDS: Final = 4
"""Rows that shrink bring others into sight; so often they are measured in one go."""


AIR_PX: Final = 6
"""Above and below the words of a row together: the frame of a table lies over its first one."""


class RowHeights(QObject):
    """Measures the rows of a table as they come into sight."""

    def __init__(self, table: QTableView) -> None:
        super().__init__(table)
        self._table = table
        self._measured: set[int] = set()
        header = table.verticalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setDefaultSectionSize(2 * table.fontMetrics().lineSpacing() + 8)
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.setInterval(0)
        self._soon.timeout.connect(self.measure)
        table.verticalScrollBar().valueChanged.connect(self._later)
        table.verticalScrollBar().rangeChanged.connect(self._later)
        table.horizontalHeader().sectionResized.connect(self.forget)

    def forget(self) -> None:
        """Measure anew: the words or the width have changed."""
        self._measured.clear()
        self._later()

    def _later(self) -> None:
        # not the timer's own start: it would take what the signal carries for milliseconds
        self._soon.start()

    def measure(self) -> None:
        """Give the rows in sight the height that their words need."""
        table = self._table
        if not table.isVisible():
            return
        current = table.currentIndex()
        kept = current.row() in self._in_sight()
        for _ in range(_MOST_ROUNDS):
            fresh = [row for row in self._in_sight() if row not in self._measured]
            if not fresh:
                return
            for row in fresh:
                table.setRowHeight(row, table.sizeHintForRow(row) + AIR_PX)
            self._measured.update(fresh)
            if kept:
                # rows above it that grew would push it out of sight
                table.scrollTo(current)

    def _in_sight(self) -> range:
        table = self._table
        count = table.model().rowCount()
        first = max(0, table.rowAt(0))
        last = table.rowAt(table.viewport().height() - 1)
        return range(first, count if last < 0 else min(count, last + 1))
