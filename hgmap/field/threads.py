"""One thread of BLAS for small matrices, without asking anew which libraries there are."""

from __future__ import annotations

from contextlib import AbstractContextManager
from functools import lru_cache
from typing import Any

from threadpoolctl import ThreadpoolController


@lru_cache(maxsize=1)
def controller() -> ThreadpoolController:
    """Return the thread pools of this process; to find them takes milliseconds, so only once."""
    return ThreadpoolController()


def one_thread() -> AbstractContextManager[Any]:
    """Hold every thread pool to one thread inside a ``with``."""
    held: AbstractContextManager[Any] = controller().limit(limits=1)
    return held
