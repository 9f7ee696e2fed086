"""What is said of an instrument at each moment: stretches of time within which nothing changes."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import hypot

from hgmap.site.instruments.days import DayOfUse
from hgmap.site.instruments.error import ErrorPiece, error_pieces, error_ug_m3
from hgmap.site.instruments.rules import InstrumentRules
from hgmap.site.instruments.span import HeldSpan
from hgmap.site.instruments.spans import day_spans
from hgmap.site.reading import Finding


@dataclass(frozen=True, slots=True)
class Segment:
    """What holds for every reading of one stretch: one object, shared by all of them.

    ``zero_square`` ((µg/m³)²) and ``span_square`` (relative) are mean squares of the error.
    """

    findings: tuple[Finding, ...]
    held: tuple[str, ...]
    cautions: tuple[str, ...]
    zero_square: float = 0.0
    span_square: float = 0.0

    @property
    def quiet(self) -> bool:
        """Whether it leaves a reading as it is."""
        return not (self.findings or self.zero_square or self.span_square)

    def error(self, concentration: float | None, before: float = 0.0) -> float:
        """Return the standard deviation (µg/m³) of a reading, with the one it had ``before``."""
        if concentration is None or not (self.zero_square or self.span_square):
            return before
        own = error_ug_m3(self.zero_square, self.span_square, concentration)
        return hypot(before, own) if before else own

    def and_also(self, finding: Finding) -> Segment:
        """Return the same with one more finding."""
        return segment((*self.findings, finding), self.zero_square, self.span_square)


def segment(
    findings: Iterable[Finding], zero_square: float = 0.0, span_square: float = 0.0
) -> Segment:
    """Return a segment, its findings in an order that no row of the log decides."""
    ordered = sorted(dict.fromkeys(findings), key=lambda one: (one.rule, one.message, one.rows))
    return Segment(
        tuple(ordered),
        tuple(one.text for one in ordered if one.severity == "hold"),
        tuple(one.text for one in ordered if one.severity == "caution"),
        zero_square,
        span_square,
    )


@dataclass(frozen=True, slots=True)
class Timeline:
    """The segments of one instrument, and what is said on a date of a reading without time.

    ``segments[i]`` goes from ``starts[i]`` to ``starts[i + 1]``; None: no day of use.
    """

    name: str
    starts: tuple[datetime, ...]
    segments: tuple[Segment | None, ...]
    on_date: Mapping[date, Segment]

    def at(self, time: datetime) -> Segment | None:
        """Return the segment of a moment on the log's clock; None: not on a day of use."""
        index = bisect_right(self.starts, time) - 1
        return self.segments[index] if index >= 0 else None


def timeline(
    name: str, days: Sequence[DayOfUse], rules: InstrumentRules, level_ug_m3: float | None
) -> Timeline:
    """Return the timeline of one instrument from its days of use, in order."""
    starts: list[datetime] = []
    segments: list[Segment | None] = []
    untimed: dict[date, list[Segment]] = {}
    for day in days:
        spans = day_spans(day, rules, level_ug_m3)
        pieces = error_pieces(day) if day.instrument.principle is not None else []
        for start, one in _sweep(day, spans, pieces):
            starts.append(start)
            segments.append(one)
        starts.append(day.ends)
        segments.append(None)
        whole = segment(
            (one.finding for one in spans if one.untimed),
            max((one.mean_square for one in pieces if one.of == "zero"), default=0.0),
            max((one.mean_square for one in pieces if one.of == "span"), default=0.0),
        )
        for count in range((day.last - day.first).days + 1):
            untimed.setdefault(day.first + timedelta(days=count), []).append(whole)
    return Timeline(
        name, tuple(starts), tuple(segments), {on: worst(some) for on, some in untimed.items()}
    )


def worst(some: Sequence[Segment]) -> Segment:
    """Join segments, as of days of use that touch one date: what any of them says is said."""
    return segment(
        (finding for one in some for finding in one.findings),
        max(one.zero_square for one in some),
        max(one.span_square for one in some),
    )


def _sweep(
    day: DayOfUse, spans: Sequence[HeldSpan], pieces: Sequence[ErrorPiece]
) -> Iterable[tuple[datetime, Segment]]:
    """Go through a day from one change to the next."""
    said: tuple[HeldSpan | ErrorPiece, ...] = (*spans, *pieces)
    stretches = [(max(one.start, day.begins), min(one.end, day.ends), one) for one in said]
    stretches = [one for one in stretches if one[0] < one[1]]
    changes: dict[datetime, tuple[list[int], list[int]]] = {day.begins: ([], [])}
    for index, (start, end, _) in enumerate(stretches):
        changes.setdefault(start, ([], []))[0].append(index)
        changes.setdefault(end, ([], []))[1].append(index)
    active: dict[int, HeldSpan | ErrorPiece] = {}
    for moment in sorted(changes):
        if moment >= day.ends:
            break
        begin, end_here = changes[moment]
        for index in end_here:
            active.pop(index, None)
        for index in begin:
            active[index] = stretches[index][2]
        yield moment, _segment_of(active.values())


def _segment_of(active: Iterable[HeldSpan | ErrorPiece]) -> Segment:
    findings: list[Finding] = []
    squares = {"zero": 0.0, "span": 0.0}
    for one in active:
        if isinstance(one, HeldSpan):
            findings.append(one.finding)
        else:
            squares[one.of] = max(squares[one.of], one.mean_square)
    return segment(findings, squares["zero"], squares["span"])
