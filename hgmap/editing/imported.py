"""What the check of the plan, and the readings, say of a floor that was just brought in."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from hgmap.editing.plan_check import NumberedFinding
from hgmap.editing.plan_draft import read_plan_draft
from hgmap.editing.readings_after import readings_after
from hgmap.editing.site_files import SiteFiles, read_site_files, site_of
from hgmap.editing.soundness import soundness
from hgmap.errors import HgmapError
from hgmap.site.collector import collector_off
from hgmap.site.importers.add_floor import ImportReport


@collector_off()
def read_findings(report: ImportReport) -> tuple[NumberedFinding, ...]:
    """Return the findings of a plan as it was written, or would be, numbered from 1."""
    found = soundness(read_plan_draft(report.data, where=report.plan.name))
    return tuple(
        NumberedFinding(number, report.floor, one) for number, one in enumerate(found, start=1)
    )


def files_before(folder: Path) -> SiteFiles | None:
    """Return a site's files before its plans are replaced; None where it cannot be read yet."""
    try:
        return read_site_files(folder)
    except HgmapError:
        return None


def readings_after_import(before: SiteFiles, reports: Sequence[ImportReport]) -> tuple[str, ...]:
    """Say which rows of the readings mean something else on the plans that were brought in.

    Parameters
    ----------
    before : SiteFiles
        The site as it was.
    reports : sequence of ImportReport
        Of the floors whose plans were replaced.

    Returns
    -------
    tuple of str
        As of :func:`hgmap.editing.readings_after.readings_after`; empty where the site could not
        be read before or cannot now.
    """
    after = before
    for one in reports:
        plan = one.plan.resolve().relative_to(before.folder.resolve()).as_posix()
        after = after.with_file(plan, one.data)
    try:
        return readings_after(site_of(before), site_of(after))
    except HgmapError:  # the check says why
        return ()
