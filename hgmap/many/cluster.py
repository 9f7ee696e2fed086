"""Floors on a Dask cluster: one on this machine, or one that somebody runs. Extra ``cluster``.

A site goes to the workers as it was judged here and floors come back as bytes, so that the workers
need none of its folders; they need hgmap, of the same version.
"""

from __future__ import annotations

import contextlib
import queue
import threading
from dataclasses import replace
from typing import Any, Final

from hgmap.__about__ import __version__
from hgmap.errors import HgmapError
from hgmap.many.crew import Outcome, Share
from hgmap.many.floor import FloorJob, broke_off, make_parcel
from hgmap.site.model import Problem

LOCAL: Final = "local"
PATIENCE_S: Final = 15.0
"""How long a scheduler may take to answer, and a cluster without workers to get one."""

_ONE_AT_A_TIME = threading.Lock()
"""A worker of a cluster may have several threads; sheets are painted by one at a time."""


class Cluster:
    """Workers of a Dask cluster.

    Parameters
    ----------
    address : str
        ``local`` starts one here; else that of a scheduler, such as ``tcp://10.0.0.5:8786``.
    jobs : int
        Workers of a local one.
    share : callable
        Told when a floor is done; a cluster says no more.

    Raises
    ------
    HgmapError
        If Dask is not there, nobody answers, or the workers have another version of hgmap.
    """

    def __init__(self, address: str, jobs: int, share: Share) -> None:
        distributed = _distributed()
        self._share = share
        self._done: queue.Queue[tuple[FloorJob, Any]] = queue.Queue()
        self._sites: tuple[str, Any] = ("", None)
        self._futures: set[Any] = set()
        with contextlib.ExitStack() as ends:
            try:
                if address == LOCAL:
                    where: Any = ends.enter_context(
                        distributed.LocalCluster(
                            n_workers=jobs, threads_per_worker=1, processes=True,
                            dashboard_address=None,
                        )
                    )  # fmt: skip
                else:
                    where = address
                self._client = ends.enter_context(
                    distributed.Client(where, timeout=PATIENCE_S, set_as_default=False)
                )
                self._client.wait_for_workers(1, timeout=PATIENCE_S)
                versions = set(self._client.run(program_version).values())
            except (OSError, ValueError, TypeError, ImportError, RuntimeError) as error:
                raise HgmapError(
                    f"the cluster does not answer ({type(error).__name__}: {error})"[:300],
                    where=f"--cluster {address}",
                    todo="check the address, and that hgmap is installed where its workers run",
                ) from None
            if versions != {__version__}:
                raise HgmapError(
                    f"its workers have hgmap {', '.join(sorted(versions))}, and this is "
                    f"{__version__}",
                    where=f"--cluster {address}",
                    todo="install the same version",
                )
            threads = sum(self._client.nthreads().values())
            self.width = max(1, int(threads))
            self._ends = ends.pop_all()

    def submit(self, job: FloorJob) -> None:
        """Take a floor on."""
        key = job.digest + job.site
        if self._sites[0] != key:  # a site may be large: it is sent once
            known = replace(job, floor="", work=None)
            self._sites = (key, self._client.scatter(known, hash=False, broadcast=True))
        future = self._client.submit(make_on_worker, self._sites[1], job.floor, pure=False)
        self._futures.add(future)
        future.add_done_callback(lambda one: self._done.put((job, one)))

    def next(self) -> Outcome:
        """Wait for a floor to be done."""
        while True:
            try:
                job, future = self._done.get(timeout=0.5)
            except queue.Empty:
                continue
            self._futures.discard(future)
            return self._outcome(job, future)

    def _outcome(self, job: FloorJob, future: Any) -> Outcome:
        self._share(job, 1.0)
        floor = job.case.site.floor(job.floor)
        assert floor is not None
        try:
            return Outcome(job, future.result())
        except Exception as error:  # whatever a worker ran into, or ran away from
            if type(error).__name__ in ("KilledWorker", "CancelledError", "FutureCancelledError"):
                return Outcome(
                    job,
                    Problem("error", floor.title, "the workers that made it were lost",
                            "there may be too little memory on them; run again with --resume",
                            floor.name),
                )  # fmt: skip
            return Outcome(job, broke_off(floor, error))

    def close(self) -> None:
        """Give back what was asked for; a cluster that we started is ended."""
        with contextlib.suppress(Exception):  # it may be gone, and then there is nothing to give
            self._client.cancel(list(self._futures))
        self._ends.close()


def _distributed() -> Any:
    try:
        import distributed
    except ImportError:
        raise HgmapError(
            "needs Dask", where="--cluster", todo="install it: pip install 'hgmap[cluster]'"
        ) from None
    return distributed


def program_version() -> str:
    """Return the version of hgmap; asked of every worker."""
    return __version__


def make_on_worker(site: FloorJob, floor: str) -> bytes | Problem:
    """Make a floor; what runs on a worker of the cluster."""
    with _ONE_AT_A_TIME:
        return make_parcel(replace(site, floor=floor), lambda share: None)
