"""Who makes the floors: what every crew does, and the one that is this process alone."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from hgmap.many.floor import FloorJob, make_parcel
from hgmap.site.model import Problem

Share = Callable[[FloorJob, float], None]
"""Called with a floor and the share of it that is done, 0 to 1; from any thread."""


@dataclass(frozen=True)
class Outcome:
    """A floor that a crew is done with.

    Attributes
    ----------
    made : bytes or Problem
        Its parcel, or why there is none.
    note : str
        What a person should know of how it was made.
    """

    job: FloorJob
    made: bytes | Problem
    note: str = ""


class Crew(Protocol):
    """Makes floors, one or several at a time."""

    @property
    def width(self) -> int:
        """How many floors it makes at a time."""

    def submit(self, job: FloorJob) -> None:
        """Take a floor on."""

    def next(self) -> Outcome:
        """Wait for a floor to be done; only while more were taken on than are done."""

    def close(self) -> None:
        """End it, whatever it is doing."""


class Here:
    """Our own process, one floor after another."""

    width = 1

    def __init__(self, share: Share) -> None:
        self._share = share
        self._jobs: deque[FloorJob] = deque()

    def submit(self, job: FloorJob) -> None:
        """Take a floor on."""
        self._jobs.append(job)

    def next(self) -> Outcome:
        """Make the next floor."""
        job = self._jobs.popleft()
        return Outcome(job, make_parcel(job, lambda share: self._share(job, share)))

    def close(self) -> None:
        """Nothing is under way."""
        self._jobs.clear()
