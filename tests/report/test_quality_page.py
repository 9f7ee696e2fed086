"""The quality pages say what the record says, and draw each analyser's day inside the paper."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from hgmap.report.drawing import Area, Dot, Item, Label, Sheet, Stroke, texts
from hgmap.report.drawing import Path as Drawn
from hgmap.report.quality_page import quality_sheets, write_quality_pages
from hgmap.report.timeline_days import NO_NAME, days_of
from hgmap.report.typeset import width_mm
from hgmap.site.folder import read_site
from hgmap.site.instruments.model import Check, Instrument, InstrumentLog
from hgmap.site.level_in_force import level_in_force
from hgmap.site.model import Site
from hgmap.site.quality.quality import QualityReport, quality_report
from hgmap.site.trust import judged_site

DEMO = Path(__file__).parents[2] / "demo_site"
ANALYSER = "gold-film analyser"
START = datetime(2026, 3, 2, 8, 0)


@pytest.fixture(scope="module")
def demo() -> Site:
    site = read_site(DEMO)
    return judged_site(site, level_in_force(site, None)[0])


@pytest.fixture(scope="module")
def report(demo: Site) -> QualityReport:
    return quality_report(demo, level_in_force(demo, None)[0], "before")


def box_of(item: Item) -> tuple[float, float, float, float]:
    """West, south, east, north (mm) of an item; of a text from its real width."""
    if isinstance(item, Label):
        wide, high = width_mm(item.text, item.size_pt, item.bold), item.size_pt * 0.36
        left = item.x - wide * {"left": 0.0, "centre": 0.5, "right": 1.0}[item.across]
        base = item.y - high * {"baseline": 0.0, "middle": 0.5, "top": 1.0}[item.up]
        return left, base, left + wide, base + high
    if isinstance(item, Area | Drawn):
        west, south, east, north = item.shape.bounds
        return west, south, east, north
    assert isinstance(item, Dot | Stroke)
    return item.x, item.y, item.x, item.y


def check_layout(sheet: Sheet) -> None:
    """Nothing leaves the page, and no two texts lie on each other."""
    labels = []
    for item in sheet.page:
        west, south, east, north = box_of(item)
        assert west >= 5.0, item
        assert south >= 5.0, item
        assert east <= sheet.width_mm - 5.0, item
        assert north <= sheet.height_mm - 5.0, item
        if isinstance(item, Label):
            labels.append((item.text, (west, south, east, north)))
    for k, (one, a) in enumerate(labels):
        for other, b in labels[:k]:
            apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
            assert apart, (one, other)


def shown(sheets: list[Sheet]) -> str:
    return " ".join(text for sheet in sheets for text in texts(sheet))


def test_the_demo_has_its_sentence_its_counts_and_its_day(
    demo: Site, report: QualityReport
) -> None:
    sheets = quality_sheets(report, demo.readings, demo.log, title=demo.name, invented=True)
    for sheet in sheets:
        check_layout(sheet)
        assert "INVENTED DATA" in texts(sheet)
    words = shown(sheets)
    assert report.fitness.sentence in words
    assert "133 readings: 113 usable, 17 usable with a caution, 3 held" in words
    assert f"2 March 2026, {ANALYSER}" in words
    assert "16 March 2026" not in words
    timeline = texts(sheets[-1])
    for kind, count in (("zero-air", 8), ("regeneration", 4), ("saturation", 2),
                        ("readings: usable", 113), ("readings: held", 3)):  # fmt: skip
        assert timeline[timeline.index(kind) + 1] == str(count)


def test_a_failed_check_and_a_held_span_can_be_told_without_colour(demo: Site) -> None:
    site = replace(demo, readings=demo.readings[:20])
    log = demo.log
    assert log is not None
    failed = replace(log, checks=tuple(replace(one, passed=False) for one in log.checks))
    spans = [(ANALYSER, START, START + timedelta(hours=1), "closing check failed")]
    good, bad = (
        quality_sheets(quality_report(site, None, "before"), site.readings, one, some)[-1]
        for one, some in ((log, ()), (failed, spans))
    )
    fills = [[one.fill for one in sheet.page if isinstance(one, Dot) and one.shape == "circle"]
             for sheet in (good, bad)]  # fmt: skip
    assert fills[0]
    assert set(fills[0]) == {"#ffffff"}
    assert set(fills[1]) == {"#1a1a1a"}
    assert not any(isinstance(one, Area) and one.hatch for one in good.page)
    assert any(isinstance(one, Area) and one.hatch for one in bad.page)
    assert "1 08:00 to 09:00: closing check failed" in shown([bad])


LONG = "analyser with a name " + "that goes on and on " * 12


def three_days(demo: Site) -> tuple[Site, InstrumentLog, list[Any]]:
    """Three days, two analysers, every kind of check, names too long for a line, many spans."""
    readings = tuple(
        one._replace(id=f"{one.id}-{day}", time=one.time and one.time + timedelta(days=day),
                instrument=LONG if k % 3 else "two", cautions=("x",) if k % 7 == 0 else (),
                held=("for a test",) if k % 5 == 0 else one.held)
        for day in range(3)
        for k, one in enumerate(demo.readings[:60])
    )  # fmt: skip
    kinds = ("regeneration", "warm-up", "zero-air", "span", "saturation", "battery",
             "end-of-day", "control point")  # fmt: skip
    checks = tuple(
        Check(name, kind, when, when + timedelta(minutes=5), (1.0,), passed=(True, False, None)[j])
        for day in range(3) for name in (LONG, "two") for k, kind in enumerate(kinds)
        for j in range(3)
        for when in (START + timedelta(days=day, minutes=40 * j + 13 * k),)
    )  # type: ignore[misc, unused-ignore] # fmt: skip
    log = InstrumentLog((Instrument(LONG, None, "1"), Instrument("two", None, "2")), checks)
    spans = [
        ("two", START + timedelta(minutes=3 * k), START + timedelta(minutes=60 + 5 * k), "x " * 99)
        for k in range(40)
    ]
    spans.append((LONG, START + timedelta(hours=14), START + timedelta(hours=30), "over midnight"))
    rounds = (replace(demo.rounds[0], title=LONG), *demo.rounds[1:])
    return replace(demo, name=LONG, readings=readings, rounds=rounds, log=log), log, spans


def test_three_days_of_two_analysers_with_long_names_stay_on_the_paper(demo: Site) -> None:
    site, log, spans = three_days(demo)
    report = quality_report(site, level_in_force(site, None)[0], "before")
    sheets = quality_sheets(report, site.readings, log, spans, invented=True)
    for sheet in sheets:
        check_layout(sheet)
    words = shown(sheets)
    assert all(f"{day} March 2026, two" in words for day in (2, 3, 4))
    assert "22:00 to 24:00: over midnight" in words
    assert "00:00 to 14:00: over midnight" in words
    assert "more held spans" in words
    assert "more, one over another" in words
    assert f"page {len(sheets)} of {len(sheets)}" in words


@pytest.mark.parametrize("some", [0, 1])
def test_none_or_one_reading_without_a_log_makes_a_page(demo: Site, some: int) -> None:
    site = replace(demo, readings=demo.readings[:some], log=None)
    sheets = quality_sheets(quality_report(site, None, "before"), site.readings, None)
    for sheet in sheets:
        check_layout(sheet)
    assert "Not fit" in shown(sheets)
    assert (f"2 March 2026, {NO_NAME}" in shown(sheets)) == bool(some)


def test_readings_without_a_time_are_counted_and_not_drawn(demo: Site) -> None:
    site = replace(demo, log=None)
    readings = [one._replace(time=None) for one in demo.readings[:3]]
    report = quality_report(site, None, "before")
    assert "no reading has a time" in shown(quality_sheets(report, readings, None))
    mixed = quality_sheets(report, [*readings, demo.readings[5]], None)
    assert "3 readings without a time not drawn." in shown(mixed)


def test_a_day_takes_its_readings_by_analyser_by_the_clock_on_the_wall(demo: Site) -> None:
    aware = demo.readings[0]._replace(time=datetime(2026, 3, 2, 9, tzinfo=UTC))
    (day,), without = days_of([aware], demo.log, ())
    assert (day.instrument, without) == (ANALYSER, 0)
    assert len(day.checks) == 19
    assert day.hours() == (6.5, pytest.approx(14 + 44 / 60))  # to the end of the last regeneration
    by_serial = aware._replace(instrument="INVENTED-0417")
    assert [one.instrument for one in days_of([by_serial], demo.log, ())[0]] == [ANALYSER]
    days, _ = days_of([], demo.log, ())
    assert [one.day.day for one in days] == [2, 16]


def test_the_pages_are_written_the_same_twice(
    demo: Site, report: QualityReport, tmp_path: Path
) -> None:
    made = []
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        files = write_quality_pages(
            tmp_path / name / "quality.pdf", tmp_path / name / "quality.png", report,
            demo.readings[:9], demo.log, dpi=40.0,
        )  # fmt: skip
        made.append([(one.name, one.read_bytes()) for one in files])
    assert made[0] == made[1]
    assert [name for name, _ in made[0]] == ["quality.pdf", "quality.png", "quality-2.png"]
    assert made[0][0][1].startswith(b"%PDF")
