"""What the log says about each instrument over each day, to judge by and to draw."""

from __future__ import annotations

from datetime import date

from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.span import HeldSpan


def held_spans(
    log: InstrumentLog, rules: InstrumentRules, level_ug_m3: float | None
) -> dict[tuple[str, date], list[HeldSpan]]:
    """Return what the rules say, by name of the instrument and first date of the day of use.

    Parameters
    ----------
    log : InstrumentLog
        All checks.
    rules : InstrumentRules
        What they are held against (:func:`hgmap.site.instruments.rules.load_rules`).
    level_ug_m3 : float or None
        The level in force (µg/m³); None: judged as the lowest.
    """
    raise NotImplementedError
