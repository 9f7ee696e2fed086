"""Which building, what it is used for, and where its files go."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFileDialog, QLineEdit, QPushButton

from hgmap.desktop.beginning.part import Part, sentence
from hgmap.desktop.words import tr
from hgmap.editing.new_folder import WHY, FolderState, Standing, free_name, look_at
from hgmap.site.files import slug
from hgmap.site.new_site import USES


def why_text(standing: Standing) -> str:
    """Return the core's sentence in the language of the window."""
    return tr(WHY[standing]) if WHY[standing] else ""


def use_text(use: str) -> str:
    """Return a use of a building as a person says it."""
    return {
        "dwelling": tr("dwelling"),
        "school": tr("school"),
        "child care": tr("child care"),
        "health care": tr("health care"),
        "commercial": tr("commercial"),
        "industrial": tr("industrial"),
    }.get(use, use)


class PlacePart(Part):
    """Name, use and folder; the folder follows the name until somebody writes another one."""

    site_wanted = Signal(Path)
    """The folder is a site already, and is to be opened."""

    def __init__(self, documents: Path) -> None:
        super().__init__(tr("The building"))
        self.documents = documents
        self.name = QLineEdit()
        self.name.setPlaceholderText(tr("as the report will call it"))
        self.row(tr("Na&me"), self.name)
        self.use = QComboBox()
        self.use.addItem(tr("not said yet"), None)
        for use in USES:
            self.use.addItem(use_text(use), use)
        self.row(tr("&Used as"), self.use)
        self.column.addWidget(sentence(tr(
            "The action level depends on the use: a limit for workers never clears a home, a "
            "school, a child care or a health care building."
        )))  # fmt: skip
        self.folder = QLineEdit()
        self.choose = QPushButton(tr("Choose ..."))
        self.row(tr("F&older"), self.folder, self.choose)
        self.trouble = sentence(kind="alarm")
        self.instead = QPushButton(tr("Open this site instead"))
        self.column.addWidget(self.trouble)
        self.column.addWidget(self.instead)
        self.state = FolderState("not named", "")
        self.own_folder = False
        self.name.textChanged.connect(self._named)
        self.use.currentIndexChanged.connect(self.changed)
        self.folder.textEdited.connect(self._typed)
        self.folder.textChanged.connect(self._look)
        self.choose.clicked.connect(self._choose)
        self.instead.clicked.connect(self._open_instead)
        self._named("")
        self.look()

    @property
    def path(self) -> Path | None:
        """Where the site goes; None where nothing is written."""
        text = self.folder.text().strip()
        return Path(text).expanduser() if text else None

    def _named(self, _: str) -> None:
        if not self.own_folder:
            name = self.name.text().strip()
            self.folder.setText(str(free_name(self.documents, slug(name))) if name else "")
        self.changed.emit()

    def _typed(self, text: str) -> None:
        self.own_folder = bool(text.strip())

    def _choose(self) -> None:
        found = QFileDialog.getExistingDirectory(
            self, tr("Folder of the new site"), str(self.documents)
        )
        if found:
            self.own_folder = True
            self.folder.setText(found)

    def _look(self) -> None:
        self.look()
        self.changed.emit()

    def look(self) -> FolderState:
        """Look at the folder again: another program may have changed it."""
        self.state = look_at(self.path)
        told = self.path is not None
        self.trouble.setText(why_text(self.state.standing))
        self.trouble.setVisible(told and bool(self.state.why))
        self.instead.setVisible(self.state.standing == "a site")
        return self.state

    def _open_instead(self) -> None:
        if self.path is not None:
            self.site_wanted.emit(self.path)
