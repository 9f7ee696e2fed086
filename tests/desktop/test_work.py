"""Work beside the window: the newest counts, stale work says nothing, errors come back."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import QThread
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from hgmap.desktop.work import Cancelled, Jobs, Progress, WorkStopped
from tests.desktop.patience import SLOW_MS, SLOW_S


@pytest.fixture
def jobs(qtbot: QtBot) -> Iterator[Jobs]:
    made = Jobs()
    yield made
    made.close()


def all_that_is_said(jobs: Jobs) -> None:
    """Wait until the threads are gone, and hear what they said to the last."""
    jobs.close()
    QApplication.processEvents()


def test_what_work_returns_comes_back_on_the_window_s_own_thread(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[Any] = []
    here = QThread.currentThread()
    jobs.start(
        "sum",
        lambda progress, cancelled: (2 + 2, threading.get_ident()),
        lambda result: seen.append((result, QThread.currentThread() is here)),
        seen.append,
    )
    qtbot.waitUntil(lambda: bool(seen), timeout=SLOW_MS)
    (total, worker), on_own_thread = seen[0]
    assert total == 4
    assert worker != threading.get_ident()
    assert on_own_thread
    assert not jobs.busy


def test_newer_work_makes_older_work_of_its_kind_stale(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[str] = []
    begun = threading.Event()

    def slow(progress: Progress, cancelled: Cancelled) -> str:
        begun.set()
        while not cancelled():
            time.sleep(0.001)
        return "old"

    jobs.start("map", slow, seen.append, lambda error: seen.append(str(error)))
    qtbot.waitUntil(begun.is_set, timeout=SLOW_MS)
    jobs.start("map", lambda progress, cancelled: "new", seen.append,
               lambda error: seen.append(str(error)))  # fmt: skip
    qtbot.waitUntil(lambda: bool(seen), timeout=SLOW_MS)
    all_that_is_said(jobs)
    assert seen == ["new"]


def test_work_of_another_kind_goes_on(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[str] = []
    for name in ("map", "explain"):
        jobs.start(name, lambda progress, cancelled, name=name: name, seen.append,
                   lambda error: seen.append(str(error)))  # fmt: skip
    qtbot.waitUntil(lambda: len(seen) == 2, timeout=SLOW_MS)
    assert sorted(seen) == ["explain", "map"]


def test_an_error_comes_back_whatever_it_is(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[Any] = []

    def breaks(progress: Progress, cancelled: Cancelled) -> None:
        raise ZeroDivisionError("by nothing")

    jobs.start("map", breaks, seen.append, seen.append)
    qtbot.waitUntil(lambda: bool(seen), timeout=SLOW_MS)
    assert isinstance(seen[0], ZeroDivisionError)


def test_stopped_work_says_nothing_and_ends_at_its_next_word(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[Any] = []
    ended = threading.Event()
    begun = threading.Event()

    def talks(progress: Progress, cancelled: Cancelled) -> None:
        begun.set()
        try:
            while True:
                progress("floor", 0.5)
                progress.part("piece")
                time.sleep(0.001)
        except WorkStopped:
            ended.set()
            raise

    jobs.start("map", talks, seen.append, seen.append)
    qtbot.waitUntil(begun.is_set, timeout=SLOW_MS)
    jobs.drop_all()
    qtbot.waitUntil(ended.is_set, timeout=SLOW_MS)
    all_that_is_said(jobs)
    assert seen == []
    assert not jobs.busy


def test_pieces_are_shown_before_the_work_is_done(jobs: Jobs, qtbot: QtBot) -> None:
    seen: list[str] = []

    def pieces(progress: Progress, cancelled: Cancelled) -> str:
        progress.part("draft")
        return "map"

    jobs.start("map", pieces, seen.append, lambda error: seen.append(str(error)),
               parts=seen.append)  # fmt: skip
    qtbot.waitUntil(lambda: len(seen) == 2, timeout=SLOW_MS)
    assert seen == ["draft", "map"]


def test_work_that_has_to_wait_is_done_once_for_many_calls(jobs: Jobs, qtbot: QtBot) -> None:
    done: list[int] = []
    runs: list[int] = []
    for k in range(10):
        jobs.start("map", lambda progress, cancelled, k=k: runs.append(k) or k, done.append,
                   lambda error: None, wait_ms=30)  # fmt: skip
    qtbot.waitUntil(lambda: bool(done), timeout=SLOW_MS)
    assert done == [9]
    assert runs == [9]


def test_closing_waits_for_threads(qtbot: QtBot) -> None:
    jobs = Jobs()
    ended = threading.Event()
    begun = threading.Event()

    def slow(progress: Progress, cancelled: Cancelled) -> None:
        begun.set()
        while not cancelled():
            time.sleep(0.001)
        ended.set()

    jobs.start("map", slow, lambda result: None, lambda error: None)
    qtbot.waitUntil(begun.is_set, timeout=SLOW_MS)
    jobs.close()
    assert ended.is_set()


LIBRARY_LOADED_BY_WORK = """
import numpy as np
from PySide6.QtCore import QCoreApplication
from hgmap.desktop.work import Jobs

app = QCoreApplication([])
jobs = Jobs()
seen = []

def distances(progress, cancelled):
    from scipy.spatial.distance import cdist  # made with pybind11
    return float(cdist(np.zeros((1, 2)), np.array([[3.0, 4.0]]))[0, 0])

def load(progress, cancelled):
    import scipy.spatial.distance

for work in (load, distances, distances):
    count = len(seen)
    jobs.start("work", work, seen.append, seen.append)
    while len(seen) == count:
        app.processEvents()
jobs.close()
print(seen)
"""


def test_a_library_that_one_work_loads_serves_the_next() -> None:
    done = subprocess.run(
        [sys.executable, "-c", LIBRARY_LOADED_BY_WORK],
        capture_output=True,
        text=True,
        timeout=SLOW_S,
    )
    assert done.returncode == 0, f"the program crashed: {done.returncode} {done.stderr[-300:]}"
    assert done.stdout.strip() == "[None, 5.0, 5.0]"


def test_no_two_works_share_the_shapes_of_a_site_at_a_time(jobs: Jobs, qtbot: QtBot) -> None:
    inside: list[str] = []
    most: list[int] = []
    seen: list[Any] = []

    def work(name: str) -> str:
        inside.append(name)
        time.sleep(0.02)
        most.append(len(inside))
        inside.remove(name)
        return name

    for name in ("map", "judge", "release"):
        jobs.start(name, lambda progress, cancelled, name=name: work(name), seen.append,
                   seen.append)  # fmt: skip
    qtbot.waitUntil(lambda: len(seen) == 3, timeout=SLOW_MS)
    assert max(most) == 1
