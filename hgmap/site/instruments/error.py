"""Zero offset and span drift between checks, as a measurement error: stated, never corrected.

Between two checks an offset goes from ``a`` to ``b`` in a way that nobody watched. It is taken to
be anywhere between them with equal probability (a rectangular distribution: JCGM 100:2008, 4.3.7),
so that the mean of its square is ``(a² + a b + b²) / 3``. With a check on one side only it is the
square of that one. The scatter of the values of a span check adds the variance of their mean
(``s² / n``, Type A: JCGM 100:2008, 4.2.3).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import variance
from typing import Literal

from hgmap.site.instruments.days import DayOfUse, rows_of
from hgmap.site.instruments.model import Check
from hgmap.site.instruments.rules import Rule
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.tolerance import is_span, is_zero, offset_ug_m3, relative_error


@dataclass(frozen=True, slots=True)
class ErrorPiece:
    """The mean square of an error from ``start`` up to, not including, ``end``.

    ``of`` ``"zero"``: (µg/m³)², of any reading; ``"span"``: relative to the concentration.
    ``one_sided`` holds the check that it comes from where there is one only.
    """

    start: datetime
    end: datetime
    of: Literal["zero", "span"]
    mean_square: float
    one_sided: tuple[Check, ...] = ()


def bracket_mean_square(a: float, b: float) -> float:
    """Return the mean square of an error that lies anywhere between two known ones.

    ``(a² + a b + b²) / 3``, the mean of ``x²`` over the values from ``a`` to ``b`` with equal
    probability (JCGM 100:2008, 4.3.7).

    Examples
    --------
    >>> bracket_mean_square(0.0, 3.0)
    3.0
    >>> bracket_mean_square(2.0, 2.0)
    4.0
    """
    return (a * a + a * b + b * b) / 3.0


def error_ug_m3(zero_square: float, span_square: float, concentration: float) -> float:
    """Return the standard deviation of a reading from its zero offset and its span error.

    ``sqrt(zero_square + span_square c²)``: independent, so added in quadrature (JCGM 100:2008,
    5.1.2).

    Parameters
    ----------
    zero_square : float
        Mean square of the zero offset ((µg/m³)²).
    span_square : float
        Mean square of the relative error.
    concentration : float
        µg/m³.

    Examples
    --------
    >>> error_ug_m3(0.0009, 0.01, 0.4)
    0.05
    """
    return math.sqrt(zero_square + span_square * concentration * concentration)


def error_pieces(day: DayOfUse) -> list[ErrorPiece]:
    """Return the errors over a day of use.

    A regeneration cleans the film: a zero before it says nothing of the air after it, nor the
    other way round. The sensitivity is taken to go on through it.
    """
    zeros = [one for one in day.checks if is_zero(one) and one.values]
    spans = [one for one in day.checks if is_span(one)]
    return [
        *_pieces(day, "zero", zeros, day.of("regeneration")),
        *_pieces(day, "span", spans, []),
    ]


def bracket_spans(day: DayOfUse, rule: Rule) -> Iterator[HeldSpan]:
    """Yield a caution where a check stands on one side of the readings only."""
    name = {"zero": "zero-air", "span": "span"}
    for piece in error_pieces(day):
        if piece.one_sided:
            message = (
                f"a {name[piece.of]} check on one side only: drift cannot be told, the error is"
                " from that one"
            )
            finding = rule.finding(message, rows_of(piece.one_sided))
            yield HeldSpan(piece.start, piece.end, finding, untimed=False)


def _pieces(
    day: DayOfUse,
    of: Literal["zero", "span"],
    checks: Sequence[Check],
    resets: Sequence[Check],
) -> Iterator[ErrorPiece]:
    """Yield the stretches before, between and behind the checks."""
    if not checks:
        return

    def alone(start: datetime, end: datetime, check: Check) -> Iterator[ErrorPiece]:
        if start < end:
            value, scatter = _number(check, of)
            yield ErrorPiece(start, end, of, value * value + scatter, (check,))

    yield from alone(day.begins, checks[0].start, checks[0])
    for a, b in pairwise(checks):
        between = [one for one in resets if one.start >= a.start and one.start < b.start]
        if between:
            cut = between[0].start
            yield from alone(a.start, cut, a)
            yield from alone(cut, b.start, b)
        elif a.start < b.start:
            (value_a, scatter_a), (value_b, scatter_b) = _number(a, of), _number(b, of)
            square = bracket_mean_square(value_a, value_b) + scatter_a + scatter_b
            yield ErrorPiece(a.start, b.start, of, square)
    yield from alone(checks[-1].start, day.ends, checks[-1])


def _number(check: Check, of: Literal["zero", "span"]) -> tuple[float, float]:
    """Return the error that a check shows, and the variance of its mean."""
    if of == "zero":
        # values on zero air fall as the cell is flushed: their scatter is no noise
        return offset_ug_m3(check), 0.0
    assert check.reference
    n = len(check.values)
    scatter = variance(check.values) / n / check.reference**2 if n > 1 else 0.0
    return relative_error(check), scatter
