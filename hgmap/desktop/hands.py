"""Threads for work beside the window: Python's own, which keep their state between two pieces.

Qt's pool lends threads that Python meets anew at every piece of work; compiled modules that
remember the state of a thread (SciPy's distances, by pybind11) crashed in them now and then.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from enum import IntEnum
from itertools import count
from threading import Lock


class Haste(IntEnum):
    """Who waits for a piece of work; what is more urgent is taken first, else what came first."""

    AT_ONCE = 0
    """A person looks at the place where it will be shown."""
    SOON = 1
    LATER = 2
    LAST = 3
    """Long, and nothing to be seen before it is done."""


class Hands:
    """A few threads; they are made when there is something to do."""

    def __init__(self, most: int, name: str) -> None:
        self._most, self._name = most, name
        self._threads: ThreadPoolExecutor | None = None
        self._waiting: list[tuple[Haste, int, Callable[[], None]]] = []
        self._turns = count()
        self._lock = Lock()

    def give(self, what: Callable[[], None], haste: Haste = Haste.SOON) -> None:
        """Have something done as soon as a hand is free; it says itself what came of it."""
        if self._threads is None:
            self._threads = ThreadPoolExecutor(self._most, thread_name_prefix=self._name)
        with self._lock:
            heapq.heappush(self._waiting, (haste, next(self._turns), what))
        self._threads.submit(self._do_one)

    def wait(self) -> None:
        """Wait until everything is done; what is given after that has new threads."""
        if self._threads is not None:
            self._threads.shutdown(wait=True)
        self._threads = None

    def _do_one(self) -> None:
        """Do the most urgent of what waits now; it need not be what was given with this turn."""
        with self._lock:
            _, _, what = heapq.heappop(self._waiting)
        what()
