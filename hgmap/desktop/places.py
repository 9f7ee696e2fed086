"""Where the program keeps what is its own: recovery, the demo's copy, what was open lately."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PySide6.QtCore import QSettings, QStandardPaths

SETTINGS: Final = "hgmap.ini"


@dataclass(frozen=True, slots=True)
class Places:
    """Folders of one person.

    Attributes
    ----------
    own : Path
        For the program's own files, never one of the person's sites.
    documents : Path
        Where new sites are proposed.
    ini : Path or None
        The file of the settings; None for the place that the system has for them.
    """

    own: Path
    documents: Path
    ini: Path | None = None

    @classmethod
    def of(cls, home: Path | None = None) -> Places:
        """Return the person's places, or all of them below ``home``: for tests and for trials."""
        if home is not None:
            return cls(home / "own", home / "documents", home / SETTINGS)
        Location = QStandardPaths.StandardLocation  # noqa: N806
        own = QStandardPaths.writableLocation(Location.AppLocalDataLocation)
        documents = QStandardPaths.writableLocation(Location.DocumentsLocation)
        return cls(Path(own), Path(documents or Path.home()))

    def settings(self) -> QSettings:
        """Return the settings; what is set is written at once or a little later."""
        if self.ini is None:
            return QSettings("hgmap", "hgmap")  # of no organization: its folder has our name
        return QSettings(str(self.ini), QSettings.Format.IniFormat)
