"""The quality pages of a round, as files."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from hgmap.report.drawing import Sheet
from hgmap.report.quality_page import quality_sheets, write_quality_pages
from hgmap.report.timeline_days import HeldSpan
from hgmap.site.instruments.rules import load_rules
from hgmap.site.instruments.spans import held_spans
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.figures import clock
from hgmap.site.quality.quality import QualityReport
from hgmap.site.reading import Reading

PDF: Final = "quality.pdf"
PNG: Final = "quality.png"


def write_quality(
    folder: Path, site: Site, level: ActionLevel | None, report: QualityReport
) -> list[str]:
    """Write ``quality.pdf`` and ``quality.png`` of one round; return their names.

    Parameters
    ----------
    folder : Path
    site : Site
        Judged by its log.
    level : ActionLevel or None
        The level in force.
    report : QualityReport
        Of the round.
    """
    readings = [one for one in site.readings if one.round == report.round]
    paths = write_quality_pages(
        folder / PDF,
        folder / PNG,
        report,
        readings,
        site.log,
        spans_of(site, level, readings),
        title=site.name,
        invented=site.invented,
        medium=site.medium,
        author=site.title_block.prepared_by,
    )
    return [path.name for path in paths]


def quality_sheets_of(site: Site, level: ActionLevel | None, report: QualityReport) -> list[Sheet]:
    """Lay out the pages that :func:`write_quality` writes."""
    readings = [one for one in site.readings if one.round == report.round]
    return quality_sheets(
        report, readings, site.log, spans_of(site, level, readings), title=site.name,
        invented=site.invented, medium=site.medium, author=site.title_block.prepared_by,
    )  # fmt: skip


def quality_pages(folder: Path) -> tuple[str, ...]:
    """Return the names of the quality pages in a folder, of whatever run."""
    return tuple(sorted(path.name for path in folder.glob("quality*.png")))


def spans_of(site: Site, level: ActionLevel | None, readings: Sequence[Reading]) -> list[HeldSpan]:
    """Return when readings are held, by the log; cautions are in the words of the page.

    What belongs to every day of use, such as the time before the opening checks, is left out
    unless a reading was taken then.
    """
    if site.log is None:
        return []
    found = held_spans(site.log, load_rules(), None if level is None else level.concentration)
    times = sorted(clock(one.time) for one in readings if one.time is not None)
    return [
        (name, one.start, one.end, one.finding.message)
        for (name, _), spans in found.items()
        for one in spans
        if one.finding.severity == "hold"
        and (one.untimed or bisect_left(times, one.start) < bisect_left(times, one.end))
    ]
