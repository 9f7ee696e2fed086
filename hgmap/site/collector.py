"""Python's search for dead cycles, put off while a large table or file becomes many objects."""

from __future__ import annotations

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_LOCK = threading.Lock()
_STATE = {"inside": 0, "was_on": False}


@contextmanager
def collector_off() -> Iterator[None]:
    """Let no cycles be looked for inside; afterwards it is as it was.

    Every new object of a file that is being read is in use, so that each search would look through
    all of them and find nothing. Of several threads inside, the last to leave turns it on again.

    Examples
    --------
    >>> with collector_off():
    ...     gc.isenabled()
    False
    """
    with _LOCK:
        if not _STATE["inside"]:
            _STATE["was_on"] = gc.isenabled()
            gc.disable()
        _STATE["inside"] += 1
    try:
        yield
    finally:
        with _LOCK:
            _STATE["inside"] -= 1
            if not _STATE["inside"] and _STATE["was_on"]:
                gc.enable()
