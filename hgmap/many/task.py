"""What is made of a site when floors are made side by side: of each floor apart, then of all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Protocol, TypeVar

from hgmap.batch import MadeFloor, MapRun, finish_run, make_floor, plan_run
from hgmap.errors import HgmapError
from hgmap.floor_map import FloorMap, MapOptions
from hgmap.map_case import MapCase, map_case
from hgmap.site.building import Floor
from hgmap.site.model import Problem, Site


class Made(Protocol):
    """One floor as made: a dataclass of ours, so that it can be kept on the disk."""

    @property
    def map(self) -> FloorMap:
        """Its map."""


class Run(Protocol):
    """All floors of a site as made."""

    @property
    def exit_code(self) -> int:
        """0 clean, 1 done with something to read, 2 nothing done."""

    @property
    def floors(self) -> Sequence[object]:
        """Those that were made."""

    @property
    def failed(self) -> Sequence[Problem]:
        """Those that could not be made."""

    @property
    def warnings(self) -> Sequence[str]:
        """What the user should read."""


RunT_co = TypeVar("RunT_co", bound=Run, covariant=True)


class Task(Protocol[RunT_co]):
    """What a run makes of every site; plain values, as it goes to other processes."""

    @property
    def kind(self) -> str:
        """One word; tasks of two kinds may have their results in one folder."""

    @property
    def out(self) -> Path | str | None:
        """Where the results go; None is the site's own folder for them."""

    def into(self, out: Path) -> Task[RunT_co]:
        """Return the same task with its results elsewhere."""

    def told(self) -> Any:
        """Return all that the results depend on beside the site; ``out`` does not count."""

    def case(self, as_read: Site) -> MapCase:
        """Judge a site for it."""

    def plan(self, case: MapCase) -> tuple[list[Floor], list[Problem], Path]:
        """Return the floors to make, those that are lost already, and where the results go."""

    def make(
        self, case: MapCase, floor: Floor, folder: Path, report: Callable[[float], None]
    ) -> Made:
        """Make one floor in any process, its own files below ``folder``."""

    def finish(
        self,
        as_read: Site,
        case: MapCase,
        out: Path,
        stage: Path,
        floors: Sequence[Any],
        failed: Sequence[Problem],
    ) -> RunT_co:
        """Write what all floors share into ``stage``; its files go to ``out`` afterwards."""


@dataclass(frozen=True)
class MapTask:
    """The maps of a round: what ``hgmap map`` makes."""

    options: MapOptions = field(default_factory=MapOptions)
    kind = "map"

    @property
    def out(self) -> Path | str | None:
        """Where the results go."""
        return self.options.out

    def into(self, out: Path) -> MapTask:
        """Return the same task with its results elsewhere."""
        return MapTask(replace(self.options, out=out))

    def told(self) -> dict[str, Any]:
        """Return the options."""
        return options_told(self.options)

    def case(self, as_read: Site) -> MapCase:
        """Judge a site for it."""
        return map_case(as_read, self.options)

    def plan(self, case: MapCase) -> tuple[list[Floor], list[Problem], Path]:
        """Return the floors to make, those that are lost already, and where the results go."""
        return plan_run(case, self.options)

    def make(
        self, case: MapCase, floor: Floor, folder: Path, report: Callable[[float], None]
    ) -> MadeFloor:
        """Map a floor and write its own files."""
        return make_floor(case, floor, self.options, folder, report)

    def finish(
        self,
        as_read: Site,
        case: MapCase,
        out: Path,
        stage: Path,
        floors: Sequence[MadeFloor],
        failed: Sequence[Problem],
    ) -> MapRun:
        """Write what all floors share."""
        return finish_run(case, self.options, out, stage, floors, failed)


def options_told(options: MapOptions) -> dict[str, Any]:
    """Return options as plain values; where the results go does not count, nor an order."""
    return asdict(replace(options, out=None, floors=tuple(sorted(set(options.floors)))))


def checked_jobs(jobs: int) -> int:
    """Return how many floors to make at a time.

    Raises
    ------
    HgmapError
        If that is none.
    """
    if jobs < 1:
        raise HgmapError(
            f"{jobs} floors at a time cannot be", where="--jobs", todo="give 1 or more"
        )
    return jobs
