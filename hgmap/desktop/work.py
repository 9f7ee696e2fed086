"""Long work beside the window: the newest of each kind counts, and the window never waits.

Work is a plain function of the core that takes ``progress`` and ``cancelled``. What it returns, or
raises, comes back on the window's own thread; what has become stale is dropped without a word.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from hgmap.desktop.hands import Hands, Haste

Cancelled = Callable[[], bool]


class Progress:
    """What work says before it is done: how far it is, and pieces that can be shown already.

    Saying anything raises :class:`WorkStopped` once the work is stale.
    """

    def __init__(self, tell: Callable[[str, float], None], show: Callable[[Any], None]) -> None:
        self._tell, self._show = tell, show

    def __call__(self, text: str, share: float) -> None:
        """Say what is being done and the share of it that is done, 0 to 1."""
        self._tell(text, share)

    def part(self, piece: Any) -> None:
        """Show a piece of what will come."""
        self._show(piece)


Work = Callable[[Progress, Cancelled], Any]

SWITCH_S = 0.002
"""How long (s) a thread may keep Python to itself; the window's thread waits for no longer."""


THREADS = 1
"""How many pieces of work run at a time. Two that ask at once whether points lie in the same room
crash the program: what the geometry library prepares of a shape it shares between threads, and
builds at the first question (a loop of two threads on one polygon shows it within a second).
"""


class WorkStopped(Exception):  # noqa: N818
    """Raised inside work that has become stale, so that it ends early."""


@dataclass
class _Job:
    """One piece of work: what to do, and what to do with what it gives."""

    name: str
    turn: int
    work: Work
    done: Callable[[Any], None]
    failed: Callable[[Exception], None]
    haste: Haste
    painting: bool = False
    parts: Callable[[Any], None] = lambda piece: None
    stale: list[bool] = field(default_factory=list)


@dataclass(frozen=True)
class _Runner:
    job: _Job
    back: _Back

    def run(self) -> None:
        job = self.job

        def tell(text: str, share: float) -> None:
            if job.stale:
                raise WorkStopped
            self.back.progressed.emit(job, text, share)

        def show(piece: Any) -> None:
            if job.stale:
                raise WorkStopped
            self.back.showed.emit(job, piece)

        try:
            result = None
            if not job.stale:
                result = job.work(Progress(tell, show), lambda: bool(job.stale))
        except WorkStopped:
            self.back.ended.emit(job, None, None)
        except Exception as error:  # whatever it is, the window has to hear of it
            self.back.ended.emit(job, None, error)
        else:
            self.back.ended.emit(job, result, None)


class _Back(QObject):
    """Carries news from the threads to the window's."""

    progressed = Signal(object, str, float)
    showed = Signal(object, object)
    ended = Signal(object, object, object)


class Jobs(QObject):
    """Runs work, one of a kind at a time."""

    busy_changed = Signal(str, float)
    """What is being done and its share, 0 to 1; an empty text: nothing."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        sys.setswitchinterval(SWITCH_S)
        self._hands = Hands(THREADS, "work")
        self._painting = Hands(1, "page")
        self._back = _Back(self)
        self._back.progressed.connect(self._progressed)
        self._back.showed.connect(self._showed)
        self._back.ended.connect(self._ended)
        self._newest: dict[str, _Job] = {}
        self._running: set[int] = set()
        self._timers: dict[str, QTimer] = {}
        self._turn = 0

    @property
    def busy(self) -> bool:
        """Whether anything runs or waits to."""
        return bool(self._newest)

    def awaits(self, name: str) -> bool:
        """Whether work of a kind runs or waits to."""
        return name in self._newest

    def start(
        self,
        name: str,
        work: Work,
        done: Callable[[Any], None],
        failed: Callable[[Exception], None],
        *,
        parts: Callable[[Any], None] | None = None,
        wait_ms: int = 0,
        haste: Haste = Haste.SOON,
        painting: bool = False,
    ) -> None:
        """Start work of a kind after ``wait_ms``; older work of that kind is stale at once.

        ``parts`` gets the pieces that the work shows before it is done. ``painting`` is for what
        only paints what is laid out already, and asks no shape of the core's anything that the
        geometry library prepares for (:data:`THREADS`): it does not wait for other work.
        """
        self.drop(name)
        self._turn += 1
        job = _Job(name, self._turn, work, done, failed, haste, painting)
        if parts is not None:
            job.parts = parts
        self._newest[name] = job
        timer = self._timers.get(name)
        if timer is None:
            timer = self._timers[name] = QTimer(self)
            timer.setSingleShot(True)
            timer.timeout.connect(lambda: self._launch(name))
        timer.start(wait_ms)

    def drop(self, name: str) -> None:
        """Let work of a kind be stale; nothing comes back from it."""
        old = self._newest.pop(name, None)
        if old is not None:
            old.stale.append(True)
        if name in self._timers:
            self._timers[name].stop()

    def drop_all(self, *, but: Collection[str] = ()) -> None:
        """Let everything be stale, but work of the kinds named."""
        for name in list(self._newest):
            if name not in but:
                self.drop(name)
        self.busy_changed.emit("", 1.0)

    def close(self) -> None:
        """Stop everything and wait for the threads; to be called before the window goes."""
        self.drop_all()
        self._hands.wait()
        self._painting.wait()

    def _launch(self, name: str) -> None:
        job = self._newest.get(name)
        if job is not None:
            self._running.add(job.turn)
            hands = self._painting if job.painting else self._hands
            hands.give(_Runner(job, self._back).run, job.haste)

    def _progressed(self, job: _Job, text: str, share: float) -> None:
        if not job.stale:
            self.busy_changed.emit(text, share)

    def _showed(self, job: _Job, piece: object) -> None:
        if not job.stale and self._newest.get(job.name) is job:
            job.parts(piece)

    def _ended(self, job: _Job, result: object, error: Exception | None) -> None:
        self._running.discard(job.turn)
        if job.stale or self._newest.get(job.name) is not job:
            return
        del self._newest[job.name]
        if not self._newest:
            self.busy_changed.emit("", 1.0)
        if error is not None:
            job.failed(error)
        else:
            job.done(result)
