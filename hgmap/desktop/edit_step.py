"""One step of the way back: the files before, and the files after."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

if TYPE_CHECKING:
    from hgmap.desktop.session import Session
    from hgmap.editing.site_files import SiteFiles


class EditStep(QUndoCommand):
    """Puts the files of before, or of after, into the session."""

    def __init__(self, session: Session, text: str, before: SiteFiles, after: SiteFiles) -> None:
        super().__init__(text)
        self._session, self._before, self._after = session, before, after

    def undo(self) -> None:
        """Let the files be those of before."""
        self._session.put(self._before)

    def redo(self) -> None:
        """Let the files be those of after."""
        self._session.put(self._after)
