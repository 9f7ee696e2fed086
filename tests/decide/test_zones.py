"""Rulings on single rooms: which zone, and what it says of itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from shapely import Point, Polygon

from hgmap.decide.model import Zone, ZoneName
from hgmap.decide.whose import room_items
from hgmap.decide.zones import make_zones
from hgmap.site.building import Floor, Room

Make = Callable[..., Any]


@pytest.fixture(scope="module")
def floor(make_floor: Make) -> Floor:
    made: Floor = make_floor([(0, 0, 6, 5), (6, 0, 12, 5), (12, 0, 18, 5)], [("r0", "r1")])
    return made


def one(zones: Any, room: str, name: str) -> Zone:
    (found,) = [z for z in zones.zones if z.room == room and z.name == name]
    assert isinstance(found, Zone)
    return found


def test_without_a_surface_a_room_goes_by_its_readings(
    survey: Make, make_reading: Make, make_floor: Make
) -> None:
    floor = make_floor([(4 * k, 0, 4 * k + 4, 3) for k in range(5)])
    evidence = survey(
        floor,
        [
            make_reading("R1", "r0", (1, 1), 7.0),
            make_reading("R2", "r1", (5, 1), 0.3),
            make_reading("R3", "r2", (9, 1), 7.0, held=("late",)),
            make_reading("R4", "r4", (17, 1), 9.0, ">", height_m=0.1),
        ],
    )
    zones = make_zones(evidence, None, no_surface="2 usable readings: a surface needs 3")
    assert [z.name for z in zones.zones] == [
        "remediate", "resample", "resample", "no data", "remediate",
    ]  # fmt: skip
    assert all(
        z.reasons[0] == "no surface: 2 usable readings: a surface needs 3" for z in zones.zones
    )
    assert zones.zones[0].reasons[1] == "above the level: R1 reads 7 µg/m³"
    assert zones.zones[0].highest_reading == 7.0
    assert zones.zones[1].reasons[1] == "1 reading(s), none known to be above the level"
    # a held reading is not evidence of a level, and is not said to be below it either
    assert zones.zones[2].reasons[1].endswith("none known to be above the level, 1 of them held")
    assert zones.zones[4].highest_reading is None  # taken at another height
    assert zones.contours == ()


def test_a_constant_floor_is_one_zone_a_room(
    survey: Make, make_reading: Make, lay: Make, floor: Floor
) -> None:
    evidence = survey(
        floor,
        [make_reading(f"R{k}", f"r{k}", (6 * k + 3, 2), 0.2) for k in range(3)],
    )
    cases: list[tuple[float, ZoneName]] = [
        (np.log(0.05), "clear"), (np.log(0.6), "resample"), (1.0, "remediate"),
    ]  # fmt: skip
    for mean, name in cases:
        zones = make_zones(evidence, lay(floor, lambda x, y, m=mean: m))
        assert [z.name for z in zones.zones] == [name] * 3
        assert all(z.area_m2 == pytest.approx(30) for z in zones.zones)
        assert zones.area_m2(name) == pytest.approx(90)
        assert zones.area_m2(name, "r1") == pytest.approx(30)
        for zone in zones.zones:
            assert zone.highest_estimate == pytest.approx(np.exp(mean))
            assert zone.highest_reading == 0.2


def test_what_a_zone_says_of_itself(
    survey: Make, make_reading: Make, lay: Make, floor: Floor
) -> None:
    # log estimate x - 3 with sd 1: the level at x = 3, probability 0.05 at x = 1.355
    evidence = survey(
        floor,
        [
            make_reading("R1", "r0", (5.5, 1), 12.0),
            make_reading("R2", "r0", (0.5, 1), 0.1),
            make_reading("R3", "r0", (2.0, 1), 0.4),
        ],
    )
    zones = make_zones(evidence, lay(floor, lambda x, y: x - 3, cell_m=0.1), guard_m=0.1)
    remediate, resample, clear = (
        one(zones, "r0", name) for name in ("remediate", "resample", "clear")
    )
    assert remediate.geometry.bounds[0] == pytest.approx(3.0, abs=1e-9)
    assert resample.geometry.bounds[0] == pytest.approx(1.355146, abs=1e-5)
    assert remediate.highest_estimate == pytest.approx(np.exp(5.95 - 3))
    assert remediate.highest_reading == 12.0
    assert remediate.probability == pytest.approx(0.998, abs=0.001)
    assert remediate.reasons == ("probability above the level up to 1.00",)
    assert resample.highest_reading == 0.4
    assert "straddles the level: probability up to 0.48" in resample.reasons
    assert clear.highest_reading == 0.1
    assert clear.probability is not None
    assert clear.probability <= 0.05
    assert clear.reasons == ("probability above the level at most 0.05",)
    assert zones.contours
    assert all(
        x == pytest.approx(3.0)
        for line in zones.contours
        for x, _ in line.coords
        if line.bounds[2] < 6
    )


def test_a_room_painted_from_next_door_says_measure_first(
    survey: Make, make_reading: Make, lay: Make, floor: Floor
) -> None:
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 9.0)])
    zones = make_zones(evidence, lay(floor, lambda x, y: 2.0))
    assert "estimated from other rooms only: measure here before working" in (
        one(zones, "r1", "remediate").reasons
    )
    assert len(one(zones, "r0", "remediate").reasons) == 1


def test_a_room_without_opening_and_reading_is_no_data_whatever_the_estimate(
    survey: Make, make_reading: Make, lay: Make, floor: Floor
) -> None:
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.1)])
    for mean in (-9.0, 9.0):
        zones = make_zones(evidence, lay(floor, lambda x, y, m=mean: m))
        zone = one(zones, "r2", "no data")
        assert zone.area_m2 == pytest.approx(30)
        assert (zone.highest_estimate, zone.probability) == (None, None)
        assert zone.reasons == ("no opening and no reading: nothing says what is in here",)


def test_a_room_with_a_door_and_no_reading_is_resample_at_best(
    survey: Make, make_reading: Make, lay: Make, floor: Floor
) -> None:
    evidence = survey(floor, [make_reading("R1", "r0", (1, 1), 0.1)])
    zones = make_zones(evidence, lay(floor, lambda x, y: -9.0))
    assert one(zones, "r0", "clear").area_m2 == pytest.approx(30)
    assert one(zones, "r1", "resample").reasons == ("no reading in this room",)


def test_a_room_too_narrow_for_the_cells_is_resample(
    survey: Make, make_reading: Make, lay: Make, make_floor: Make
) -> None:
    floor = make_floor([(0, 0, 4, 3), (4, 0, 4.02, 3), (4.02, 0, 8, 3)])
    evidence = survey(floor, [make_reading("R1", "r1", (4.01, 1), 0.1)])
    zones = make_zones(evidence, lay(floor, lambda x, y: -9.0, cell_m=0.5))
    assert one(zones, "r1", "resample").reasons[0] == "the room is too narrow for cells of 0.5 m"
    above = survey(floor, [make_reading("R1", "r1", (4.01, 1), 7.0)])
    strip = one(make_zones(above, lay(floor, lambda x, y: -9.0, cell_m=0.5)), "r1", "remediate")
    assert strip.highest_reading == 7.0
    assert any("R1 reads 7" in reason for reason in strip.reasons)


def test_a_zone_smaller_than_a_cell_is_described_by_its_nearest_cell(
    survey: Make, make_reading: Make, lay: Make, make_floor: Make, l_room: Polygon
) -> None:
    floor = make_floor([Room("l", "L", l_room)])
    evidence = survey(
        floor,
        [make_reading("R1", "l", (1.1, 1.1), 7.0), make_reading("R2", "l", (1.1, 1.6), 0.1),
         make_reading("R3", "l", (1.6, 1.1), 0.1), make_reading("R4", "l", (0.6, 1.1), 0.1),
         make_reading("R5", "l", (1.1, 0.6), 0.1), make_reading("R6", "l", (7, 2), 0.1),
         make_reading("R7", "l", (2.5, 7), 0.1)],
    )  # fmt: skip
    zones = make_zones(evidence, lay(floor, lambda x, y: -9.0, cell_m=1.0), guard_m=0.0)
    zone = one(zones, "l", "resample")
    assert zone.area_m2 == pytest.approx(0.25)
    assert zone.highest_estimate == pytest.approx(np.exp(-9))
    assert zone.highest_reading == 7.0
    assert zone.geometry.contains(Point(1.1, 1.1))


def test_readings_belong_to_a_room_by_id_before_name(
    survey: Make, make_reading: Make, make_floor: Make
) -> None:
    rooms = [
        Room("1", "2", Polygon([(0, 0), (4, 0), (4, 3), (0, 3)])),
        Room("2", "Kitchen", Polygon([(4, 0), (8, 0), (8, 3), (4, 3)])),
    ]
    floor = make_floor(rooms, [("1", "2")])
    evidence = survey(
        floor,
        [make_reading("R1", "2", (5, 1), 0.1), make_reading("R2", "KITCHEN", (6, 1), 0.1)],
    )
    assert room_items(evidence, rooms[0]) == []
    assert [item.reading.id for item in room_items(evidence, rooms[1])] == ["R1", "R2"]
