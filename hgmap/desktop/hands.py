"""Threads for work beside the window: Python's own, which keep their state between two pieces.

Qt's pool lends threads that Python meets anew at every piece of work; compiled modules that
remember the state of a thread (SciPy's distances, by pybind11) crashed in them now and then.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor


class Hands:
    """A few threads; they are made when there is something to do."""

    def __init__(self, count: int, name: str) -> None:
        self._count, self._name = count, name
        self._threads: ThreadPoolExecutor | None = None

    def give(self, what: Callable[[], None]) -> None:
        """Have something done as soon as a hand is free; it says itself what came of it."""
        if self._threads is None:
            self._threads = ThreadPoolExecutor(self._count, thread_name_prefix=self._name)
        self._threads.submit(what)

    def wait(self) -> None:
        """Wait until everything is done; what is given after that has new threads."""
        if self._threads is not None:
            self._threads.shutdown(wait=True)
        self._threads = None
