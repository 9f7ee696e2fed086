"""Whose work a sheet is: the title block as a small form, one undo step for all of it."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QLineEdit, QPushButton, QWidget

from hgmap.desktop.words import tr
from hgmap.editing.settings import set_title_block

if TYPE_CHECKING:
    from hgmap.desktop.session import Session


class TitleForm(QWidget):
    """Seven lines, and a button that puts them into site.toml."""

    put_in = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        form = QFormLayout(self)
        form.setContentsMargins(4, 10, 8, 4)
        form.setVerticalSpacing(4)
        self.fields: dict[str, QLineEdit] = {}
        for key, text in (
            ("client", tr("Client")),
            ("address", tr("Address")),
            ("project", tr("Project")),
            ("prepared_by", tr("Prepared by")),
            ("reviewed_by", tr("Reviewed by")),
            ("instrument", tr("Instrument")),
            ("revision", tr("Revision")),
        ):
            field = QLineEdit()
            field.setAccessibleName(text)
            field.textEdited.connect(self._typed)
            field.returnPressed.connect(self.put)
            form.addRow(text, field)
            self.fields[key] = field
        self.button = QPushButton(tr("Put on the sheets"))
        self.button.clicked.connect(self.put)
        form.addRow(self.button)
        self.button.setEnabled(False)
        self.take()

    def take(self) -> None:
        """Show what the site says, unless somebody is typing."""
        site = self.session.site
        if site is None or self.button.isEnabled():
            return
        for key, value in asdict(site.title_block).items():
            if key in self.fields:
                self.fields[key].setText(value)
                self.fields[key].setCursorPosition(0)

    def _typed(self) -> None:
        self.button.setEnabled(True)

    def put(self) -> None:
        """Put all of it into site.toml, as one step that can be undone."""
        keys = {key: field.text().strip() for key, field in self.fields.items()}
        if self.session.edit(
            tr("Titles of the sheets"), lambda files: set_title_block(files, **keys)
        ):
            self.button.setEnabled(False)
            self.put_in.emit()
