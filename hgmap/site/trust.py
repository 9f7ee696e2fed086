"""A site with a verdict on each of its readings: held, usable with a caution, usable."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from hgmap.site.collector import collector_off
from hgmap.site.instruments.judge import judge_readings
from hgmap.site.instruments.overrules import apply_overrules
from hgmap.site.instruments.rules import load_rules
from hgmap.site.model import ActionLevel, Problem, Site
from hgmap.site.quality.subtraction import subtract
from hgmap.site.reading import Reading
from hgmap.site.units import COMPUTING_UNIT


def judged_site(site: Site, level: ActionLevel | None) -> Site:
    """Return the site with what instrument log and people say of each reading.

    Parameters
    ----------
    site : Site
        As it was read; not judged before.
    level : ActionLevel or None
        The level in force: some rules of the log ask for more where it is low. None is judged as
        the lowest.
    """
    with collector_off():
        readings = judge_readings(
            site.readings,
            site.log,
            load_rules(),
            None if level is None else level.concentration,
            {one.name: one.date for one in site.rounds},
            site.medium,
        )
        readings = subtract(readings, site.trust.subtract, COMPUTING_UNIT[site.medium])
        readings, disagreements = apply_overrules(readings, site.overrules)
    problems = [one for one in site.problems if one.severity != "held"]
    return replace(
        site,
        readings=tuple(readings),
        problems=(*problems, *disagreements, *held_problems(readings)),
    )


def held_problems(readings: Iterable[Reading]) -> Iterator[Problem]:
    """Yield a problem for each held reading, with every reason."""
    for one in readings:
        if one.held:
            yield Problem(
                "held", f"{one.where} ({one.id})", "; ".join(one.held), floor=one.floor,
                round=one.round,
            )  # fmt: skip
