"""The quality pages of a round, as files."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from hgmap.report.quality_page import write_quality_pages
from hgmap.report.timeline_days import HeldSpan
from hgmap.site.instruments.rules import load_rules
from hgmap.site.instruments.spans import held_spans
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.quality import QualityReport

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
    paths = write_quality_pages(
        folder / PDF,
        folder / PNG,
        report,
        [one for one in site.readings if one.round == report.round],
        site.log,
        _spans(site, level),
        title=site.name,
        invented=site.invented,
        medium=site.medium,
        author=site.title_block.prepared_by,
    )
    return [path.name for path in paths]


def _spans(site: Site, level: ActionLevel | None) -> list[HeldSpan]:
    """Return when readings are held, by the log; cautions are in the words of the page."""
    if site.log is None:
        return []
    found = held_spans(site.log, load_rules(), None if level is None else level.concentration)
    return [
        (name, one.start, one.end, one.finding.message)
        for (name, _), spans in found.items()
        for one in spans
        if one.finding.severity == "hold"
    ]
