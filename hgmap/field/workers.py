"""Independent blocks of work, on as many threads as the linear algebra would take itself."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

from hgmap.field.points import Progress
from hgmap.field.threads import controller

Job = TypeVar("Job")


def work_through(
    work: Callable[[Job], None],
    jobs: Sequence[Job],
    sizes: Sequence[int],
    progress: Progress | None = None,
) -> None:
    """Do every job, a block a thread, and report them in order.

    The matrices of a block are small: two BLAS threads on one of them gain little on a quiet
    machine and lose a lot on a busy one, so each block keeps to one, and the blocks share the
    cores. A user who holds BLAS to one thread (OPENBLAS_NUM_THREADS, threadpoolctl) holds the
    blocks to one thread as well.

    Parameters
    ----------
    work : callable
        Takes a job; writes what it makes into arrays of its own slice. It must let go of the
        interpreter lock for threads to help: numpy's own products and functions do.
    jobs, sizes : sequences of equal length
        What to do, and how much of the whole each job is.
    progress : callable, optional
        Called in the calling thread with (done, all). Raising inside it drops the jobs not yet
        begun, waits for those that are, and leaves no thread and no setting behind.
    """
    pools = controller()
    blas = [library.num_threads for library in pools.lib_controllers
            if library.user_api == "blas"]  # fmt: skip
    threads = min(_cores(), max(blas, default=_cores()), len(jobs))
    everything, done = sum(sizes), 0
    with pools.limit(limits=1, user_api="blas"):
        if threads <= 1:
            for job, size in zip(jobs, sizes, strict=True):
                work(job)
                done += size
                if progress is not None:
                    progress(done, everything)
            return
        pool = ThreadPoolExecutor(threads)
        try:
            for size, _ in zip(sizes, pool.map(work, jobs), strict=True):
                done += size
                if progress is not None:
                    progress(done, everything)
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _cores() -> int:
    """Return the number of cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1
