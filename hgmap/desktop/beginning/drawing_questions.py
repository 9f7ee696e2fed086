"""What a drawing may have to be told, a field each: those that are asked, the others on demand."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from hgmap.desktop.beginning.asked import AskedRow, Offered, asked_of, choices_of
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError, PlanError
from hgmap.site.importers.readers import PlanReader, reader_of
from hgmap.site.importers.storeys import SeveralStoreys

OPTIONS: Final = (
    "storey", "rooms", "units", "layers", "sheet", "where", "crs", "gap", "wall", "door",
)  # fmt: skip
"""In the order in which a person thinks of them."""

_METRES: Final = frozenset({"gap", "wall", "door"})
"""Numbers, which people write with a point or a comma."""

EVERY: Final = "\x01"
"""The answer *every storey*: no storey is called so, for names are one line of visible text."""


class DrawingQuestions(QWidget):
    """The answers about one file; those of one file are not those of the next."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(5)
        self.rows: dict[str, AskedRow] = {}
        for option in OPTIONS:
            row = self.rows[option] = AskedRow()
            row.answered.connect(self._answered)
            column.addWidget(row)
        self.more = QPushButton(tr("More about the drawing"))
        self.more.setCheckable(True)
        self.more.setToolTip(tr("All that can be said of a drawing of this kind"))
        self.more.toggled.connect(lambda _: self._show())
        column.addWidget(self.more)
        self.reader: PlanReader | None = None
        self._said: dict[str, str] = {}
        self._storeys: tuple[str, ...] = ()
        self._pressing = ""
        self._file: Path | None = None
        self.of_file(None)

    def of_file(self, file: Path | None) -> None:
        """Ask of another file: what was said of the one before is forgotten."""
        self._said, self._storeys, self._pressing, self._file = {}, (), "", file
        try:
            self.reader = reader_of(file) if file is not None else None
        except PlanError:
            self.reader = None
        self._show()

    @property
    def answers(self) -> dict[str, str]:
        """What was said, by option, as the importers take it."""
        return {
            option: text.replace(",", ".") if option in _METRES else text
            for option, text in self._said.items()
            if text != EVERY
        }

    @property
    def every_storey(self) -> bool:
        """Whether each storey is to become a floor."""
        return self._said.get("storey") == EVERY

    @property
    def pressing(self) -> str:
        """The option without which nothing goes on; empty where none is asked."""
        return self._pressing

    def take(self, error: Exception | None) -> str:
        """Ask what an error asks; return what is to be said beside it, in one line."""
        known = self.reader.asks if self.reader is not None else ()
        option = asked_of(error, known)[0] if isinstance(error, HgmapError) else ""
        self._pressing = option
        if isinstance(error, SeveralStoreys):
            self._storeys = error.names
        self._show()
        if error is None:
            return ""
        if not option or not isinstance(error, HgmapError):
            return self.by_its_name(in_one_line(error))
        todo = error.todo.replace("--units ", "") if option == "units" else error.todo
        plain = todo if "--" not in todo else ""  # else the field says it
        said = for_window("; ".join(one for one in (error.message, plain) if one))
        return self.by_its_name(said)

    def by_its_name(self, text: str) -> str:
        """Call the file by its name: its folders stand in its field, and may be longer than a line.

        In the line itself they cannot be broken where they have no space.
        """
        file = self._file
        return text.replace(str(file), file.name) if file is not None and file.name else text

    def ask(self, option: str) -> None:
        """Go to the field of an option."""
        self.more.setChecked(True)
        row = self.rows[option]
        (row.line if row.list.isHidden() else row.list).setFocus()

    def _answered(self, option: str, ours: str, text: str) -> None:
        if self._said.get(option, "") == text:
            return
        if text:
            self._said[option] = text
        else:
            self._said.pop(option, None)
        self.changed.emit()

    def _show(self) -> None:
        asks = self.reader.asks if self.reader is not None else ()
        for option, row in self.rows.items():
            pressing, said = option == self._pressing, self._said.get(option, "")
            if option in asks and (pressing or said or self.more.isChecked()):
                row.ask(option, "", self._offered(option), said=said, pressing=pressing)
            else:
                row.ask("")
        self.more.setVisible(bool(asks))

    def _offered(self, option: str) -> Offered:
        if option == "units" and self.reader is not None:
            return choices_of(option, self.reader.units)
        if option != "storey" or not self._storeys:
            return choices_of(option)
        every = (tr("every storey, each as a floor"), EVERY)
        return [*((name, name) for name in self._storeys if name), every]
