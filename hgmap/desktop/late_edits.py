"""Edits that take longer than a window may wait: worked out beside it, in the order asked.

None is lost: what still waits when the files are saved is done before that.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from hgmap.desktop.work import Jobs
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.session import Session

Make = Callable[[SiteFiles], SiteFiles]


@dataclass
class _Waiting:
    text: str
    make: Make
    done: Callable[[bool], object]
    before: SiteFiles | None = None


class LateEdits(QObject):
    """A queue of edits; each is one step back, as those of ``Session.edit`` are."""

    settled = Signal()
    """No edit waits any more."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        # own threads: neither a map nor the Stop button stands in an edit's way
        self._jobs = Jobs(self)
        self._waiting: list[_Waiting] = []

    @property
    def busy(self) -> bool:
        """Whether an edit waits."""
        return bool(self._waiting)

    def do(self, text: str, make: Make, done: Callable[[bool], object] = lambda ok: None) -> None:
        """Change the files by a function of the core; ``done`` hears whether it was."""
        if self._session.files is None:
            return
        self._waiting.append(_Waiting(text, make, done))
        if len(self._waiting) == 1:
            self._next()

    def settle(self) -> None:
        """Do everything that waits, now."""
        self._jobs.drop("edit")
        while self._waiting:
            one = self._waiting.pop(0)
            one.done(self._session.edit(one.text, one.make))
        self.settled.emit()

    def clear(self) -> None:
        """Forget what waits, for the site it was meant for is closed."""
        self._jobs.drop("edit")
        self._waiting.clear()

    def close(self) -> None:
        """Wait for the thread; to be called before the window goes."""
        self.clear()
        self._jobs.close()

    def _next(self) -> None:
        one, files = self._waiting[0], self._session.files
        if files is None:
            self.clear()
            return
        one.before = files
        self._jobs.start("edit", lambda progress, cancelled: _made(one.make, files),
                         self._made, self._refused)  # fmt: skip

    def _made(self, after: SiteFiles | HgmapError) -> None:
        one = self._waiting[0]
        if self._session.files is not one.before:
            self._next()  # a step back came between
            return
        self._waiting.pop(0)

        def make(files: SiteFiles) -> SiteFiles:
            if isinstance(after, HgmapError):
                raise after
            return after

        one.done(self._session.edit(one.text, make))
        self._go_on()

    def _refused(self, error: Exception) -> None:
        one = self._waiting.pop(0)
        self._session.trouble.emit(f"{type(error).__name__}: {error}")
        one.done(False)
        self._go_on()

    def _go_on(self) -> None:
        if self._waiting:
            self._next()
        else:
            self.settled.emit()


def _made(make: Make, files: SiteFiles) -> SiteFiles | HgmapError:
    try:
        return make(files)
    except HgmapError as error:
        return error
