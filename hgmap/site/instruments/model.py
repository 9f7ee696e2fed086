"""Instruments and their checks, as the log has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from hgmap.site.model import Problem

Principle = Literal["gold film", "atomic absorption", "atomic fluorescence"]
CheckKind = Literal[
    "regeneration",
    "warm-up",
    "zero-air",
    "span",
    "saturation",
    "battery",
    "end-of-day",
    "control point",
]


@dataclass(frozen=True, slots=True)
class Instrument:
    """One analyser.

    ``principle`` is None where the log does not say it, or says it in a word that is not known:
    then no rule vouches for its readings. ``certificate`` is the date of its calibration
    certificate.
    """

    name: str
    principle: Principle | None
    serial: str
    certificate: date | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """One row of the log.

    Attributes
    ----------
    instrument : str
        Name of the instrument.
    start, end : datetime
        The same where the row has one time only.
    values : tuple of float
        Single readings of the check (computing unit of air, µg/m³; volts or percent for a
        battery), in the order they were taken.
    spacing_s : float or None
        Time between them (s).
    reference : float or None
        What a span check should have read (µg/m³).
    passed : bool or None
        What the person wrote; None where nothing.
    where : str
        File and row.
    """

    instrument: str
    kind: CheckKind
    start: datetime
    end: datetime
    values: tuple[float, ...] = ()
    spacing_s: float | None = None
    reference: float | None = None
    passed: bool | None = None
    temperature_c: float | None = None
    note: str = ""
    where: str = ""

    @property
    def minutes(self) -> float:
        """How long it took (min)."""
        return (self.end - self.start).total_seconds() / 60.0


@dataclass(frozen=True, slots=True)
class Doubt:
    """What a log leaves open: a failed check or a saturation may hide in it.

    Attributes
    ----------
    instrument : str
        Name as written; empty, or one that no other row has: it may be any of the log.
    on : date or None
        The day; None: any.
    message : str
        Why, in words.
    rows : tuple of str
        File and row.
    """

    instrument: str
    on: date | None
    message: str
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InstrumentLog:
    """All checks in the order of their start; ``problems`` are the rows that could not be read.

    ``doubts`` are those of the problems that hold readings.
    """

    instruments: tuple[Instrument, ...]
    checks: tuple[Check, ...]
    problems: tuple[Problem, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    def instrument(self, name: str) -> Instrument | None:
        """Return the instrument of this name or serial (case and spaces do not count), or None."""
        key = " ".join(name.split()).casefold()
        for one in self.instruments:
            if key in (one.name.casefold(), one.serial.casefold()):
                return one
        return None

    def of(self, name: str) -> Sequence[Check]:
        """Return the checks of one instrument, by its name."""
        return [one for one in self.checks if one.instrument == name]

    def doubts_of(self, name: str) -> list[Doubt]:
        """Return the doubts about one instrument, by its name."""
        own = self.instrument(name)
        return [
            one
            for one in self.doubts
            if (meant := self.instrument(one.instrument) if one.instrument else None) is None
            or meant is own
        ]


@dataclass(frozen=True, slots=True)
class Overrule:
    """What a person decided about one reading, against the tool.

    ``reading`` is its id; ``round`` empty means any round. ``verdict`` ``"use"`` lifts what the
    log and the statistics hold against it (never what makes it unreadable), ``"hold"`` holds it.
    """

    reading: str
    round: str
    verdict: Literal["use", "hold"]
    initials: str
    reason: str
    date: date | None
    where: str
