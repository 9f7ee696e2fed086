"""A question that is asked and answered in its place: no box stands in the way of the plan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QFrame,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.words import tr

Answers = Mapping[str, str]


@dataclass(frozen=True)
class Field:
    """One thing to type, or to choose where there are choices (what is kept, words)."""

    key: str
    label: str
    value: str = ""
    choices: Sequence[tuple[str, str]] = ()


class AskRow(QFrame):
    """Asks one thing at a time; Enter answers, Escape does not."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("card", True)
        column = QVBoxLayout(self)
        column.setContentsMargins(8, 6, 8, 6)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        column.addWidget(self.text)
        self._form = QFormLayout()
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        column.addLayout(self._form)
        row = QWidget()
        row_layout = FlowLayout(row)
        self.yes = QPushButton()
        self.no = QPushButton()
        self.yes.clicked.connect(self.answer)
        self.no.clicked.connect(self.refuse)
        row_layout.addWidget(self.yes)
        row_layout.addWidget(self.no)
        column.addWidget(row)
        self.fields: dict[str, QLineEdit | QComboBox] = {}
        self._act: Callable[[Answers], bool] | None = None
        self._refused: Callable[[], None] | None = None
        self.told: Callable[[], object] = lambda: None
        """Called as a question comes and goes: before a field takes the keys, and after."""
        self.hide()

    def ask(
        self,
        text: str,
        fields: Sequence[Field],
        yes: str,
        act: Callable[[Answers], bool],
        *,
        refused: Callable[[], None] | None = None,
        no: str = "",
    ) -> None:
        """Ask; ``act`` gets what was typed and tells whether the question is settled."""
        while self._form.rowCount():
            row = self._form.takeRow(0)
            for item in (row.labelItem, row.fieldItem):
                if (widget := item.widget()) is not None:
                    widget.hide()
                    widget.deleteLater()  # it may be the one whose Enter key asks this
        self.fields = {}
        for one in fields:
            box = self._box(one)
            box.setAccessibleName(one.label)
            self.fields[one.key] = box
            self._form.addRow(one.label, box)
        self.text.setText(text)
        self.setAccessibleName(text)
        self.yes.setText(yes)
        self.no.setText(no or tr("Not now"))
        self._act, self._refused = act, refused
        self.told()
        self.show()
        first: QWidget = next(iter(self.fields.values()), self.yes)
        first.setFocus()
        if isinstance(first, QLineEdit):
            first.selectAll()
        self.told()

    def _box(self, field: Field) -> QLineEdit | QComboBox:
        if field.choices:
            box = QComboBox()
            for data, words in field.choices:
                box.addItem(words, data)
            box.setCurrentIndex(max(box.findData(field.value), 0))
            return box
        return QLineEdit(field.value)  # its Enter key comes to the row, once

    @property
    def asking(self) -> bool:
        """Whether something is asked."""
        return self._act is not None

    def answer(self) -> None:
        """Take what stands there for the answer."""
        if self._act is None:
            return
        act = self._act
        values = {
            key: box.text() if isinstance(box, QLineEdit) else str(box.currentData())
            for key, box in self.fields.items()
        }
        if act(values) and self._act is act:
            self.put_away()

    def refuse(self) -> None:
        """Answer no."""
        refused = self._refused
        self.put_away()
        if refused is not None:
            refused()

    def put_away(self) -> None:
        """Ask nothing any more."""
        self._act = self._refused = None
        self.hide()
        self.told()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Escape says no; Enter on a button presses it."""
        if event.key() == Qt.Key.Key_Escape and self.asking:
            self.refuse()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.asking:
            (self.refuse if self.no.hasFocus() else self.answer)()
        else:
            super().keyPressEvent(event)


def number(text: str) -> float | None:
    """Return a number as people write it, with a point or a comma; None where it is none."""
    import math

    try:
        value = float(text.strip().replace(",", "."))
    except ValueError:
        return None
    return value if math.isfinite(value) else None
