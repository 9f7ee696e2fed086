"""One row a room: whose readings count, and which rooms have no figures."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from hgmap.decide.rooms import room_rows
from hgmap.decide.zones import make_zones
from hgmap.field.rooms import RoomFigures

Make = Callable[..., Any]


def figures(*average: float) -> RoomFigures:
    mean = np.array(average)
    highest = np.where(np.isnan(mean)[:, None], np.nan, mean[:, None] * np.array([0.5, 1.0, 2.0]))
    return RoomFigures(mean, 0.1 * mean, 0.8 * mean, 1.2 * mean, np.log(mean), 0.1 + 0 * mean,
                       highest)  # fmt: skip


def test_a_room_without_a_way_in_or_a_reading_has_no_figures(
    survey: Make, make_floor: Make, make_reading: Make, lay: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3), (4, 0, 8, 3), (8, 0, 9, 3)], [("r0", "r1")])
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.4)])
    zones = make_zones(evidence, lay(floor, lambda x, _: 0 * x - 9))
    first, joined, shut = room_rows(evidence, zones, figures(0.4, 0.6, 0.9))
    assert (first.readings, first.highest_reading, first.average) == (1, 0.4, 0.4)
    assert first.probability_anywhere == pytest.approx(0.0, abs=1e-9)
    assert (joined.readings, joined.highest_reading, joined.average) == (0, None, 0.6)
    assert joined.probability_anywhere == 1 / 3
    assert (shut.average, shut.probability_anywhere) == (None, None)


def test_a_room_that_no_reading_reaches_has_no_figures(
    survey: Make, make_floor: Make, make_reading: Make, lay: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3), (4, 0, 8, 3)], [("r0", "r1")])
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.4)])
    zones = make_zones(evidence, lay(floor, lambda x, _: 0 * x))
    assert room_rows(evidence, zones, figures(0.4, np.nan))[1].average is None


def test_a_reading_above_the_level_is_a_place_above_it(
    survey: Make, make_floor: Make, make_reading: Make, lay: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3)])
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 1.2)])
    zones = make_zones(evidence, lay(floor, lambda x, _: 0 * x))
    assert room_rows(evidence, zones, figures(0.1))[0].probability_anywhere == 1.0


def test_without_an_error_model_a_room_has_its_readings_only(
    survey: Make, make_floor: Make, make_reading: Make, lay: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3)])
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.7)])
    zones = make_zones(evidence, lay(floor, lambda x, _: 0 * x))
    (row,) = room_rows(evidence, zones, None)
    assert (row.readings, row.highest_reading, row.average) == (1, 0.7, None)


def test_some_place_is_no_less_likely_than_the_likeliest_place(
    survey: Make, make_floor: Make, make_reading: Make, lay: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3)])
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.7)])
    zones = make_zones(evidence, lay(floor, lambda x, _: 0 * x - 0.5))
    worst = max(zone.probability for zone in zones.zones)
    assert worst > 0.25
    assert room_rows(evidence, zones, figures(0.1))[0].probability_anywhere == worst
