"""Drift at a fixed point, and what a detection limit can prove."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest

from hgmap.site.instruments.model import Check, Instrument, InstrumentLog
from hgmap.site.model import ActionLevel
from hgmap.site.quality.detection import detection_limits, limit_for, rule_on_limits
from hgmap.site.quality.drift import drifts
from hgmap.site.reading import Reading

Make = Callable[..., Reading]
START = datetime(2026, 3, 2, 8, 0)
UNIT = "µg/m³"


def day(reading: Make, values: list[float], hours: float = 1.0, **other: object) -> list[Reading]:
    return [
        reading(f"r{k}", one, time=START + timedelta(hours=hours * k), **other)
        for k, one in enumerate(values)
    ]


def test_a_point_that_climbs_all_day_is_flagged_with_its_slope(reading: Make) -> None:
    (found,) = drifts(day(reading, [1.0, 1.2, 1.4]), None, UNIT)
    assert found.slope_per_h == pytest.approx(0.2)
    assert found.slope_error_per_h == pytest.approx(0.0, abs=1e-12)
    assert found.change_percent == pytest.approx(40.0)
    assert found.flagged
    assert "readings r0 to r2" in found.text


def test_a_steady_point_is_not_flagged(reading: Make) -> None:
    (found,) = drifts(day(reading, [1.0, 1.1, 0.9, 1.19]), None, UNIT)
    assert not found.flagged


@pytest.mark.parametrize(
    "readings",
    [
        lambda make: day(make, [1.0, 2.0]),
        lambda make: day(make, [1.0, 2.0, 3.0], hours=0.1),
        lambda make: day(make, [1.0, 2.0, 3.0], hours=24.0),
        lambda make: day(make, [1.0, 2.0, 3.0], held=("no unit",)),
        lambda make: day(make, [1.0, 2.0, 3.0], qualifier="<"),
        lambda make: [*day(make, [1.0, 2.0]), make("x", 3.0, time=None)],
    ],
    ids=["two", "minutes", "three days", "held", "non-detects", "no time"],
)
def test_too_little_shows_no_drift(reading: Make, readings: Callable[..., list[Reading]]) -> None:
    assert drifts(readings(reading), None, UNIT) == ()


def test_a_control_point_of_the_log_counts_but_not_a_failed_check() -> None:
    def check(hour: int, *values: float, passed: bool | None = None) -> Check:
        when = datetime(2026, 3, 2, hour, tzinfo=UTC)
        return Check("one", "control point", when, when, values, passed=passed)

    log = InstrumentLog(
        (Instrument("one", None, "1"),),
        (check(8, 1.0, 1.2), check(10, 1.1), check(12, 0.6), check(14, 9.0, passed=False)),
    )
    (found,) = drifts([], log, UNIT)
    assert (found.point, found.n, found.flagged) == ("control point, one", 3, True)
    assert found.change_percent == pytest.approx(100.0 * (0.6 - 1.1) / 1.1)


def test_a_detection_limit_is_held_against_the_level(reading: Make, level: ActionLevel) -> None:
    readings = [
        reading(f"r{limit}", limit, qualifier="<", x=limit) for limit in (1.5, 1.6, 3.0, 3.01)
    ]
    found = rule_on_limits(detection_limits(readings), level, UNIT)
    assert [(one.limit.concentration, one.ruling) for one in found] == [
        (3.01, "above the level"), (3.0, "above half the level"),
        (1.6, "above half the level"), (1.5, "low enough"),
    ]  # fmt: skip
    assert "can never support a release" in found[0].text
    assert not any("never" in one.text for one in found[1:])


def test_a_limit_speaks_for_its_own_method_and_instrument(reading: Make) -> None:
    limits = detection_limits([
        reading("a", 0.1, qualifier="<", instrument="one"),
        reading("b", 0.2, qualifier="<", instrument="two"),
        reading("c", 0.4, qualifier="<", kind="laboratory"),
        reading("d", 0.9, qualifier="<", held=("no unit",)),
    ])  # fmt: skip
    assert limit_for(reading("x", instrument="one"), limits) == 0.1
    assert limit_for(reading("x"), limits) == 0.1
    assert limit_for(reading("x", instrument="three"), limits) is None
    assert limit_for(reading("x", kind="laboratory"), limits) == 0.4


def control_points(*values: float) -> InstrumentLog:
    checks = tuple(
        Check("one", "control point", when, when, (value,))
        for when, value in ((START + timedelta(hours=2 * k), one) for k, one in enumerate(values))
    )
    return InstrumentLog((Instrument("one", None, "1"),), checks)


def test_an_opening_and_a_closing_control_point_show_drift_already() -> None:
    (found,) = drifts([], control_points(1.0, 2.0), UNIT)
    assert (found.n, found.flagged, found.change_percent) == (2, True, 100.0)
    assert found.slope_per_h == pytest.approx(0.5)
    assert "±" not in found.text


def test_a_control_point_that_came_back_by_the_evening_is_flagged() -> None:
    (found,) = drifts([], control_points(1.0, 2.0, 1.1), UNIT)
    assert found.change_percent == pytest.approx(10.0)
    assert found.farthest_percent == pytest.approx(100.0)
    assert found.flagged
    assert "at most +100 %" in found.text


def test_a_control_point_that_begins_at_nothing_is_not_passed_over() -> None:
    (rising,) = drifts([], control_points(0.0, 2.0, 5.0), UNIT)
    assert rising.flagged
    assert "+100 % of the highest" in rising.text
    (still,) = drifts([], control_points(0.0, 0.0), UNIT)
    assert not still.flagged
