"""Sites to maps or reports: floors side by side, and a bad one never stops the rest.

The results are the same however many floors are made at a time, and by whom: each floor is made
from its site alone, and what floors share is written in the order of the site.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, Protocol

from hgmap.batch import MapRun
from hgmap.errors import HgmapError, one_line
from hgmap.floor_map import MapOptions
from hgmap.many.crew import Crew, Here, Outcome
from hgmap.many.floor import FloorJob
from hgmap.many.kept import (
    Stamp,
    Unfinished,
    digests_of,
    run_digest,
    stamp_file,
    up_to_date,
    write_stamp,
)
from hgmap.many.task import MapTask, Run, RunT_co, Task, checked_jobs
from hgmap.map_case import MapCase
from hgmap.site.building import Floor
from hgmap.site.files import slug
from hgmap.site.folder import read_site
from hgmap.site.model import Problem, Site
from hgmap.site.staging import staged


class Watch(Protocol):
    """Told how a run goes on; from any thread."""

    def begin(self, site: str, floors: int, kept: int) -> None:
        """Hear that a site is begun: its floors, and how many of them are done already."""

    def share(self, site: str, floor: str, share: float) -> None:
        """Hear how far a floor is, 0 to 1."""

    def finish(self, site: str) -> None:
        """Hear that a site is done, or given up."""


@dataclass(frozen=True)
class SiteOutcome(Generic[RunT_co]):
    """What became of one site.

    Attributes
    ----------
    run : MapRun, ReportRun or None
        None where nothing was made, or where nothing had to be.
    error : HgmapError or None
        Why nothing was made of the whole site.
    current : Stamp or None
        Where its results were up to date: what they are.
    kept : int
        Floors that an earlier run had finished.
    notes : tuple of str
        How it was made, where that is out of the ordinary.
    """

    folder: Path
    out: Path | None
    run: RunT_co | None = None
    error: HgmapError | None = None
    current: Stamp | None = None
    kept: int = 0
    notes: tuple[str, ...] = ()

    @property
    def exit_code(self) -> int:
        """As of a run: 0 clean, 1 done with something to read, 2 nothing done."""
        if self.current is not None:
            return self.current.exit_code
        return 2 if self.run is None else self.run.exit_code


def exit_code(outcomes: Sequence[SiteOutcome[Run]]) -> int:
    """Return 0 where all is clean, 2 where nothing was done, else 1."""
    codes = {one.exit_code for one in outcomes}
    return 1 if len(codes) > 1 else next(iter(codes), 2)


def map_sites(
    folders: Sequence[Path | str],
    options: MapOptions | None = None,
    *,
    jobs: int = 1,
    resume: bool = False,
    cluster: str = "",
    watch: Watch | None = None,
) -> tuple[SiteOutcome[MapRun], ...]:
    """Map every floor of every site and write the results; as :func:`run_sites`."""
    task = MapTask(options or MapOptions())
    return run_sites(folders, task, jobs=jobs, resume=resume, cluster=cluster, watch=watch)


def run_sites(
    folders: Sequence[Path | str],
    task: Task[RunT_co],
    *,
    jobs: int = 1,
    resume: bool = False,
    cluster: str = "",
    watch: Watch | None = None,
) -> tuple[SiteOutcome[RunT_co], ...]:
    """Do a task for every floor of every site and write the results.

    Parameters
    ----------
    folders : sequence of path
        Site folders; one that is named twice is taken once.
    task : Task
        For each of them. With several sites ``out`` gets a folder for each.
    jobs : int
        Floors to make at a time, each in a process of its own where there is more than one.
    resume : bool
        Leave out sites whose results are up to date, and floors that a run which was ended had
        finished; both by the digest of what they are made from.
    cluster : str
        ``local`` or the address of a Dask scheduler, in place of processes.
    watch : Watch, optional
        Raising inside it ends the run; finished floors are kept for ``resume``.

    Raises
    ------
    HgmapError
        If nothing can be begun; what is wrong with one site is in its outcome.
    """
    from hgmap.many.cluster import Cluster
    from hgmap.many.processes import Processes

    checked_jobs(jobs)
    asked = _asked(folders, task)

    def share(job: FloorJob, done: float) -> None:
        if watch is not None:
            watch.share(job.site, job.floor, done)

    crew: Crew
    if cluster:
        crew = Cluster(cluster, jobs, share)
    else:
        crew = Here(share) if jobs == 1 else Processes(jobs, share)
    with closing(crew):
        return _Run(asked, crew, resume, watch).go()


def _asked(folders: Sequence[Path | str], task: Task[RunT_co]) -> list[tuple[Path, Task[RunT_co]]]:
    """Return each site once, with where its results go."""
    unique = {Path(one).resolve(): Path(one) for one in folders}
    if task.out is None or len(unique) == 1:
        return [(one, task) for one in unique.values()]
    found: dict[str, tuple[Path, Task[RunT_co]]] = {}
    for whole, folder in unique.items():
        name = slug(whole.name)
        if name.casefold() in found:
            raise HgmapError(
                f"two of the sites would write into {name!r}", where="--out",
                todo="leave --out away, or run them apart",
            )  # fmt: skip
        found[name.casefold()] = (folder, task.into(Path(task.out) / name))
    return list(found.values())


@dataclass
class _SiteRun(Generic[RunT_co]):
    """A site under way: what is known of each of its floors."""

    number: int
    name: str
    as_read: Site
    case: MapCase
    task: Task[RunT_co]
    out: Path
    digest: str
    floors: list[Floor]
    lost: list[Problem]
    work: Unfinished
    kept: int = 0
    todo: set[str] = field(default_factory=set)
    failed: dict[str, Problem] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)


class _Run(Generic[RunT_co]):
    """A run over sites, in their order; begun only when a crew has room for their floors."""

    def __init__(
        self,
        asked: list[tuple[Path, Task[RunT_co]]],
        crew: Crew,
        resume: bool,
        watch: Watch | None,
    ) -> None:
        self._crew, self._resume, self._watch = crew, resume, watch
        self._asked = asked
        self._outcomes: dict[int, SiteOutcome[RunT_co]] = {}
        self._open: dict[str, _SiteRun[RunT_co]] = {}
        self._under_way = 0

    def go(self) -> tuple[SiteOutcome[RunT_co], ...]:
        waiting = self._jobs()
        more = True
        try:
            while more or self._under_way:
                # one more than can be made at a time waits, so that nobody waits for us
                while more and self._under_way < 2 * self._crew.width:
                    job = next(waiting, None)
                    more = job is not None
                    if job is not None:
                        self._crew.submit(job)
                        self._under_way += 1
                if self._under_way:
                    outcome = self._crew.next()
                    self._under_way -= 1
                    self._take(outcome)
        except BaseException:
            self._crew.close()  # before the folders go in which its floors are half done
            for one in self._open.values():
                one.work.close(keep=True)
            raise
        return tuple(self._outcomes[number] for number in range(len(self._asked)))

    def _jobs(self) -> Iterator[FloorJob]:
        for number, (folder, task) in enumerate(self._asked):
            site = self._begin(number, folder, task)
            if site is None:
                continue
            if not site.todo:
                self._finish(site)
                continue
            for floor in site.floors:
                if floor.name in site.todo and site.name in self._open:  # not given up
                    yield FloorJob(site.name, floor.name, site.digest, site.case, site.task,
                                   site.work.folder)  # fmt: skip

    def _begin(self, number: int, folder: Path, task: Task[RunT_co]) -> _SiteRun[RunT_co] | None:
        """Read a site and see what of it is left to do; None where nothing is, or can be."""
        name, out = str(folder), None
        try:
            as_read = read_site(folder)
            case = task.case(as_read)
            floors, lost, out = task.plan(case)
            digest, stamped = run_digest(case, task), stamp_file(out, task.kind)
            if self._resume and (stamp := up_to_date(stamped, digest)) is not None:
                self._outcomes[number] = SiteOutcome(folder, out, current=stamp)
                self._tell(lambda watch: watch.begin(name, stamp.floors, stamp.floors))
                self._tell(lambda watch: watch.finish(name))
                return None
            work = Unfinished(out, task.kind, digest, resume=self._resume)
        except HgmapError as error:
            self._outcomes[number] = SiteOutcome(folder, out, error=error)
            self._tell(lambda watch: watch.finish(name))
            return None
        site = _SiteRun(number, name, as_read, case, task, out, digest, floors, lost, work)
        self._open[name] = site
        site.todo = {one.name for one in floors if not work.has(one.name)}
        site.kept = len(floors) - len(site.todo)
        self._tell(lambda watch: watch.begin(name, len(floors), site.kept))
        return site

    def _take(self, outcome: Outcome) -> None:
        """Keep a floor that is done; after the last one of a site, write its results."""
        job, made = outcome.job, outcome.made
        site = self._open.get(job.site)
        if site is None:
            return  # given up meanwhile
        if isinstance(made, Problem):
            site.failed[job.floor] = made
        else:
            try:
                site.work.keep(job.floor, made)
            except HgmapError as error:  # no room for this one, and so for no other
                self._give_up(site, error)
                return
        if outcome.note:
            site.notes.append(f"{job.floor}: {outcome.note}")
        site.todo.discard(job.floor)
        self._tell(lambda watch: watch.share(job.site, job.floor, 1.0))
        if not site.todo:
            self._finish(site)

    def _finish(self, site: _SiteRun[RunT_co]) -> None:
        try:
            run = self._written(site)
        except HgmapError as error:
            self._give_up(site, error)
            return
        self._end(site, SiteOutcome(
            self._asked[site.number][0], site.out, run, kept=site.kept, notes=tuple(site.notes),
        ), keep=bool(site.failed))  # fmt: skip

    def _written(self, site: _SiteRun[RunT_co]) -> RunT_co:
        made: list[Any] = []
        failed = list(site.lost)
        stamped = stamp_file(site.out, site.task.kind)
        with staged(site.out, beside=site.work.folder) as stage:
            for floor in site.floors:
                if floor.name in site.failed:
                    failed.append(site.failed[floor.name])
                else:
                    made.append(site.work.take(floor.name, stage))
            run = site.task.finish(site.as_read, site.case, site.out, stage, made, failed)
            files = [one.relative_to(stage).as_posix() for one in stage.rglob("*") if one.is_file()]
            written = digests_of(stage, sorted(files))
        if made and not site.failed:  # a floor that was lost is tried again by --resume
            lost = tuple(one_line(one.message, where=one.where, todo=one.todo) for one in site.lost)
            write_stamp(stamped, Stamp(site.digest, run.exit_code, len(made), written, lost))
        else:
            stamped.unlink(missing_ok=True)
        return run

    def _give_up(self, site: _SiteRun[RunT_co], error: HgmapError) -> None:
        self._end(site, SiteOutcome(self._asked[site.number][0], site.out, error=error), keep=True)

    def _end(self, site: _SiteRun[RunT_co], outcome: SiteOutcome[RunT_co], *, keep: bool) -> None:
        self._outcomes[site.number] = outcome
        del self._open[site.name]
        site.work.close(keep=keep)
        self._tell(lambda watch: watch.finish(site.name))

    def _tell(self, say: Callable[[Watch], None]) -> None:
        if self._watch is not None:
            say(self._watch)
