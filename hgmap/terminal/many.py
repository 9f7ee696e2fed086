"""What ``hgmap map`` prints: a bar for each site and one for all, then what became of them."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType

from rich.console import Console
from rich.progress import (
    BarColumn,
    Progress,
    TaskID,
    TextColumn,
    TimeElapsedColumn,
)
from rich.table import Table

from hgmap.batch import MapRun
from hgmap.floor_map import MapOptions
from hgmap.many.sites import SiteOutcome, exit_code, map_sites
from hgmap.many.task import Run, RunT_co
from hgmap.site.quality.figures import counted
from hgmap.site.textfile import printable
from hgmap.terminal.lines import say
from hgmap.terminal.results import console_for_results, print_run

LONGEST_NAME = 40


class SitesProgress:
    """Bars on stderr: one for each site that is under way, one for all sites.

    Silent where stderr is not a terminal. With one site its own bar is all there is.

    Parameters
    ----------
    sites : int
        How many there will be.
    console : Console, optional
        Where to draw, in place of stderr.
    """

    def __init__(self, sites: int, console: Console | None = None) -> None:
        self.bars = Progress(
            TextColumn("{task.description}", markup=False),
            BarColumn(),
            TextColumn("{task.percentage:>3.0f} %"),
            TextColumn("{task.fields[counted]}", markup=False),
            TimeElapsedColumn(),
            console=console or Console(stderr=True),
            disable=console is None and not sys.stderr.isatty(),
            transient=True,
        )
        self._lock = threading.Lock()
        self._tasks: dict[str, TaskID] = {}
        self._shares: dict[str, dict[str, float]] = {}
        self._sites, self._done = sites, 0
        what = "reading the site" if sites == 1 else "all sites"
        self._whole = self.bars.add_task(what, total=float(sites), counted="")

    def __enter__(self) -> SitesProgress:
        self.bars.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.bars.stop()

    def begin(self, site: str, floors: int, kept: int) -> None:
        """Add the bar of a site; the floors that are done already are done."""
        with self._lock:
            self._shares[site] = {f"\0{number}": 1.0 for number in range(kept)}
            self._tasks[site] = self.bars.add_task(
                _short(site), total=float(max(floors, 1)), completed=kept,
                counted=f"{kept} of {counted(floors, 'floor')}",
            )  # fmt: skip
            if self._sites == 1:
                self.bars.update(self._whole, visible=False)

    def share(self, site: str, floor: str, share: float) -> None:
        """Move the bar of a site, and the one for all."""
        with self._lock:
            if site not in self._tasks:
                return  # given up meanwhile
            shares = self._shares[site]
            shares[floor] = max(share, shares.get(floor, 0.0))
            task = self._tasks[site]
            total = int(self.bars.tasks[self.bars.task_ids.index(task)].total or 1)
            done = sum(one >= 1 for one in shares.values())
            self.bars.update(
                task, completed=sum(shares.values()), counted=f"{done} of {counted(total, 'floor')}"
            )
            self._update_whole()

    def finish(self, site: str) -> None:
        """Take the bar of a site away."""
        with self._lock:
            task = self._tasks.pop(site, None)
            self._shares.pop(site, None)
            if task is not None:
                self.bars.remove_task(task)
            self._done += 1
            self._update_whole()

    def _update_whole(self) -> None:
        totals = {one.id: one.total or 1.0 for one in self.bars.tasks}
        under_way = sum(
            sum(self._shares[site].values()) / totals[task] for site, task in self._tasks.items()
        )
        self.bars.update(
            self._whole, completed=self._done + under_way,
            counted=f"{self._done} of {counted(self._sites, 'site')}",
        )  # fmt: skip


def _short(name: str) -> str:
    """Return the end of a long name: that is where sites of one folder differ."""
    name = printable(name)
    return name if len(name) <= LONGEST_NAME else "…" + name[1 - LONGEST_NAME :]


def sites_and_print(
    folders: Sequence[Path],
    run: Callable[[SitesProgress], Sequence[SiteOutcome[RunT_co]]],
    show: Callable[[RunT_co], None],
) -> int:
    """Run over sites under bars, print what became of each, and return the exit status.

    Raises
    ------
    HgmapError
        If nothing can be begun, or the only site cannot be done.
    """
    with SitesProgress(len({one.resolve() for one in folders})) as watch:
        outcomes = run(watch)
    if len(outcomes) == 1 and outcomes[0].error is not None:
        raise outcomes[0].error
    print_sites(outcomes, show)
    return exit_code(outcomes)


def map_and_print(
    folders: Sequence[Path], options: MapOptions, *, jobs: int, resume: bool, cluster: str
) -> int:
    """Map the sites and print what became of them; as :func:`sites_and_print`."""

    def run(watch: SitesProgress) -> tuple[SiteOutcome[MapRun], ...]:
        return map_sites(folders, options, jobs=jobs, resume=resume, cluster=cluster, watch=watch)

    return sites_and_print(folders, run, print_run)


def print_sites(outcomes: Sequence[SiteOutcome[RunT_co]], show: Callable[[RunT_co], None]) -> None:
    """Print each site as ``show`` prints one; then, of several, a line for each."""
    console = console_for_results()
    for one in outcomes:
        if one.run is not None:
            show(one.run)
        elif one.current is not None:
            say(console, f"{one.folder}: up to date; the results in {one.out} were made from the "
                         "same files, by the same options and version")  # fmt: skip
            for lost in one.current.lost:
                say(console, f"not made: {lost}")
        else:
            say(console, f"not made: {one.folder}: {one.error}")
        for note in _how(one):
            say(console, f"note: {note}")
        if len(outcomes) > 1:
            console.print()
    if len(outcomes) > 1:
        _print_table(console, outcomes)


def _how(outcome: SiteOutcome[Run]) -> list[str]:
    kept = (
        f"{counted(outcome.kept, 'floor')} had been made by a run that was ended, and "
        f"{'is' if outcome.kept == 1 else 'are'} taken over"
    )
    return [*([kept] if outcome.kept else []), *outcome.notes]


def _print_table(console: Console, outcomes: Sequence[SiteOutcome[Run]]) -> None:
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("site", overflow="fold")
    for title in ("floors made", "not made", "warnings"):
        table.add_column(title, justify="right")
    table.add_column("outcome")
    for one in outcomes:
        made = failed = warned = ""
        if one.run is not None:
            made, failed = str(len(one.run.floors)), str(len(one.run.failed))
            warned = str(len(one.run.warnings))
        elif one.current is not None:
            failed = str(len(one.current.lost)) if one.current.lost else ""
        table.add_row(printable(str(one.folder)), made, failed, warned, _in_a_word(one))
    console.print(table)


def _in_a_word(one: SiteOutcome[Run]) -> str:
    if one.current is not None:
        return "up to date" + (", something to read" if one.exit_code else "")
    return {0: "made", 1: "made, something to read"}.get(one.exit_code, "nothing made")
