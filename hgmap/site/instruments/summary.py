"""How many readings each rule touched, for the quality page."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, get_args

from hgmap.site.reading import Reading, Verdict


@dataclass(frozen=True, slots=True)
class RuleCount:
    """Readings that one rule holds, cautions, or held until a person overruled it."""

    rule: str
    severity: Literal["hold", "caution", "overruled"]
    readings: int


@dataclass(frozen=True, slots=True)
class TrustSummary:
    """Counts over a set of readings.

    Attributes
    ----------
    verdicts : dict
        Every verdict with its number of readings, 0 where there are none.
    rules : tuple of RuleCount
        Holds first, then cautions, then what was overruled; within these by number, then name.
    held_otherwise : int
        Readings that are held and not by any finding: no value, no place.
    """

    verdicts: dict[Verdict, int]
    rules: tuple[RuleCount, ...]
    held_otherwise: int


def summarise(readings: Iterable[Reading]) -> TrustSummary:
    """Count verdicts and findings; a rule counts once a reading."""
    verdicts: dict[Verdict, int] = dict.fromkeys(get_args(Verdict), 0)
    rules: Counter[tuple[str, Literal["hold", "caution", "overruled"]]] = Counter()
    otherwise = 0
    for reading in readings:
        verdicts[reading.verdict] += 1
        keys: set[tuple[str, Literal["hold", "caution", "overruled"]]] = {
            (one.rule, "overruled" if one.overruled else one.severity) for one in reading.findings
        }
        rules.update(keys)
        if reading.held and not any(severity == "hold" for _, severity in keys):
            otherwise += 1
    order = ("hold", "caution", "overruled")
    counts = [RuleCount(rule, severity, number) for (rule, severity), number in rules.items()]
    counts.sort(key=lambda one: (order.index(one.severity), -one.readings, one.rule))
    return TrustSummary(verdicts, tuple(counts), otherwise)
