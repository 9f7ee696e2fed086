"""Floors side by side in processes of this machine; one that is killed takes nobody with it.

Each worker is a fresh process (no fork: threads and locks of this one stay here) that computes on
one thread. A thread of ours stands by each: it hands out the next floor while another thread
writes the results of the one before. A worker writes nothing that lasts, it hands back bytes; when
this process dies, its workers find their pipe closed and end.
"""

from __future__ import annotations

import multiprocessing
import queue
import signal
import threading
import time
from dataclasses import replace
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, Final

from hgmap.errors import HgmapError
from hgmap.many.crew import Outcome, Share
from hgmap.many.floor import FloorJob, make_parcel
from hgmap.site.model import Problem

TRIES: Final = 2
"""Of a floor whose process was ended: once may be bad luck, twice may be the floor."""

_LONGEST_START_S: Final = 300.0

_STATUS_S: Final = 2.0
"""How long the exit status of a process that has ended may be in another thread's hands."""


class Processes:
    """Worker processes, each with the thread that minds it.

    Parameters
    ----------
    width : int
        How many.
    share : callable
        Told how far each floor is.
    """

    def __init__(self, width: int, share: Share) -> None:
        self.width, self._share = width, share
        self._jobs: queue.Queue[FloorJob | None] = queue.Queue()
        self._done: queue.Queue[Outcome | HgmapError] = queue.Queue()
        self._closing = threading.Event()
        self._workers: dict[int, SpawnProcess] = {}
        self._lock = threading.Lock()
        self._threads = [
            threading.Thread(target=self._mind, args=(number,), daemon=True)
            for number in range(width)
        ]
        for one in self._threads:
            one.start()

    def submit(self, job: FloorJob) -> None:
        """Take a floor on."""
        self._jobs.put(job)

    def next(self) -> Outcome:
        """Wait for a floor to be done.

        Raises
        ------
        HgmapError
            If worker processes cannot be started.
        """
        while True:
            try:
                found = self._done.get(timeout=0.5)  # some systems hear no Ctrl-C in a longer wait
            except queue.Empty:
                continue
            if isinstance(found, HgmapError):
                raise found
            return found

    def close(self) -> None:
        """End every worker, whatever it is doing."""
        with self._lock:
            self._closing.set()
            for worker in self._workers.values():
                worker.kill()
        for _ in self._threads:
            self._jobs.put(None)
        for one in self._threads:
            one.join()

    def pids(self) -> list[int]:
        """Return the process numbers of the workers that run."""
        with self._lock:
            return [one.pid for one in self._workers.values() if one.pid is not None]

    def _mind(self, number: int) -> None:
        """Keep one worker at work, and start another in its place when it is gone."""
        hand: _Hand | None = None
        try:
            while (job := self._jobs.get()) is not None and not self._closing.is_set():
                ended = ""
                for attempt in range(TRIES):
                    hand = hand or self._start(number)
                    if hand is None:
                        return
                    made = hand.make(job, self._share)
                    if made is not None:
                        note = f"made again: {ended}" if attempt else ""
                        self._done.put(Outcome(job, made, note=note))
                        break
                    ended = hand.ended()
                    hand = None
                    if self._closing.is_set():
                        return
                else:
                    self._done.put(Outcome(job, _killed(job, ended)))
        except Exception as error:  # else the run would wait for this thread without end
            self._done.put(
                HgmapError(f"the processes cannot be kept at work ({error})", todo="give --jobs 1")
            )
        finally:
            if hand is not None:
                hand.end()

    def _start(self, number: int) -> _Hand | None:
        """Start a worker; one that is killed meanwhile is started again."""
        why = ""
        for _ in range(TRIES):
            try:
                hand, why, killed = self._started(number)
            except (OSError, RuntimeError) as error:
                hand, why, killed = None, str(error), False
            if hand is not None or not killed:
                break
        else:
            hand = None
        if hand is None and not self._closing.is_set():
            self._done.put(
                HgmapError(f"a process for the floors cannot be started ({why})",
                           todo="give --jobs 1")
            )  # fmt: skip
        return hand

    def _started(self, number: int) -> tuple[_Hand | None, str, bool]:
        """Return a worker that is ready; else why not, and whether it was killed from outside."""
        ours, theirs = multiprocessing.Pipe()
        worker = multiprocessing.get_context("spawn").Process(
            target=_work, args=(theirs,), daemon=True
        )
        with self._lock:  # close() ends every worker, and none is started after it
            if self._closing.is_set():
                return None, "the run was ended", False
            worker.start()
            self._workers[number] = worker
        theirs.close()
        hand = _Hand(worker, ours)
        try:
            if ours.poll(_LONGEST_START_S) and ours.recv() == "ready":
                return hand, "", False
            worker.kill()
            return None, f"{hand.ended()}: it did not answer", False
        except (EOFError, OSError):
            why = hand.ended()
            return None, why, (worker.exitcode or 0) < 0


class _Hand:
    """A worker and our end of its pipe."""

    def __init__(self, worker: SpawnProcess, pipe: Connection[Any, Any]) -> None:
        self._worker, self._pipe = worker, pipe
        self._knows = ""

    def make(self, job: FloorJob, share: Share) -> bytes | Problem | None:
        """Let it make a floor; None where it ended instead."""
        try:
            if self._knows != job.digest + job.site:  # a site may be large: it is sent once
                self._pipe.send(replace(job, floor=""))
                self._knows = job.digest + job.site
            self._pipe.send(job.floor)
            while True:
                said: float | bytes | Problem = self._pipe.recv()
                if not isinstance(said, float):
                    return said
                share(job, said)
        except (EOFError, OSError):
            return None

    def ended(self) -> str:
        """Say how it ended."""
        self._pipe.close()
        code = _exit_status(self._worker)
        if code >= 0:
            return f"its process ended (exit status {code})"
        try:
            return f"its process was ended from outside ({signal.Signals(-code).name})"
        except ValueError:
            return f"its process was ended from outside (signal {-code})"

    def end(self) -> None:
        """Let it go home."""
        self._pipe.close()
        self._worker.join()


def _exit_status(worker: SpawnProcess) -> int:
    """Wait until a worker has ended and return its exit status; below 0 it is a signal.

    The system tells it once. A thread that starts another worker asks after all of them, so that
    this one may hear that the worker is gone before that one has noted down how it went.
    """
    worker.join()
    last = time.monotonic() + _STATUS_S
    while worker.exitcode is None and time.monotonic() < last:
        time.sleep(0.001)
    return worker.exitcode or 0


def _killed(job: FloorJob, ended: str) -> Problem:
    floor = job.case.site.floor(job.floor)
    return Problem(
        "error", floor.title if floor else job.floor, f"{ended}, at both tries",
        "there may be too little memory: give fewer --jobs or a coarser --cell, and --resume",
        job.floor,
    )  # fmt: skip


def _work(pipe: Connection[Any, Any]) -> None:
    """Make floors until the pipe is closed; what runs in a worker process."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the one that started us
    try:
        pipe.send("ready")
        site: FloorJob | None = None
        while True:
            said = pipe.recv()
            if isinstance(said, FloorJob):
                site = said
            elif site is not None:
                pipe.send(make_parcel(replace(site, floor=said), pipe.send))
    except (EOFError, OSError):
        return  # nobody is there any more
