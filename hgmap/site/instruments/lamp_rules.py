"""Rules for analysers with a lamp: atomic absorption and atomic fluorescence."""

from __future__ import annotations

from collections.abc import Iterator

from hgmap.site.instruments.days import DayOfUse, rows_of
from hgmap.site.instruments.shared_rules import Rules
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.tolerance import beyond, zero_beyond


def lamp_spans(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    """Yield what the rules for lamps say about one day of use.

    Memory after a high reading is known only where the log says that the range was exceeded
    (``saturation``): no reading is judged by the readings before it.
    """
    yield from _warm_up(day, rules)
    yield from _zero_before_use(day, rules, level_ug_m3)
    yield from _memory(day, rules, level_ug_m3)


def _warm_up(day: DayOfUse, rules: Rules) -> Iterator[HeldSpan]:
    rule = rules["warm-up"]
    minutes = rule.numbers["minutes"]
    tried = day.done("warm-up")
    enough = next((one for one in tried if not beyond(minutes, one.minutes)), None)
    if enough is None:
        yield day.whole(rule, f"no warm-up of {minutes:g} min on this day of use", tried)
        return
    finding = rule.finding("taken before the warm-up", rows_of([enough]))
    yield HeldSpan(day.begins, enough.end, finding, untimed=False)


def _zero_before_use(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    rule = rules["zero-before-use"]
    tried = day.of("zero-air")
    passed = next(
        (
            one
            for one in tried
            if one.values and one.passed is not False and not zero_beyond(one, rule, level_ug_m3)
        ),
        None,
    )
    if passed is None:
        yield day.whole(rule, "no zero-air check that passes on this day of use", tried)
        return
    finding = rule.finding("taken before the zero-air check", rows_of([passed]))
    yield HeldSpan(day.begins, passed.end, finding, untimed=False)


def _memory(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    rule = rules["memory"]
    clean = [
        one
        for one in day.of("zero-air")
        if one.values and one.passed is not False and not zero_beyond(one, rule, level_ug_m3)
    ]
    for one in day.of("saturation"):
        ends = [other.end for other in clean if other.start >= one.start]
        finding = rule.finding(
            "after a reading beyond the range, before zero air was clean again", rows_of([one])
        )
        yield HeldSpan(one.start, min(ends, default=day.ends), finding)
