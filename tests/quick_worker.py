"""Floors without paper in processes of their own, where a test is about processes.

A worker is a fresh process: what a test puts in another's place here is not so there. This module
is what a worker imports instead; it has to stay light.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

import hgmap.batch
import hgmap.many.cluster
import hgmap.many.processes
import hgmap.many.task

WAITS = "HGMAP_TEST_FLOOR_THAT_WAITS"
"""Names a floor that is never done: it ends with the process that asked for it."""

_work = hgmap.many.processes._work
_make_on_worker = hgmap.many.cluster.make_on_worker


def leave_paper_out(put: Callable[[Any, str, Any], None] = setattr) -> None:
    """Leave sheets and the quality page out, here and in every worker that is started from here."""
    put(hgmap.batch, "_write_sheets", lambda *_: [])
    put(hgmap.batch, "write_resample_sheet", lambda *_: ([], []))
    put(hgmap.batch, "write_quality", lambda *_: [])
    put(hgmap.many.processes, "_work", work)
    put(hgmap.many.cluster, "make_on_worker", make_on_worker)


def work(pipe: Any) -> None:
    """Stand in for the work of a process."""
    leave_paper_out()
    real, parent = hgmap.many.task.make_floor, os.getppid()

    def make(case: Any, floor: Any, *rest: Any) -> Any:
        while floor.name == os.environ.get(WAITS):
            if os.getppid() != parent:
                os._exit(0)
            time.sleep(0.05)
        return real(case, floor, *rest)

    hgmap.many.task.make_floor = make
    _work(pipe)


def make_on_worker(site: Any, floor: str) -> Any:
    """Stand in for what a worker of a cluster does."""
    leave_paper_out()
    return _make_on_worker(site, floor)
