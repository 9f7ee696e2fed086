"""A table of two columns: a sign or a number, and a sentence that may run over several lines."""

from __future__ import annotations

from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from hgmap.desktop.panels.row_heights import RowHeights


def lay_out(table: QTableView, sign_px: int) -> RowHeights:
    """Give a table with its model two columns without heads; its rows are chosen one by one."""
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setWordWrap(True)
    table.setShowGrid(False)
    table.horizontalHeader().hide()
    table.verticalHeader().hide()
    table.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Fixed)
    table.horizontalHeader().resizeSection(0, sign_px)
    table.horizontalHeader().setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
    table.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
    return RowHeights(table)
