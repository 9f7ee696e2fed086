"""Python's search for dead cycles, put off while a large file becomes a million objects."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_off() -> Iterator[None]:
    """Let no cycles be looked for inside; afterwards it is as it was.

    Every new object of a file that is being read is in use, so that each search would look through
    all of them and find nothing.

    Examples
    --------
    >>> with collector_off():
    ...     gc.isenabled()
    False
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
