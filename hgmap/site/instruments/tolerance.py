"""What the numbers of one check say, and whether it failed."""

from __future__ import annotations

from collections.abc import Mapping
from statistics import fmean
from typing import Final

from hgmap.site.instruments.model import Check
from hgmap.site.instruments.rules import Rule

_ROUNDING: Final = 1e-9
"""0.1 + 0.2 is not above 0.3."""

ZERO_UG_M3: Final = 0.005
"""What is nearer to zero than this is shown as 0.00."""


def beyond(number: float, limit: float) -> bool:
    """Tell whether a number is above a limit, but for rounding in binary."""
    return number > limit + _ROUNDING


def is_zero(check: Check) -> bool:
    """Tell whether it measured air without mercury. An end-of-day check without reference did."""
    if check.kind == "zero-air":
        return True
    return check.kind == "end-of-day" and not check.reference and bool(check.values)


def is_span(check: Check) -> bool:
    """Tell whether it compared values with a reference above zero."""
    return check.kind in ("span", "end-of-day") and bool(check.values) and bool(check.reference)


def offset_ug_m3(check: Check) -> float:
    """Return the mean of a check on zero air (µg/m³)."""
    return fmean(check.values)


def farthest_ug_m3(check: Check) -> float:
    """Return how far from zero a check on zero air went (µg/m³): its mean, or one of its values.

    Values above zero at its beginning may be what is flushed out of the cell, those in the second
    half are not, nor are values below zero: a mean of 0 may hide them.
    """
    late = check.values[len(check.values) // 2 :]
    return max((offset_ug_m3(check), *late, min(check.values)), key=abs)


def relative_error(check: Check) -> float:
    """Return (mean - reference) / reference of a span check."""
    assert check.reference
    return fmean(check.values) / check.reference - 1.0


def zero_limit_ug_m3(rule: Rule, level_ug_m3: float | None) -> float:
    """Return how far from zero a zero-air check may be (µg/m³)."""
    if level_ug_m3 is None:
        return rule.numbers["without_level_ug_m3"]
    return rule.numbers["of_level"] * level_ug_m3


def zero_beyond(check: Check, rule: Rule, level_ug_m3: float | None) -> bool:
    """Tell whether a check on zero air is out of a tolerance."""
    return bool(check.values) and beyond(
        abs(farthest_ug_m3(check)), zero_limit_ug_m3(rule, level_ug_m3)
    )


def span_beyond(check: Check, rule: Rule) -> bool:
    """Tell whether a span check is out of a tolerance."""
    return is_span(check) and beyond(abs(relative_error(check)), rule.numbers["relative"])


def why_not_zero(check: Check, rule: Rule) -> str:
    """Return why a zero-air check after a regeneration is none that passes; empty where it is.

    At least five samples (common practice, no source), at least 15 s apart, that never rise above
    the lowest before them by more than rounding, and of which at least three are 0.00 µg/m³.
    """
    numbers = rule.numbers
    values = check.values
    if check.passed is False:
        return "failed as written"
    if len(values) < numbers["samples"]:
        return f"{len(values)} samples of {numbers['samples']:g}" if values else "no values written"
    reasons = []
    spacing = _least_spacing_s(check)
    if beyond(numbers["spacing_s"], spacing):
        known = check.spacing_s is not None
        reasons.append(f"samples {spacing:g} s apart" if known else "the spacing is not written")
    lowest = values[0]
    for value in values[1:]:
        if beyond(value - lowest, numbers["rise_ug_m3"]):
            reasons.append(f"rises from {lowest:.2f} to {value:.2f} µg/m³")
            break
        lowest = min(lowest, value)
    zeros = sum(abs(value) < ZERO_UG_M3 for value in values)
    if zeros < numbers["zeros"]:
        reasons.append(f"{zeros} of {len(values)} samples read 0.00 µg/m³")
    return ", ".join(reasons)


def _least_spacing_s(check: Check) -> float:
    """Return the spacing as written; else the mean that the times of the check leave room for."""
    if check.spacing_s is not None:
        return check.spacing_s
    return check.minutes * 60.0 / max(1, len(check.values) - 1)


def failed(check: Check, rules: Mapping[str, Rule], level_ug_m3: float | None) -> bool:
    """Tell whether a check failed, as written or by its values.

    A saturation counts as failed, and so does an end-of-day check that says nothing.
    """
    if check.passed is False or check.kind == "saturation":
        return True
    if is_zero(check) and zero_beyond(check, rules["zero-offset"], level_ug_m3):
        return True
    if span_beyond(check, rules["span-error"]):
        return True
    return check.kind == "end-of-day" and not check.values and check.passed is None
