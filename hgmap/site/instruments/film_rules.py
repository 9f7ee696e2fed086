"""Rules for gold-film analysers: regenerate, zero, warm up, and what a saturated film spoils."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta

from hgmap.site.instruments.days import DayOfUse, rows_of
from hgmap.site.instruments.model import Check
from hgmap.site.instruments.shared_rules import (
    Rules,
    check_end,
    regenerated,
    why_not_regenerated,
)
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.tolerance import beyond, failed, why_not_zero


def film_spans(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    """Yield what the rules for gold film say about one day of use."""
    regenerations = regenerated(day, rules)
    yield from _before_use(day, rules, regenerations)
    closing = closing_regeneration(day, rules, level_ug_m3)
    if closing is None:
        yield day.whole(
            rules["regeneration-at-end"], "the film was not regenerated at the end of the day"
        )
    for index, one in enumerate(regenerations):
        following = regenerations[index + 1] if index + 1 < len(regenerations) else None
        yield from _length(day, rules, one, following)
        untimed = one is not closing
        yield from _zero_air(day, rules, one, following, untimed=untimed)
        yield from _warm_up(day, rules, one, following, level_ug_m3, untimed=untimed)
    yield from _until_regenerated(day, rules, regenerations)


def closing_regeneration(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Check | None:
    """Return the regeneration that ended the day: the last one, after or shortly before closing."""
    regenerations = regenerated(day, rules)
    closings = [one for one in day.of("end-of-day") if not failed(one, rules, level_ug_m3)]
    if len(regenerations) < 2 or not closings:
        return None
    most = timedelta(minutes=rules["regeneration-at-end"].numbers["minutes_to_closing"])
    last = regenerations[-1]
    return last if closings[-1].start - check_end(last, rules) <= most else None


def _before_use(day: DayOfUse, rules: Rules, regenerations: Sequence[Check]) -> Iterator[HeldSpan]:
    rule = rules["regeneration-before-use"]
    if not regenerations:
        yield day.whole(rule, "the film was not regenerated on this day of use")
        return
    first = regenerations[0]
    finding = rule.finding("taken before the film was regenerated", rows_of([first]))
    yield HeldSpan(day.begins, check_end(first, rules), finding, untimed=False)


def _length(
    day: DayOfUse, rules: Rules, regeneration: Check, following: Check | None
) -> Iterator[HeldSpan]:
    rule = rules["regeneration-length"]
    least = rule.numbers["minutes"] - rule.numbers["tolerance_minutes"]
    if not beyond(least, regeneration.minutes):
        return
    written = f"the regeneration took {regeneration.minutes:.3g} min"
    if regeneration.end == regeneration.start:
        written = "nobody wrote how long the regeneration took"
    usual = f"{rule.numbers['minutes']:g} min are usual"
    yield HeldSpan(
        check_end(regeneration, rules),
        following.start if following else day.ends,
        rule.finding(f"{written}; {usual}", rows_of([regeneration])),
    )


def _zero_air(
    day: DayOfUse, rules: Rules, regeneration: Check, following: Check | None, *, untimed: bool
) -> Iterator[HeldSpan]:
    rule = rules["zero-after-regeneration"]
    tried = _between(day, "zero-air", regeneration, following)
    passed = next((one for one in tried if not why_not_zero(one, rule)), None)
    start = check_end(regeneration, rules)
    if passed is not None:
        wrong = [one for one in tried if one.start < passed.start]
        why = f"; one before it: {why_not_zero(wrong[-1], rule)}" if wrong else ""
        finding = rule.finding(
            f"taken before the zero-air check after the regeneration passed{why}",
            rows_of([regeneration, *wrong, passed]),
        )
        # a check that did not pass belongs to no good day: it is told of readings without time too
        yield HeldSpan(start, max(start, passed.end), finding, untimed=bool(wrong))
        return
    why = f"; the last one: {why_not_zero(tried[-1], rule)}" if tried else ""
    finding = rule.finding(
        f"no zero-air check that passes after the regeneration{why}",
        rows_of([regeneration, *tried]),
    )
    end = check_end(following, rules) if following else day.ends
    yield HeldSpan(start, end, finding, untimed=untimed)


def _warm_up(
    day: DayOfUse,
    rules: Rules,
    regeneration: Check,
    following: Check | None,
    level_ug_m3: float | None,
    *,
    untimed: bool,
) -> Iterator[HeldSpan]:
    rule = rules["warm-up"]
    below, minutes = rule.numbers["below_level_ug_m3"], rule.numbers["minutes"]
    if level_ug_m3 is not None and level_ug_m3 >= below:
        return
    tried = _between(day, "warm-up", regeneration, following)
    enough = next(
        (one for one in tried if one.passed is not False and not beyond(minutes, one.minutes)),
        None,
    )
    start = check_end(regeneration, rules)
    if enough is not None:
        finding = rule.finding(
            "taken before the warm-up after the regeneration", rows_of([regeneration, enough])
        )
        yield HeldSpan(start, max(start, enough.end), finding, untimed=False)
        return
    level = f"for a level under {below:g} µg/m³"
    if level_ug_m3 is None:
        level += " (no level is stated; judged as one)"
    finding = rule.finding(
        f"no warm-up of {minutes:g} min on zero air after the regeneration, {level}",
        rows_of([regeneration, *tried]),
    )
    end = check_end(following, rules) if following else day.ends
    yield HeldSpan(start, end, finding, untimed=untimed)


def _until_regenerated(
    day: DayOfUse, rules: Rules, regenerations: Sequence[Check]
) -> Iterator[HeldSpan]:
    for one in day.of("saturation", "regeneration"):
        if one.kind == "saturation":
            rule, message = rules["saturation"], "the film was saturated"
        elif why := why_not_regenerated(one, rules):
            rule, message = rules["regeneration-failed"], why
        else:
            continue
        ends = [check_end(other, rules) for other in regenerations if other.start >= one.start]
        finding = rule.finding(message, rows_of([one]))
        yield HeldSpan(one.start, min(ends, default=day.ends), finding)


def _between(day: DayOfUse, kind: str, before: Check, behind: Check | None) -> list[Check]:
    """Return the checks of a kind from the end of one regeneration to the start of the next."""
    return [
        one
        for one in day.of(kind)
        if one.start >= before.end and (behind is None or one.start < behind.start)
    ]
