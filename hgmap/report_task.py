"""Reports of many sites, floors side by side: the same machinery as for maps."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hgmap.many.plain import to_plain
from hgmap.many.sites import SiteOutcome, Watch, run_sites
from hgmap.many.task import options_told
from hgmap.map_case import MapCase
from hgmap.report.document.style import HouseStyle
from hgmap.report.sheet_setup import text_paper
from hgmap.site.building import Floor
from hgmap.site.files import digest
from hgmap.site.model import Problem, Site
from hgmap.survey_report import (
    ReportOptions,
    ReportRun,
    SheetedFloor,
    gathered,
    house_style,
    plan_report,
    report_case,
    sheeted_floor,
    write_report_files,
)


@dataclass(frozen=True)
class ReportTask:
    """The report of a round: what ``hgmap report`` makes."""

    options: ReportOptions = field(default_factory=ReportOptions)
    style: HouseStyle = field(default_factory=HouseStyle)
    kind = "report"

    @property
    def out(self) -> Path | str | None:
        """Where the report goes."""
        return self.options.out

    def into(self, out: Path) -> ReportTask:
        """Return the same task with its results elsewhere."""
        return replace(self, options=replace(self.options, out=out))

    def told(self) -> dict[str, Any]:
        """Return the options; the style by what is in its file and its logo."""
        return {
            "map": options_told(self.options.map),
            "rule": self.options.rule,
            "since": self.options.since,
            "formats": self.options.formats,
            "style": digest(to_plain(self.style).encode()),
        }

    def case(self, as_read: Site) -> MapCase:
        """Judge a site for it."""
        return report_case(as_read, self.options)

    def plan(self, case: MapCase) -> tuple[list[Floor], list[Problem], Path]:
        """Return the floors to make, those that are lost already, and where the report goes."""
        return plan_report(case, self.options)

    def make(
        self, case: MapCase, floor: Floor, folder: Path, report: Callable[[float], None]
    ) -> SheetedFloor:
        """Map a floor and lay out its sheets; it has no files of its own."""
        return sheeted_floor(case, floor, self.options, report)

    def finish(
        self,
        as_read: Site,
        case: MapCase,
        out: Path,
        stage: Path,
        floors: Sequence[SheetedFloor],
        failed: Sequence[Problem],
    ) -> ReportRun:
        """Rule on the rooms and write the report."""
        run, survey = gathered(as_read, case, self.options, out, floors, failed)
        paper = text_paper(self.options.map.setup.paper)
        names = write_report_files(survey, self.style, self.options.formats, stage, paper=paper)
        return ReportRun(run, survey, tuple(run.out / name for name in names))


def report_sites(
    folders: Sequence[Path | str],
    options: ReportOptions | None = None,
    *,
    jobs: int = 1,
    resume: bool = False,
    cluster: str = "",
    watch: Watch | None = None,
) -> tuple[SiteOutcome[ReportRun], ...]:
    """Write the report of every site; as :func:`hgmap.many.sites.run_sites`.

    Raises
    ------
    HgmapError
        If nothing can be begun; what is wrong with one site is in its outcome.
    """
    options = options or ReportOptions()
    task = ReportTask(options, house_style(options))
    return run_sites(folders, task, jobs=jobs, resume=resume, cluster=cluster, watch=watch)
