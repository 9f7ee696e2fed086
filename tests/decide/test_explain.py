"""Why a place reads so: what is said, and what is not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from shapely import LineString, box

from hgmap.decide.explain import Explanation, explain_place, figures_at
from hgmap.decide.zones import make_zones
from hgmap.errors import EstimateError
from hgmap.field.estimate import EstimateSettings, estimate_surface
from hgmap.site.building import Floor, Opening, Room

Make = Callable[..., Any]

FLOOR = Floor(
    "ground",
    "Ground floor",
    (
        Room("r0", "Room 0", box(0, 0, 4, 3)),
        Room("r1", "Room 1", box(4, 0, 8, 3)),
        Room("r2", "Room 2", box(8, 0, 10, 3)),
    ),
    openings=(Opening("door", LineString([(4, 1), (4, 2)]), "closed", ("r0", "r1")),),
)


@pytest.fixture(params=["kriging", "idw"])
def explained(
    request: pytest.FixtureRequest, survey: Make, make_reading: Make
) -> Callable[[float, float], Explanation]:
    places = [(0.5, 0.5), (2.0, 2.5), (3.5, 1.0), (3.5, 1.0), (5.0, 1.5), (7.0, 0.5), (7.5, 2.5)]
    values = [0.2, 0.3, 2.0, 2.4, 0.6, 0.4, 0.1]
    rooms = ["r0"] * 4 + ["r1"] * 3
    evidence = survey(
        FLOOR,
        [make_reading(f"R{k}", room, xy, value, "<" if value == 0.1 else "")
         for k, (room, xy, value) in enumerate(zip(rooms, places, values, strict=True))],
    )  # fmt: skip
    surface = estimate_surface(
        FLOOR, evidence.xy, evidence.concentration,
        EstimateSettings(cell_m=0.25, method=request.param),
        room=evidence.room, bounds=evidence.bounds,
    )  # fmt: skip
    zones = make_zones(evidence, surface)
    return lambda x, y: explain_place(evidence, surface, zones, x, y)


def test_the_readings_that_drive_a_place_come_first_with_their_way(
    explained: Callable[[float, float], Explanation],
) -> None:
    one = explained(3.4, 0.9)
    first = one.drivers[0]
    assert first.readings == ("R2", "R3")
    assert first.text == "2 µg/m³, 2.4 µg/m³"
    assert first.route is not None
    assert first.route.length_m == pytest.approx(first.straight_m)
    assert first.route.openings == ()
    weights = [abs(driver.weight) for driver in one.drivers]
    assert weights == sorted(weights, reverse=True)
    assert sum(driver.weight for driver in one.drivers) == pytest.approx(1.0)
    across = next(driver for driver in one.drivers if driver.readings == ("R4",))
    assert across.route is not None
    assert across.route.openings == across.route.closed == ("door",)
    assert across.route.length_m >= across.straight_m


def test_estimate_interval_and_probability_are_those_of_the_map(
    explained: Callable[[float, float], Explanation],
) -> None:
    one = explained(3.4, 0.9)
    assert one.estimate is not None
    assert one.low is not None
    assert one.high is not None
    assert one.low < one.estimate < one.high
    assert one.estimate**2 == pytest.approx(one.low * one.high)  # a log scale
    assert one.probability is not None
    assert (one.probability > 0.5) == (one.estimate > 1.0)
    assert one.zone in ("remediate", "resample")


def test_where_no_reading_reaches_nothing_is_said(
    explained: Callable[[float, float], Explanation],
) -> None:
    one = explained(9.0, 1.0)
    assert (one.estimate, one.low, one.high, one.probability) == (None,) * 4
    assert one.drivers == ()
    assert one.zone == "no data"


def test_a_place_in_no_room_is_refused_with_the_nearest_room(
    explained: Callable[[float, float], Explanation],
) -> None:
    with pytest.raises(EstimateError, match="in no room") as caught:
        explained(12.5, 1.0)
    assert "Room 2, 2.5 m away" in caught.value.todo


def test_where_two_zones_meet_it_is_of_the_worse(survey: Make, make_reading: Make) -> None:
    evidence = survey(FLOOR, [make_reading(f"R{k}", "r0", (0.5 + k, 1.0), 1.0) for k in range(3)])
    surface = estimate_surface(
        FLOOR, evidence.xy, evidence.concentration, EstimateSettings(cell_m=0.25),
        room=evidence.room, bounds=evidence.bounds,
    )  # fmt: skip
    zones = make_zones(evidence, surface)
    halves = [("clear", box(0, 0, 2, 3)), ("remediate", box(2, 0, 4, 3))]
    zone = zones.zones[0]
    cut = replace(zones, zones=tuple(replace(zone, name=n, geometry=g) for n, g in halves))
    assert figures_at(evidence, surface, cut, 2.0, 1.0).zone == "remediate"
    assert figures_at(evidence, surface, cut, 1.9, 1.0).zone == "clear"
