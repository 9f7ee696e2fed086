"""Files that are dropped on the plan: a drawing is brought in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QWidget


class Dropped(QObject):
    """Takes files of some endings that are dropped on a widget; others are left to the system."""

    def __init__(
        self,
        widget: QWidget,
        endings: Callable[[], tuple[str, ...]],
        take: Callable[[Path], object],
    ) -> None:
        super().__init__(widget)
        self._endings, self._take = endings, take
        widget.setAcceptDrops(True)
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Take what is dropped."""
        if isinstance(event, QDragEnterEvent):
            if self._file(event) is not None:
                event.acceptProposedAction()
            return True
        if isinstance(event, QDropEvent) and event.type() == QEvent.Type.Drop:
            file = self._file(event)
            if file is not None:
                event.acceptProposedAction()
                self._take(file)
            return True
        return super().eventFilter(watched, event)

    def _file(self, event: QDropEvent) -> Path | None:
        paths = [Path(one.toLocalFile()) for one in event.mimeData().urls() if one.isLocalFile()]
        return next((one for one in paths if one.suffix.casefold() in self._endings()), None)
