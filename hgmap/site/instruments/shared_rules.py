"""Rules that hold for analysers of every principle."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Final

from hgmap.site.instruments.clock import after
from hgmap.site.instruments.days import DayOfUse, rows_of
from hgmap.site.instruments.model import Check
from hgmap.site.instruments.rules import Rule
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.tolerance import (
    beyond,
    failed,
    farthest_ug_m3,
    is_span,
    is_zero,
    relative_error,
    span_beyond,
    zero_beyond,
)

BUSY: Final = ("regeneration", "warm-up", "zero-air", "span", "end-of-day")
"""Checks during which the analyser reads no room."""

Rules = Mapping[str, Rule]


def shared_spans(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    """Yield what the rules of every principle say about one day of use."""
    yield from _zero(day, rules, level_ug_m3)
    yield from _span(day, rules)
    yield from _closing(day, rules, level_ug_m3)
    yield from _certificate(day, rules["certificate"])
    yield from _battery(day, rules["battery"])
    points = day.of("control point")
    yield from suspect(
        day,
        rules["control-point"],
        [one for one in points if one.passed is False],
        [one for one in points if one.passed],
        lambda bad: "control point failed",
    )
    yield from _during(day, rules)


def suspect(
    day: DayOfUse,
    rule: Rule,
    bad: Sequence[Check],
    good: Sequence[Check],
    say: Callable[[Sequence[Check]], str],
    resets: Sequence[Check] = (),
) -> Iterator[HeldSpan]:
    """Yield the stretches from the last good check before a bad one to the next good one.

    Parameters
    ----------
    bad, good : sequence of Check
        In the order of their start.
    say : callable
        The message for bad checks that share one stretch.
    resets : sequence of Check
        Nothing before the end of one of these is blamed on a bad check after it.
    """
    groups: dict[tuple[datetime, datetime], list[Check]] = {}
    for one in bad:
        before = [other.end for other in (*good, *resets) if other.end <= one.start]
        behind = [other.end for other in good if other.start >= one.end]
        stretch = max(before, default=day.begins), min(behind, default=day.ends)
        groups.setdefault(stretch, []).append(one)
    for (start, end), checks in groups.items():
        yield HeldSpan(start, end, rule.finding(say(checks), rows_of(checks)))


def without(checks: Sequence[Check], some: Sequence[Check]) -> list[Check]:
    """Return the checks that are none of some of them."""
    out = {id(one) for one in some}
    return [one for one in checks if id(one) not in out]


def _zero(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    offset, drift = rules["zero-offset"], rules["zero-drift"]
    checks = [one for one in day.checks if is_zero(one)]
    held = [one for one in checks if one.passed is False or zero_beyond(one, offset, level_ug_m3)]
    near = [one for one in without(checks, held) if zero_beyond(one, drift, level_ug_m3)]
    resets = regenerated(day, rules)

    def say(bad: Sequence[Check]) -> str:
        worst = max((farthest_ug_m3(one) for one in bad if one.values), key=abs, default=None)
        if worst is None:
            return "a zero-air check failed"
        return f"zero air read {worst:.3g} µg/m³"

    passing = [one for one in without(checks, held) if one.values]
    good = without(passing, near)
    yield from suspect(day, offset, held, passing, say, resets)
    yield from suspect(day, drift, near, good, say, resets)


def _span(day: DayOfUse, rules: Rules) -> Iterator[HeldSpan]:
    error, drift = rules["span-error"], rules["span-drift"]
    checks = [one for one in day.checks if is_span(one) or one.kind == "span"]
    if not any(is_span(one) for one in checks):
        missing = "the span check has no values or no reference" if checks else "no span check"
        yield day.whole(rules["no-span-check"], f"{missing} on this day of use", checks)
    held = [one for one in checks if one.passed is False or span_beyond(one, error)]
    near = [one for one in without(checks, held) if span_beyond(one, drift)]

    def say(bad: Sequence[Check]) -> str:
        worst = max((relative_error(one) for one in bad if is_span(one)), key=abs, default=None)
        beyond_limit = any(is_span(one) and span_beyond(one, drift) for one in bad)
        if worst is None or not beyond_limit:
            return "a span check is written down as failed"
        return f"a span check read {worst:+.0%} off its reference"

    passing = [one for one in without(checks, held) if is_span(one)]
    good = without(passing, near)
    yield from suspect(day, error, held, passing, say)
    yield from suspect(day, drift, near, good, say)


def _closing(day: DayOfUse, rules: Rules, level_ug_m3: float | None) -> Iterator[HeldSpan]:
    rule = rules["closing-check"]
    closings = day.of("end-of-day")
    bad = [one for one in closings if failed(one, rules, level_ug_m3)]
    good = without(closings, bad)
    if bad:
        yield day.whole(rule, "the closing check of this day of use failed", bad)
    elif not good:
        yield day.whole(rule, "no closing check on this day of use")
    if good:
        end = max(one.end for one in good)
        finding = rule.finding("taken after the closing check", rows_of(good[-1:]))
        yield HeldSpan(end, day.ends, finding, untimed=False)


def _certificate(day: DayOfUse, rule: Rule) -> Iterator[HeldSpan]:
    when = day.instrument.certificate
    months = int(rule.numbers["months"])
    if when is None:
        yield day.whole(rule, "no calibration certificate in the log")
    elif when > day.first:
        yield day.whole(rule, f"the certificate is dated {when:%Y-%m-%d}, after this day of use")
    elif _later(when, months) < day.last:
        yield day.whole(
            rule, f"the certificate of {when:%Y-%m-%d} is more than {months} months old"
        )


def _later(when: date, months: int) -> date:
    """Return the same day of the month so many months later; the last one where there is none."""
    years, month = divmod(when.month - 1 + months, 12)
    for day in range(when.day, 0, -1):
        try:
            return date(when.year + years, month + 1, day)
        except ValueError:
            continue
    return date.max  # beyond the calendar


def _battery(day: DayOfUse, rule: Rule) -> Iterator[HeldSpan]:
    checks = day.of("battery")
    for one in checks:
        if one.passed is False:
            behind = [other.end for other in checks if other.passed and other.start >= one.end]
            finding = rule.finding("the battery check failed", rows_of([one]))
            yield HeldSpan(one.start, min(behind, default=day.ends), finding)


def _during(day: DayOfUse, rules: Rules) -> Iterator[HeldSpan]:
    for one in day.of(*BUSY):
        end = check_end(one, rules)
        if end > one.start:
            finding = rules["during-check"].finding(f"taken during {one.kind}", rows_of([one]))
            yield HeldSpan(one.start, end, finding, untimed=False)


def why_not_regenerated(check: Check, rules: Rules) -> str:
    """Return why a regeneration left the film as it was; empty where it did not.

    A film that is still saturated reads 0.00 of zero air too: no later check tells.
    """
    if check.passed is False:
        return "the regeneration failed"
    rule = rules.get("regeneration-failed")
    if rule is None:
        return ""
    if check.end == check.start:
        return "" if check.passed else "nobody wrote that the regeneration ended"
    least = rule.numbers["least_minutes"]
    if beyond(least, check.minutes):
        return (
            f"the regeneration took {check.minutes:.3g} min; under {least:g} min it is broken off"
        )
    return ""


def regenerated(day: DayOfUse, rules: Rules) -> list[Check]:
    """Return the regenerations of a day after which the film was fit to read."""
    return [one for one in day.of("regeneration") if not why_not_regenerated(one, rules)]


def check_end(check: Check, rules: Rules) -> datetime:
    """Return when a check was over; a regeneration without an end takes as long as it should."""
    length = rules.get("regeneration-length")
    if check.kind == "regeneration" and check.end == check.start and length is not None:
        return after(check.start, length.numbers["minutes"])
    return check.end
