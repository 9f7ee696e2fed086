"""Starting the window: from a site, from nothing, or only to draw it into a picture."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import (
    QEvent,
    QLocale,
    QMessageLogContext,
    Qt,
    QTimer,
    QtMsgType,
    qInstallMessageHandler,
)
from PySide6.QtWidgets import QApplication

from hgmap.__about__ import __version__
from hgmap.desktop.theme import DAY, NIGHT, put_on, wants_night
from hgmap.desktop.words import speak

if TYPE_CHECKING:
    from hgmap.desktop.window import Window

PICTURE_WAIT_MS = 120_000
"""How long a picture waits for its map before it gives up."""


def application(arguments: Sequence[str] = (), *, night: bool | None = None) -> QApplication:
    """Return the program's one application, dressed; made where there is none yet."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        app = QApplication(["hgmap", *arguments])
    if app.platformName() == "offscreen":
        qInstallMessageHandler(_say)
    app.setApplicationName("hgmap")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("hgmap")
    speak(QLocale.system().name())
    put_on(app, NIGHT if (wants_night() if night is None else night) else DAY)
    return app


def _say(kind: QtMsgType, context: QMessageLogContext, text: str) -> None:
    """Pass on what Qt says, but for hints that a screen in memory has no use for."""
    if "propagateSizeHints" not in text:
        sys.stderr.write(f"{text}\n")


def run(arguments: Sequence[str]) -> int:
    """Open the window on a site folder, or on the start page, and return its exit status."""
    app = application()
    from hgmap.desktop.window import Window

    window = Window()
    window.show()
    if arguments:
        window.open_site(Path(arguments[0]))
    return app.exec()


def draw_window(
    site: Path,
    picture: Path,
    *,
    question: int = 1,
    size: tuple[int, int] = (1280, 800),
    night: bool = False,
) -> None:
    """Draw the window of a site into a PNG, once its map is there, and end.

    Raises
    ------
    HgmapError
        If the site cannot be opened, its map takes longer than two minutes, or the picture cannot
        be written.
    """
    from hgmap.desktop.window import Window
    from hgmap.errors import HgmapError

    app = application(night=night)
    window = Window(remembering=False)
    window.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)  # it is drawn, not seen
    window.resize(*size)
    window.show()
    try:
        if not window.open_site(site, ask=False):
            raise HgmapError(window.notice.text.text())
        window.choose_question(question)
        if not _settle(app, window):
            raise HgmapError("the map is not there after two minutes", where=str(site))
        window.canvas.complete()
        if not window.grab().save(str(picture), "PNG"):
            raise HgmapError(
                "the picture cannot be written", where=str(picture),
                todo="check the folder's rights and the space left on the disk",
            )  # fmt: skip
    finally:
        window.close_for_good()


def _settle(app: QApplication, window: Window) -> bool:
    """Wait until nothing is being worked out; tell whether that came in time."""
    from PySide6.QtCore import QElapsedTimer

    clock = QElapsedTimer()
    clock.start()
    calm = 0
    while clock.elapsed() < PICTURE_WAIT_MS:
        QTimer.singleShot(20, lambda: None)
        app.processEvents()
        app.sendPostedEvents(None, QEvent.Type.DeferredDelete.value)
        if window.jobs.busy or window.canvas.busy:
            calm = 0
        else:
            calm += 1
        if calm > 20:
            return True
        _rest()
    return False


def _rest() -> None:
    import time

    time.sleep(0.01)


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:2]))
