"""The quality record of a round: what was measured, and whether it is fit to map."""

from __future__ import annotations

from dataclasses import dataclass

from hgmap.shows_itself import InATable
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.figures import named
from hgmap.site.quality.fitness import Fitness, judge
from hgmap.site.quality.measures import Measures, measure


@dataclass(frozen=True, slots=True)
class QualityReport(InATable):
    """Everything that the tool says of the readings of one round, or of a whole site.

    Attributes
    ----------
    round : str
        Name of the round; empty for all.
    measures : Measures
    fitness : Fitness
    """

    round: str
    measures: Measures
    fitness: Fitness


def quality_report(
    site: Site, level: ActionLevel | None, round_name: str | None = None
) -> QualityReport:
    """Judge the readings of a round, or of the whole site where ``round_name`` is None.

    Works with an instrument log and without one, and with readings that were judged against it or
    not.
    """
    found = measure(site, level, round_name)
    return QualityReport(round_name or "", found, judge(found))


def not_fit(report: QualityReport) -> tuple[str, ...]:
    """Say why no ground may be clear: the readings are not fit to map; nothing where they are."""
    if report.fitness.verdict != "not fit":
        return ()
    # files that are lost are said, and clear nothing, on their own
    against = [one for one in report.fitness.against if one not in report.measures.lost_files]
    if not against:
        return ()
    return (f"the readings are not fit to map ({'; '.join(against)}): nothing is clear",)


def with_cautions(report: QualityReport, *, every: bool = False) -> tuple[str, ...]:
    """Say what stands against readings that are fit with cautions; nothing of any others.

    ``every`` reason is said where no quality page lies beside what is printed.
    """
    if report.fitness.verdict != "fit with cautions":
        return ()
    if every:
        return (f"readings fit with cautions: {'; '.join(report.fitness.reasons)}",)
    first, *more = report.fitness.reasons
    rest = f"; and {len(more)} more, on the quality page" if more else ""
    return (f"readings fit with cautions: {first}{rest}",)


def no_clearance(report: QualityReport) -> tuple[str, ...]:
    """Say why a clearance round clears nothing yet: the conditions that were not met or written.

    The zones stay as the readings make them; what they are good for is said beside them.
    """
    texts = []
    for one in report.measures.conditions:
        if not one.asked or one.met:
            continue
        why = [
            f"{words}: {named(names)}"
            for words, names in (("not met", one.named("unmet")),
                                 ("not written down", one.named("missing")))
            if names
        ]  # fmt: skip
        problem = one.problem.split(":")[0].split(";")[0]
        asked = problem or f"the conditions of {one.guidance} are {', '.join(why)}"
        texts.append(f"this round supports no clearance yet: {asked}; what is clear here was clear "
                     "under the conditions of the day")  # fmt: skip
    return tuple(texts)
