"""An edit does what it says, and never makes a plan worse than it was."""

from __future__ import annotations

import contextlib
import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from hgmap.editing.plan_areas import Merging, merge_rooms, merging, split_room
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_edits import (
    Place,
    add_room,
    corners_of,
    delete,
    delete_corner,
    insert_corner,
    move_corner,
    move_room,
    new_room_id,
    rename_room,
)
from hgmap.editing.plan_openings import add_opening, add_wall, move_opening, set_state
from hgmap.errors import PlanError
from tests.editing.drawn_plans import area, draft_of, feature, plan_of, plans, room, two_rooms

numbers = st.floats(-3, 15)
places = st.tuples(numbers, numbers)


def test_a_drawn_room_gets_the_next_id_and_its_name() -> None:
    draft = draft_of(room("G01", 0, 0, 6, 5), room("G02", 6, 0, 12, 5))
    after = add_room(draft, [(0, 5), (12, 5), (12, 8), (0, 8.00049)])
    drawn = plan_of(after).rooms[-1]
    assert (drawn.id, drawn.name, drawn.area_m2) == ("G03", "G03", 36)
    assert after.features[-1].key == "room G03"
    assert add_room(PlanDraft(), [(0, 0), (1, 0), (1, 1)], "Lab").rooms[0].name == "Lab"
    assert new_room_id(PlanDraft()) == "R1"


@pytest.mark.parametrize(
    ("outline", "name", "text"),
    [
        ([(0, 5), (12, 5)], "", "three corners"),
        ([(0, 5), (6, 9), (6, 5), (0, 9)], "", "cross or touch itself at x 3.00, y 7.00"),
        ([(5, 0), (12, 5), (12, 8)], "", "and room 'R1' would overlap by"),
        ([(0, 5), (6, 5), (6, 9)], "room a", "another room has the name"),
        ([(0, 5), (6, 5), (6, 9)], "A", "is already the id of room 'Room A'"),
        ([(0, 5), (6, 5), (6, math.nan)], "", "two finite numbers"),
        ([(0, 5), (6, 5), (6, 1e9)], "", "farther out"),
        ([(0, 5), (6, 5), (6, 7000)], "", "would span 7000 m"),
        ([(0, 5), (6, 5), (12, 5)], "", "cross or touch|area is zero"),
    ],
)
def test_a_room_that_read_plan_would_refuse_is_refused(
    outline: list[tuple[float, float]], name: str, text: str
) -> None:
    with pytest.raises(PlanError, match=text) as caught:
        add_room(two_rooms(), outline, name)
    assert "\n" not in str(caught.value)


def test_a_corner_takes_its_neighbour_and_an_opening_along() -> None:
    draft = draft_of(
        room("A", 0, 0, 6, 5),
        room("B", 6, 0, 12, 5),
        feature("opening", "LineString", [[6, 4], [6, 5]], id="d1"),
    )
    after = move_corner(draft, "room A", 2, (6.5, 5.0))
    plan = plan_of(after)
    assert [one.area_m2 for one in plan.rooms] == [31.25, 28.75]
    assert plan.openings[0].line.coords[1] == (6.5, 5.0)
    with pytest.raises(PlanError, match="would overlap"):
        move_corner(draft, "room A", 2, (6.5, 5.0), together=False)
    alone = move_corner(draft, "room A", 0, (0.5, 0.5), together=False)
    assert plan_of(alone).rooms[0].area_m2 == pytest.approx(27.25)


def test_a_corner_put_into_a_shared_edge_is_in_both_rooms_and_can_be_moved() -> None:
    after = insert_corner(two_rooms(), "room A", 1, (6, 2.5))
    assert [len(corners_of(one.geometry)) for one in after.rooms if one.geometry] == [5, 5]
    moved = move_corner(after, "room A", 2, (7, 2.5))
    assert [one.area_m2 for one in plan_of(moved).rooms] == [32.5, 27.5]
    assert (
        delete_corner(insert_corner(two_rooms(), "room A", 1, (6, 2.5)), "room A", 2)
        .rooms[0]
        .geometry.equals(two_rooms().rooms[0].geometry)
    )


def test_three_corners_stay() -> None:
    draft = add_room(PlanDraft(), [(0, 0), (4, 0), (4, 4)])
    with pytest.raises(PlanError, match="needs 3 corners"):
        delete_corner(draft, "room R1", 0)
    with pytest.raises(PlanError, match="no corner 4"):
        delete_corner(draft, "room R1", 3)


@pytest.mark.parametrize(
    "edit",
    [
        lambda draft, name: rename_room(draft, "room A", name),
        lambda draft, name: add_room(draft, [(20, 0), (24, 0), (24, 4)], name),
        lambda draft, name: split_room(draft, "room A", [(-1, 2), (99, 2)], [name]),
        lambda draft, name: merge_rooms(draft, ["room A", "room B"], name),
    ],
)
def test_a_name_is_kept_whole_or_refused_and_never_cut(edit: Any) -> None:
    longest, longer = "n" * 79 + "m", "n" * 81
    assert any(one.name == longest for one in edit(two_rooms(), f" {longest}\n").rooms)
    with pytest.raises(PlanError, match="at most 80 characters, found 81: 'nnn"):
        edit(two_rooms(), longer)


def test_a_renamed_room_keeps_its_id_even_where_its_name_was_its_id() -> None:
    draft = draft_of(feature("room", "Polygon", room("x", 0, 0, 4, 4)["geometry"]["coordinates"],
                             name="Lab"))  # fmt: skip
    after = rename_room(draft, "room Lab", "  Old\nlab ")
    assert [(one.id, one.name) for one in plan_of(after).rooms] == [("Lab", "Old lab")]
    with pytest.raises(PlanError, match="needs a name"):
        rename_room(draft, "room Lab", " ")
    with pytest.raises(PlanError, match="another room has the name"):
        rename_room(two_rooms(), "room A", "ROOM B")


@pytest.mark.parametrize("wall", [0.0, 0.15, 0.3])
def test_an_opening_is_put_midway_onto_the_wall_between_two_rooms(wall: float) -> None:
    draft = delete(two_rooms(wall), "opening d1")
    after = add_opening(draft, (6.1, 1.0), (5.95, 1.9), "closed")
    (opening,) = plan_of(after).openings
    assert set(opening.rooms) == {"A", "B"}
    assert (opening.id, opening.state) == ("A-B", "closed")
    assert [x for x, _ in opening.line.coords] == [6, 6]
    assert add_opening(after, (6, 4), (6, 4.8)).openings[-1].id == "A-B-2"
    outside = plan_of(add_opening(after, (0.1, 1.0), (-0.2, 2.0))).openings[-1]
    assert (outside.id, outside.rooms) == ("A-outside", ("A",))


@pytest.mark.parametrize(
    ("start", "end", "text"),
    [
        ((3, 2), (3, 3), "no wall of a room"),
        ((20, 2), (20, 3), "no wall of a room"),
        ((5.5, 2), (6.5, 2), "across the wall"),
        ((6, 2), (6, 2), "as long as it is wide"),
    ],
)
def test_an_opening_away_from_a_wall_is_refused(
    start: tuple[float, float], end: tuple[float, float], text: str
) -> None:
    with pytest.raises(PlanError, match=text):
        add_opening(two_rooms(), start, end)


def test_states_and_walls() -> None:
    draft = set_state(two_rooms(), "opening d1", "sealed")
    assert plan_of(draft).openings[0].state == "sealed"
    with pytest.raises(PlanError, match="'ajar' is not one of"):
        set_state(draft, "opening d1", "ajar")
    with pytest.raises(PlanError, match="no opening"):
        set_state(draft, "room A", "open")
    moved = move_opening(draft, "opening d1", (6.2, 4), (6.1, 4.8))
    assert plan_of(moved).openings[0].line.bounds == (6, 4, 6, 4.8)
    walled = add_wall(moved, [(1, 1), (1, 3.0004)])
    assert plan_of(walled).walls[0].length == 2
    with pytest.raises(PlanError, match="two ends"):
        add_wall(moved, [(1, 1), (1, 1)])


def test_the_larger_half_keeps_the_id() -> None:
    after = split_room(two_rooms(), "room A", [(2, 2), (2, 3)], ["", "Store"])
    rooms = {one.id: one for one in plan_of(after).rooms}
    assert rooms["A"].area_m2 == 20
    assert (rooms["A"].name, rooms["R1"].name, rooms["R1"].area_m2) == ("Room A", "Store", 10)


@pytest.mark.parametrize(
    ("line", "text"),
    [
        ([(20, 0), (21, 0)], "does not cross"),
        ([(0.01, 0), (0.01, 5)], "one half would be 0.05 m²"),
        ([(1, 1)], "no two places"),
        ([(1, 1), (1, 1)], "no two places"),
        ([(-1, 2), (7, 2), (7, 3), (-1, 3)], "3 parts"),
    ],
)
def test_a_line_that_does_not_halve_a_room_is_refused(
    line: list[tuple[float, float]], text: str
) -> None:
    with pytest.raises(PlanError, match=text):
        split_room(two_rooms(), "room A", line)


def test_merging_takes_the_wall_in_and_tells_what_became_of_the_openings() -> None:
    draft = add_wall(two_rooms(0.2), [(6, 0), (6, 2)])
    draft = add_opening(draft, (0, 1), (0, 2))
    done = merging(draft, ["room A", "room B"], "Hall")
    (merged,) = plan_of(done.draft).rooms
    assert (merged.id, merged.name, merged.area_m2) == ("A", "Hall", 60)
    assert len(corners_of(merged.polygon)) == 4
    assert done.wall_m2 == pytest.approx(1.0)
    assert (done.openings, done.walls) == (("opening 'd1'",), ("wall 3",)) or done.walls
    assert "takes in 1.00 m² of wall" in done.text
    assert "opening 'd1'" in done.text
    assert [one.id for one in done.draft.openings] == ["A-outside"]
    assert done.draft.walls == ()


def test_a_room_that_runs_round_another_is_merged_with_it() -> None:
    ring = room("A", 0, 0, 10, 10)
    ring["geometry"]["coordinates"].append([[4, 4], [4, 6], [6, 6], [6, 4], [4, 4]])
    draft = draft_of(ring, room("B", 4.1, 4.1, 5.9, 5.9))
    done = merging(draft, ["room A", "room B"])
    (merged,) = plan_of(done.draft).rooms
    assert merged.area_m2 == pytest.approx(100)
    assert len(merged.polygon.interiors) == 0


def test_slanted_rooms_are_merged_without_a_crack() -> None:
    draft = draft_of(
        feature("room", "Polygon", [[[0, 0], [4, 1], [3, 5], [-1, 4], [0, 0]]], id="A"),
        feature("room", "Polygon", [[[4.2, 1.05], [8, 2], [7, 6], [3.2, 5.05], [4.2, 1.05]]],
                id="B"),
    )  # fmt: skip
    done = merging(draft, ["room A", "room B"])
    (merged,) = plan_of(done.draft).rooms
    assert merged.area_m2 == pytest.approx(area(draft) + done.wall_m2)
    assert 0.7 < done.wall_m2 < 0.9
    assert len(merged.polygon.interiors) == 0


def test_rooms_with_more_than_a_wall_between_are_not_merged() -> None:
    with pytest.raises(PlanError, match="do not touch"):
        merging(two_rooms(0.5), ["room A", "room B"])
    with pytest.raises(PlanError, match="two rooms"):
        merging(two_rooms(), ["room A", "room A"])


@given(plans(), st.data())
def test_a_split_keeps_the_area_and_undo_is_the_draft_before(
    draft: PlanDraft, data: st.DataObject
) -> None:
    before = draft.to_bytes()
    target = data.draw(st.sampled_from(draft.rooms))
    assert target.geometry is not None
    west, south, east, north = target.geometry.bounds
    inside = st.tuples(st.floats(west, east), st.floats(south, north))
    line = [data.draw(inside), data.draw(inside)]
    assume(math.dist(*line) > 0.01)
    try:
        after = split_room(draft, target.key, line)
    except PlanError:
        assume(False)
    assert area(after) == pytest.approx(area(draft), abs=2e-3)
    assert len(plan_of(after).rooms) == len(draft.rooms) + 1
    halves = [one.geometry.area for one in (after.by_key[target.key], after.features[-1])
              if one.geometry]  # fmt: skip
    assert halves[0] >= halves[1] - 0.02
    assert draft.to_bytes() == before


def merging_or_none(draft: PlanDraft, keys: list[str]) -> Merging | None:
    """None where the rooms do not touch; another refusal is a failure."""
    try:
        return merging(draft, keys)
    except PlanError as error:
        if "do not touch" not in str(error):
            raise
        return None


@given(plans(least=2), st.data())
def test_a_merge_keeps_the_area_and_the_wall(draft: PlanDraft, data: st.DataObject) -> None:
    first = data.draw(st.sampled_from(draft.rooms))
    others = [one for one in draft.rooms if one is not first]
    second = data.draw(st.sampled_from(others))
    done = merging_or_none(draft, [first.key, second.key])
    if done is None:
        return
    assert len(plan_of(done.draft).rooms) == len(draft.rooms) - 1
    assert area(done.draft) == pytest.approx(area(draft) + done.wall_m2)
    assert first.geometry is not None
    assert second.geometry is not None
    merged = done.draft.by_key[done.key].geometry
    assert merged is not None
    assert merged.buffer(1e-3).covers(first.geometry)
    assert merged.buffer(1e-3).covers(second.geometry)
    assert done.wall_m2 <= 0.31 * min(first.geometry.length, second.geometry.length) / 2


def some_edit(
    draft: PlanDraft, what: str, key: str, index: int, at: Place, to: Place, name: str
) -> PlanDraft:
    edits: dict[str, Callable[[], PlanDraft]] = {
        "add": lambda: add_room(draft, [at, to, (at[0], to[1])]),
        "corner": lambda: move_corner(draft, key, index, to),
        "insert": lambda: insert_corner(draft, key, index, to),
        "less": lambda: delete_corner(draft, key, index),
        "move": lambda: move_room(draft, key, to[0] / 10, to[1] / 10),
        "split": lambda: split_room(draft, key, [at, to]),
        "door": lambda: add_opening(draft, at, to),
        "rename": lambda: rename_room(draft, key, name),
        "delete": lambda: delete(draft, key) if len(draft.rooms) > 1 else draft,
    }
    return edits[what]()


WHAT = ("add", "corner", "insert", "less", "move", "split", "door", "rename", "delete")


@given(plans(), st.lists(st.sampled_from(WHAT), min_size=1, max_size=6), st.data())
def test_no_edit_makes_a_plan_that_read_plan_refuses(
    draft: PlanDraft, what: list[str], data: st.DataObject
) -> None:
    for choice in what:
        key = data.draw(st.sampled_from([one.key for one in draft.features]))
        at, to = data.draw(places), data.draw(places)
        index, name = data.draw(st.integers(0, 4)), data.draw(st.sampled_from(["A1", "B", "R1"]))
        start, before = draft, draft.edited().to_bytes()
        with contextlib.suppress(PlanError):
            draft = some_edit(draft, choice, key, index, at, to, name)
        assert start.edited().to_bytes() == before, "undo is the draft before"
        plan = plan_of(draft)
        assert tuple(draft.sound_rooms.values()) == plan.rooms
        assert read_plan_draft(draft.to_bytes()) == draft


def test_errors_that_were_there_do_not_block_other_edits() -> None:
    bow = [[20, 0], [26, 5], [26, 0], [20, 5], [20, 0]]
    draft = draft_of(
        room("A", 0, 0, 6, 5), room("B", 5, 0, 12, 5), room("B", 12, 0, 14, 5),
        feature("room", "Polygon", [bow], id="C"), {"type": "Feature"},
    )  # fmt: skip
    draft = rename_room(draft, "room A", "Lab")
    smaller = move_corner(draft, "room A", 1, (5.5, 0))
    assert move_corner(smaller, "room A", 2, (5.0, 5)).rooms[0].geometry is not None
    with pytest.raises(PlanError, match=r"would overlap by 10\.00"):
        move_room(draft, "room A", 1, 0)
    assert move_corner(draft, "room C", 1, (27, 5)).by_key["room C"].complaint
    mended = move_corner(move_corner(draft, "room C", 1, (26, 0)), "room C", 2, (26, 5))
    assert mended.by_key["room C"].complaint or mended.by_key["room C"].part


def test_only_what_was_edited_is_rounded() -> None:
    draft = draft_of(room("A", 0.00012345, 0, 6, 5), room("B", 6, 0, 12.0001234, 5))
    after = json.loads(move_corner(draft, "room A", 2, (5.12345, 4.98765)).to_bytes())
    ring_a, ring_b = (one["geometry"]["coordinates"][0] for one in after["features"])
    assert ring_a[0] == [0.00012345, 0]
    assert ring_a[2] == [5.123, 4.988]
    assert ring_b[1] == [12.0001234, 0]
    assert np.isfinite(ring_a).all()


def test_a_feature_that_cannot_be_read_does_not_block_what_moves_it_up_in_the_file() -> None:
    unread = {"type": "Feature", "properties": {"kind": "room"}}
    draft = draft_of(room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), unread, unread)
    done = merging(draft, ["room A", "room B"])
    assert [one.raw for one in done.draft.features[1:]] == [unread, unread]
