"""What the core asks about a file, as a field to answer it in.

The core asks in the words of the command line ("say --unit"); here the option becomes a field.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QWidget

from hgmap.desktop.theme import dress_again
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

Offered = Sequence[tuple[str, str]]

_OPTION: Final = re.compile(r"--([a-z][a-z-]*)(?: ([a-z_]+)=)?")
_CHOICES: Final[Mapping[str, tuple[str, ...]]] = {
    "dates": ("day-first", "month-first"),
    "decimal": ("comma", "point"),
    "units": ("lonlat", "metres", "cm", "mm", "ft", "in"),
    "rooms": ("drawn", "walls"),
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
        "page": tr("Which page is the plan?"),
        "storey": tr("Which storey?"),
        "layers": tr("Which layers are what (wall=A-WALL*; door=DOORS)?"),
        "rooms": tr("Where are the rooms from?"),
        "gap": tr("Up to how many metres are gaps between walls closed (0.05)?"),
        "wall": tr("Up to how many metres apart are two lines one wall (0.6)?"),
        "door": tr("Up to how many metres wide is a gap a door (2.5)?"),
    }.get(option, option)


def choice_text(choice: str) -> str:
    """Return what a choice is called; one that nobody translated stands as it is."""
    return {
        "day-first": tr("the day"),
        "month-first": tr("the month"),
        "comma": tr("a comma"),
        "point": tr("a point"),
        "lonlat": tr("longitude and latitude"),
        "metres": tr("metres"),
        "cm": tr("centimetres"),
        "mm": tr("millimetres"),
        "ft": tr("feet"),
        "in": tr("inches"),
        "drawn": tr("areas of the drawing"),
        "walls": tr("found from its walls"),
    }.get(choice, choice)


def choices_of(option: str, only: Sequence[str] = ()) -> Offered:
    """Return the choices of an option, as shown and as meant; some of them if asked."""
    return [(choice_text(one), one) for one in _CHOICES.get(option, ()) if not only or one in only]


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
        self.option, self.ours, self.pressing, self.said = "", "", True, ""
        self.line.editingFinished.connect(lambda: self._answer(self.line.text()))
        self.list.activated.connect(lambda _: self._answer(str(self.list.currentData() or "")))
        self.hide()

    def ask(
        self,
        option: str,
        ours: str = "",
        offered: Offered = (),
        *,
        said: str = "",
        pressing: bool = True,
    ) -> None:
        """Ask for an option; ``said`` is the answer so far.

        ``offered`` are choices, as shown and as meant, in place of the option's own. What is not
        ``pressing`` need not be answered. An answer can be taken back, a wrong one too.
        """
        self.option, self.ours, self.pressing, self.said = option, ours, pressing, said
        if not option:
            self.hide()
            return
        text = question_text(option)
        if ours:
            text = tr("Which column is the {ours}?", ours=ours.replace("_", " "))
        self.question.setText(text)
        self.question.setProperty("warn", pressing)
        dress_again(self.question)
        offered = offered or choices_of(option)
        self.list.clear()
        self.list.addItem(tr("choose") if pressing else tr("not said"), "")
        for shown, meant in offered:
            self.list.addItem(shown, meant)
        self.list.setCurrentIndex(max(self.list.findData(said), 0))
        self.line.setText(said)
        self.list.setVisible(bool(offered))
        self.line.setVisible(not offered)
        for widget in (self.line, self.list):
            widget.setAccessibleName(text)
        self.show()

    def _answer(self, text: str) -> None:
        if self.option and (text.strip() or self.said or not self.pressing):
            self.answered.emit(self.option, self.ours, text.strip())
