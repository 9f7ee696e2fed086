"""What the core asks about a file, as a field to answer it in.

The core asks in the words of the command line ("say --unit"); here the option becomes a field.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QWidget

from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

_OPTION: Final = re.compile(r"--([a-z][a-z-]*)(?: ([a-z_]+)=)?")
_CHOICES: Final[Mapping[str, tuple[str, ...]]] = {
    "dates": ("day-first", "month-first"),
    "decimal": ("comma", "point"),
    "units": ("lonlat", "metres"),
}


def asked_of(error: HgmapError, known: Sequence[str]) -> tuple[str, str]:
    """Return the option that answers an error, and the column of ours that it is about.

    Both are empty where no option of ``known`` does.
    """
    for found in _OPTION.finditer(f"{error.todo} {error.where}"):
        if found[1] in known:
            return found[1], found[2] or ("value" if found[1] == "column" else "")
    return "", ""


def question_text(option: str) -> str:
    """Return the question that an option answers."""
    return {
        "unit": tr("In which unit are the results?"),
        "dates": tr("What does a date begin with?"),
        "decimal": tr("What stands before the tenths?"),
        "sheet": tr("Which sheet of the workbook?"),
        "date": tr("On which day (2026-03-02)?"),
        "column": tr("Which column is it?"),
        "units": tr("What are the coordinates?"),
        "crs": tr("Which map system (EPSG:25832)?"),
        "where": tr("Which features are of this floor (level=0)?"),
    }.get(option, option)


def _choice_text(choice: str) -> str:
    return {
        "day-first": tr("the day"),
        "month-first": tr("the month"),
        "comma": tr("a comma"),
        "point": tr("a point"),
        "lonlat": tr("longitude and latitude"),
        "metres": tr("metres"),
    }.get(choice, choice)


class AskedRow(QWidget):
    """One question with its answer; hidden while nothing is asked."""

    answered = Signal(str, str, str)
    """Option, column of ours, answer."""

    def __init__(self) -> None:
        super().__init__()
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        self.question = QLabel()
        self.question.setProperty("warn", True)
        self.question.setWordWrap(True)
        self.line = QLineEdit()
        self.list = QComboBox()
        row.addWidget(self.question, 1)
        row.addWidget(self.line, 1)
        row.addWidget(self.list, 1)
        self.option, self.ours = "", ""
        self.line.editingFinished.connect(lambda: self._answer(self.line.text()))
        self.list.activated.connect(lambda _: self._answer(str(self.list.currentData() or "")))
        self.hide()

    def ask(self, option: str, ours: str, titles: Sequence[str] = ()) -> None:
        """Ask for an option; columns are chosen among ``titles``."""
        self.option, self.ours = option, ours
        if not option:
            self.hide()
            return
        text = question_text(option)
        if ours:
            text = tr("Which column is the {ours}?", ours=ours.replace("_", " "))
        self.question.setText(text)
        offered = [(_choice_text(one), one) for one in _CHOICES.get(option, ())]
        if option == "column":
            offered = [(one, one) for one in titles]
        self.list.clear()
        self.list.addItem(tr("choose"), "")
        for shown, meant in offered:
            self.list.addItem(shown, meant)
        self.line.clear()
        self.list.setVisible(bool(offered))
        self.line.setVisible(not offered)
        for widget in (self.line, self.list):
            widget.setAccessibleName(text)
        self.show()

    def _answer(self, text: str) -> None:
        if self.option and text.strip():
            self.answered.emit(self.option, self.ours, text.strip())
