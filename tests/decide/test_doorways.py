"""Ground before a door, and readings taken in a doorway."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point, box

from hgmap.decide.doorways import doorway_guards
from hgmap.decide.whose import items_by_room
from hgmap.decide.zones import make_zones
from hgmap.site.building import Floor, Opening, Room

Make = Callable[..., Any]


def floor_of(state: Any, *, thick_m: float = 0.2) -> Floor:
    half = thick_m / 2
    return Floor(
        "ground",
        "Ground floor",
        (
            Room("r0", "Room 0", box(0, 0, 6 - half, 5)),
            Room("r1", "Room 1", box(6 + half, 0, 12, 5)),
        ),
        openings=(Opening("d", LineString([(6, 2), (6, 3)]), state, ("r0", "r1")),),
    )


@pytest.mark.parametrize(("state", "clear"), [("open", False), ("closed", False), ("sealed", True)])
def test_before_a_door_to_ground_to_remediate_nothing_is_clear(
    survey: Make, make_reading: Make, lay: Make, state: str, clear: bool
) -> None:
    floor = floor_of(state)
    evidence = survey(
        floor, [make_reading("R1", "r0", (1, 1), 9.0), make_reading("R2", "r1", (10, 4), 0.1)]
    )
    zones = make_zones(evidence, lay(floor, lambda x, _: np.where(x < 6, 2.0, -4.0), sd=0.5))
    ours = [zone for zone in zones.zones if zone.room == "r1" and zone.name == "clear"]
    before = Point(6.3, 2.5)
    assert any(zone.geometry.covers(before) for zone in ours) == clear
    if not clear:
        doubt = next(z for z in zones.zones if z.room == "r1" and z.name == "resample")
        article = "an" if state == "open" else "a"
        assert f"{article} {state} door away from ground above the level in Room 0" in doubt.reasons
        assert doubt.geometry.covers(before)


def test_a_door_far_from_the_dirty_ground_guards_nothing() -> None:
    floor = floor_of("open")
    assert doorway_guards(floor, {0: box(0, 0, 1, 1)}, guard_m=1.5) == {}
    (guard,) = doorway_guards(floor, {0: box(5, 0, 5.9, 5)}, guard_m=1.5)[1]
    assert guard.geometry.covers(box(6.1, 2, 7.4, 3))
    assert floor.rooms[1].polygon.buffer(1e-9).covers(guard.geometry)


@pytest.mark.parametrize("said", ["", "Room 0", "r1"])
def test_a_held_reading_in_a_doorway_bears_on_both_rooms(
    survey: Make, make_reading: Make, said: str
) -> None:
    floor = floor_of("open")
    held = make_reading("R1", said, (6.02, 2.5), 50.0)._replace(held=("in a wall",))
    ours, theirs = items_by_room(survey(floor, [held]))
    assert [item.reading.id for item in ours] == [item.reading.id for item in theirs] == ["R1"]


def test_one_in_a_room_beside_the_wall_bears_on_that_room(survey: Make, make_reading: Make) -> None:
    floor = floor_of("open")
    held = make_reading("R1", "", (5.8, 2.5), 50.0)._replace(held=("late",))
    ours, theirs = items_by_room(survey(floor, [held]))
    assert [item.reading.id for item in ours] == ["R1"]
    assert theirs == []


@pytest.mark.parametrize(
    "wrong",
    [
        {"value": 2.0, "qualifier": ">"},  # the level is 3: anything from 2 on
        {"value": 60.0, "held": ("no room 'Z'",)},
        {"value": None, "held": ("value 'OVER' is not a number",)},
    ],
)
def test_a_reading_that_may_be_far_above_the_level_holds_its_whole_room(
    survey: Make, make_reading: Make, lay: Make, wrong: dict[str, Any]
) -> None:
    floor = floor_of("sealed")
    value, qualifier = wrong["value"], wrong.get("qualifier", "")
    bad = make_reading("R1", "r0", (1, 1), value, qualifier)._replace(held=wrong.get("held", ()))
    evidence = survey(floor, [bad, make_reading("R2", "r0", (5, 4), 0.1),
                              make_reading("R3", "r1", (10, 4), 0.1)], above=3.0)  # fmt: skip
    zones = make_zones(evidence, lay(floor, lambda x, _: -4.0 + 0 * x, sd=0.5))
    assert zones.area_m2("clear", "r0") == 0
    assert zones.area_m2("clear", "r1") == pytest.approx(floor.rooms[1].area_m2)
