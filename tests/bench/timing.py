"""Timing of works in turn, so that a busy moment falls on all of them."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

RUNS = 3


def time_in_turn(runs: int, *works: Callable[[], Any]) -> tuple[list[float], list[Any]]:
    """Return the median time (s) of each work, and what the last run of each returned."""
    times: list[list[float]] = [[] for _ in works]
    results: list[Any] = [None] * len(works)
    for _ in range(runs):
        for number, work in enumerate(works):
            start = time.perf_counter()
            results[number] = work()
            times[number].append(time.perf_counter() - start)
    return [statistics.median(one) for one in times], results
