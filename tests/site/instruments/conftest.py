"""A day of use on which nothing is wrong, to change one thing in, for each principle."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

import pytest

from hgmap.site.instruments.judge import judge_readings
from hgmap.site.instruments.log import read_log
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import load_rules
from hgmap.site.reading import Reading

HEADER = "instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result"
WHO = "analyser,gold film,INVENTED-1,2025-09-01"
LAMP = "analyser,atomic absorption,INVENTED-1,2025-09-01"

# Invented. Every number that a rule asks for is "common practice, no source" (gold film) or
# "value from memory" (lamps, tolerances): see hgmap/site/instrument_rules.toml.
FILM_DAY = {
    "opening": f"{WHO},regeneration,2026-03-02T06:30,2026-03-02T07:15,,,,done",
    "warm-up": f"{WHO},warm-up,2026-03-02T07:15,2026-03-02T07:20,,,,done",
    "zero": f"{WHO},zero-air,2026-03-02T07:20,2026-03-02T07:22,0 0 0 0 0,15,,pass",
    "span": f"{WHO},span,2026-03-02T07:22,2026-03-02T07:27,2 2 2,,2,pass",
    "noon": f"{WHO},zero-air,2026-03-02T12:00,2026-03-02T12:02,0 0 0 0 0,15,,pass",
    "last zero": f"{WHO},zero-air,2026-03-02T15:55,2026-03-02T15:57,0 0 0 0 0,15,,pass",
    "closing": f"{WHO},end-of-day,2026-03-02T16:00,2026-03-02T16:05,2 2 2,,2,pass",
    "end": f"{WHO},regeneration,2026-03-02T16:05,2026-03-02T16:50,,,,done",
}
LAMP_DAY = {
    "warm-up": f"{LAMP},warm-up,2026-03-02T07:00,2026-03-02T07:10,,,,done",
    "zero": f"{LAMP},zero-air,2026-03-02T07:20,2026-03-02T07:22,0 0 0,15,,pass",
    "span": f"{LAMP},span,2026-03-02T07:22,2026-03-02T07:27,2 2 2,,2,pass",
    "noon": f"{LAMP},zero-air,2026-03-02T12:00,2026-03-02T12:02,0 0 0,15,,pass",
    "last zero": f"{LAMP},zero-air,2026-03-02T15:55,2026-03-02T15:57,0 0 0,15,,pass",
    "closing": f"{LAMP},end-of-day,2026-03-02T16:00,2026-03-02T16:05,2 2 2,,2,pass",
}

MakeLog = Callable[..., InstrumentLog]
Judge = Callable[..., Reading]


def _log(day: Mapping[str, str], changes: Mapping[str, str | None], more: tuple[str, ...]) -> bytes:
    rows = {**day, **changes}
    lines = [HEADER, *(row for row in rows.values() if row is not None), *more]
    return "\n".join(lines).encode()


@pytest.fixture
def film_log() -> MakeLog:
    """Read the log of the good day of a gold-film analyser, with some rows changed."""

    def make(changes: Mapping[str, str | None] | None = None, *more: str) -> InstrumentLog:
        return read_log(_log(FILM_DAY, changes or {}, more), where="log.csv")

    return make


@pytest.fixture
def lamp_log() -> MakeLog:
    """Read the log of the good day of an analyser with a lamp, with some rows changed."""

    def make(changes: Mapping[str, str | None] | None = None, *more: str) -> InstrumentLog:
        return read_log(_log(LAMP_DAY, changes or {}, more), where="log.csv")

    return make


@pytest.fixture
def make_reading() -> Callable[..., Reading]:
    """Make a reading at an hour of that day (``"09:00"``), or with its date."""

    def make(at: str | None = "09:00", **changes: Any) -> Reading:
        time = None
        if at is not None:
            time = datetime.fromisoformat(at if "T" in at else f"2026-03-02T{at}")
        plain: dict[str, Any] = {
            "id": "R1", "round": "before", "floor": "ground", "room": "hall", "x": 1.0, "y": 2.0,
            "height_m": 1.5, "time": time, "value": 0.4, "unit": "ug/m3", "qualifier": "",
            "note": "", "concentration": 0.4, "band": "adult", "placed": "given",
            "where": "readings.csv, row 2",
        }  # fmt: skip
        return Reading(**{**plain, **changes})

    return make


@pytest.fixture
def judge(make_reading: Callable[..., Reading]) -> Judge:
    """Judge one reading by a log."""

    def one(
        log: InstrumentLog | None,
        at: str | None = "09:00",
        *,
        level: float | None = 1.0,
        on: date | None = date(2026, 3, 2),
        medium: Any = "air",
        **changes: Any,
    ) -> Reading:
        reading = make_reading(at, **changes)
        (told,) = judge_readings([reading], log, load_rules(), level, {"before": on}, medium)
        return told

    return one


@pytest.fixture
def rules_of() -> Callable[[Reading], dict[str, str]]:
    """Return what was found: rule to severity."""

    def found(reading: Reading) -> dict[str, str]:
        return {one.rule: one.severity for one in reading.findings}

    return found
