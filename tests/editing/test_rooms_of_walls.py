"""Rooms found between the walls of a plan that is being drawn."""

from __future__ import annotations

import pytest
import shapely
from shapely import LineString

from hgmap.editing.plan_draft import PlanDraft, raw_feature, read_plan_draft
from hgmap.editing.plan_edits import add_room
from hgmap.editing.plan_openings import add_wall
from hgmap.editing.rooms_of_walls import find_rooms
from hgmap.errors import PlanError

EMPTY = b'{"type": "FeatureCollection", "features": []}'


def two_rooms(gap_m: float = 0.0, door: tuple[float, float] | None = (1.0, 1.9)) -> PlanDraft:
    """Draw a house of 8 x 4 m with a wall in its middle, a door in that, and perhaps a leak."""
    draft = read_plan_draft(EMPTY)
    draft = add_wall(draft, [(0, gap_m), (0, 4), (8, 4), (8, 0), (0, 0)])
    if door is None:
        return add_wall(draft, [(4, 0), (4, 4)])
    draft = add_wall(draft, [(4, 0), (4, door[0])])
    return add_wall(draft, [(4, door[1]), (4, 4)])


def test_walls_that_were_drawn_make_rooms_and_a_door_gap_joins_them() -> None:
    found = find_rooms(two_rooms())
    assert (found.rooms, found.openings) == (2, 1)
    areas = sorted(one.area_m2 for one in found.draft.sound_rooms.values())
    assert areas == pytest.approx([16, 16], rel=0.02)
    (opening,) = found.draft.sound_openings.values()
    assert len(opening.rooms) == 2
    assert opening.line.length == pytest.approx(0.9, abs=0.05)


def test_a_leak_is_closed_as_a_repair_that_can_be_refused() -> None:
    draft = two_rooms(gap_m=0.03)
    found = find_rooms(draft)
    assert found.rooms == 2
    assert any("closed" in one.text for one in found.repairs)
    closed = [n for n, one in enumerate(found.repairs, start=1) if "closed" in one.text]
    try:
        rooms = find_rooms(draft, refuse=closed).rooms
    except PlanError:
        rooms = 0
    assert rooms < 2


def test_a_room_that_was_drawn_stays_and_the_other_is_added() -> None:
    draft = add_room(two_rooms(), shapely.box(0, 0, 4, 4), "Lab")
    found = find_rooms(draft)
    assert found.rooms == 1
    assert found.draft.rooms[0].name == "Lab"
    assert len(found.draft.rooms) == 2


def test_an_opening_that_was_drawn_is_not_drawn_again() -> None:
    line = LineString([(4, 1), (4, 1.9)])
    draft = two_rooms(door=None).edited(
        added=[raw_feature("opening", line, id="main", state="closed")]
    )
    found = find_rooms(draft)
    assert found.rooms == 2
    assert [(one.id, one.state) for one in found.draft.openings] == [("main", "closed")]


def test_a_plan_without_walls_is_told_so() -> None:
    with pytest.raises(PlanError, match="has no wall"):
        find_rooms(read_plan_draft(EMPTY))


def test_walls_that_close_round_nothing_are_told_so() -> None:
    with pytest.raises(PlanError, match="close round no further room"):
        find_rooms(add_wall(read_plan_draft(EMPTY), [(0, 0), (5, 0)]))
