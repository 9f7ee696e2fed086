"""Laws that hold for any log."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.site.instruments.judge import judge_readings
from hgmap.site.instruments.log import read_log
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.instruments.rules import load_rules
from hgmap.site.reading import Reading

HEADER = "instrument,principle,certificate,check,start,end,values,spacing_s,reference,result"
START = datetime(2026, 3, 2)

VALUES = {
    "zero-air": ["0 0 0 0 0", "0.02 0.01 0 0 0", "0.1 0.1 0.1 0.1 0.1", "5 5 5 5 5", "0 0 0", ""],
    "span": ["2 2 2", "2.3", "3", ""],
    "end-of-day": ["2 2 2", "2.3", "3", ""],
}
KINDS = ["regeneration", "warm-up", "zero-air", "span", "saturation", "battery", "end-of-day",
         "control point"]  # fmt: skip

minutes = st.integers(0, 3 * 24 * 4).map(lambda quarter: quarter * 15)


def row(
    principle: str, kind: str, start: int, length: int, values: str, result: str, name: str = "A"
) -> str:
    begins = START + timedelta(minutes=start)
    ends = begins + timedelta(minutes=length)
    reference = "2" if kind in ("span", "end-of-day") else ""
    return (
        f"{name},{principle},2025-09-01,{kind},{begins.isoformat()},{ends.isoformat()},"
        f"{values},15,{reference},{result}"
    )


@st.composite
def checks(draw: st.DrawFn, principle: str, results: tuple[str, ...] = ("pass", "", "fail")) -> str:
    kind = draw(st.sampled_from(KINDS))
    values = draw(st.sampled_from(VALUES.get(kind, [""])))
    length = draw(st.sampled_from([0, 2, 5, 10, 40, 45, 90]))
    return row(principle, kind, draw(minutes), length, values, draw(st.sampled_from(results)))


@st.composite
def failed_checks(draw: st.DrawFn, principle: str) -> str:
    kind, values, result = draw(
        st.sampled_from(
            [
                *((kind, "", "fail") for kind in KINDS),
                ("saturation", "", "saturated"),
                ("zero-air", "50 50 50 50 50", "pass"),
                ("zero-air", "0 0.02 0 0 0.05", "pass"),
                ("span", "3 3", "pass"),
                ("end-of-day", "1", ""),
            ]
        )
    )
    if principle != "gold film" and values.startswith("0 0.02"):
        values = "50"
    length = draw(st.sampled_from([0, 2, 10, 45]))
    return row(principle, kind, draw(minutes), length, values, result)


def good_day(principle: str, start: int) -> list[str]:
    """Return a day of use of twelve hours on which nothing is wrong."""
    plan = [
        ("regeneration", 0, 45, ""), ("warm-up", 45, 10, ""), ("zero-air", 60, 2, "0 0 0 0 0"),
        ("span", 65, 5, "2 2 2"), ("zero-air", 240, 2, "0 0 0 0 0"),
        ("zero-air", 470, 2, "0 0 0 0 0"), ("end-of-day", 480, 5, "2 2 2"),
        ("regeneration", 485, 45, ""),
    ]  # fmt: skip
    return [
        row(principle, kind, start + at, long, values, "pass") for kind, at, long, values in plan
    ]


@st.composite
def logs(draw: st.DrawFn) -> tuple[str, list[str]]:
    principle = draw(st.sampled_from(["gold film", "atomic absorption", "atomic fluorescence"]))
    rows = draw(st.lists(checks(principle), max_size=6))
    for start in draw(st.lists(minutes, max_size=3)):
        day = good_day(principle, start)
        kept = draw(st.lists(st.booleans(), min_size=len(day), max_size=len(day)))
        rows += [one for one, keep in zip(day, kept, strict=True) if keep or draw(st.booleans())]
    return principle, rows


def read(rows: list[str]) -> InstrumentLog:
    return read_log("\n".join([HEADER, *rows]).encode(), where="log.csv")


def reading(at: int | None, concentration: float = 0.4) -> Reading:
    return Reading(
        id="R", round="before", floor="ground", room="hall", x=1.0, y=1.0, height_m=1.5,
        time=None if at is None else START + timedelta(minutes=at),
        value=concentration, unit="ug/m3", qualifier="", note="", concentration=concentration,
        band="adult", placed="given", where="readings.csv, row 2",
    )  # fmt: skip


EVERY_HALF_HOUR = [reading(at) for at in range(7, 4 * 24 * 60, 30)] + [reading(None)]


def judge(readings: list[Reading], log: InstrumentLog, level: float | None) -> list[Reading]:
    dates: dict[str, date | None] = {"before": date(2026, 3, 3)}
    return judge_readings(readings, log, load_rules(), level, dates, "air")


levels = st.sampled_from([None, 0.05, 1.0, 3.0, 25.0])


@settings(max_examples=150, deadline=None)
@given(st.data(), logs(), levels)
def test_a_failed_check_more_never_makes_a_reading_usable(
    data: Any, log: tuple[str, list[str]], level: float | None
) -> None:
    principle, rows = log
    if not rows:
        return
    bad = data.draw(failed_checks(principle))
    before = judge(EVERY_HALF_HOUR, read(rows), level)
    behind = judge(EVERY_HALF_HOUR, read([*rows, bad]), level)
    for one, other in zip(before, behind, strict=True):
        assert one.usable or not other.usable, (one.time, bad, [f.text for f in one.findings])


@settings(max_examples=50, deadline=None)
@given(logs(), levels, st.lists(st.one_of(st.none(), minutes), max_size=8))
def test_a_reading_is_judged_by_the_log_and_not_by_other_readings(
    log: tuple[str, list[str]], level: float | None, ats: list[int | None]
) -> None:
    if not log[1]:
        return
    found = read(log[1])
    some = [reading(at, 0.1 * (i + 1)) for i, at in enumerate(ats)]
    assert judge(some, found, level) == [judge([one], found, level)[0] for one in some]


@settings(max_examples=60, deadline=None)
@given(st.data(), logs(), levels)
def test_the_order_of_the_rows_of_the_log_does_not_matter(
    data: Any, log: tuple[str, list[str]], level: float | None
) -> None:
    _, rows = log
    if not rows:
        return
    shuffled = data.draw(st.permutations(rows))

    def said(rows: list[str]) -> list[Any]:
        return [
            (one.error, sorted({(f.rule, f.severity) for f in one.findings}))
            for one in judge(EVERY_HALF_HOUR, read(rows), level)
        ]

    assert said(rows) == said(shuffled)


def test_the_good_day_of_these_laws_is_good_so_that_they_say_something() -> None:
    for principle in ("gold film", "atomic absorption", "atomic fluorescence"):
        told = judge(EVERY_HALF_HOUR, read(good_day(principle, 24 * 60 + 360)), 1.0)
        assert sum(one.usable for one in told) > 10, principle
