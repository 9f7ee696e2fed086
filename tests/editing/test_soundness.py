"""What may be wrong with a plan is found with its place, and each repair does what it says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_edits import move_room
from hgmap.editing.soundness import (
    Finding,
    ask_again,
    keep_as_drawn,
    repair_all,
    soundness,
)
from hgmap.errors import PlanError
from hgmap.site.plan_findings import PlanFinding
from tests.editing.drawn_plans import (
    area,
    door,
    draft_of,
    feature,
    plan_of,
    plans,
    room,
)

PLANS = Path(__file__).parents[2] / "demo_site" / "plans"
A, B = room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5)
D = door("d1", 6, 2, 6, 3)


def only(draft: PlanDraft, severity: str) -> Finding:
    (found,) = [one for one in soundness(draft) if one.severity == severity]
    return found


def repaired(draft: PlanDraft, severity: str = "error") -> tuple[PlanDraft, Finding]:
    found = only(draft, severity)
    assert found.repair is not None
    return found.repair.apply(draft), found


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.geojson")), ids=lambda path: path.stem)
def test_the_demo_plans_have_no_error_and_no_warning(path: Path) -> None:
    found = soundness(read_plan_draft(path.read_bytes()))
    assert {one.severity for one in found} <= {"note"}
    shut = [one.message for one in found]
    assert ("ground" in path.name) == any("no door is drawn" in one for one in shut)


@given(plans())
def test_a_plan_drawn_well_has_no_error(draft: PlanDraft) -> None:
    assert "error" not in {one.severity for one in soundness(draft)}
    assert repair_all(draft)[0].to_bytes() == draft.to_bytes()


def test_a_crossing_outline_is_made_sound_and_its_largest_part_stays() -> None:
    bow = [[20, 0], [26, 0], [20, 9], [23, 9], [20, 0]]
    draft = draft_of(A, B, D, feature("room", "Polygon", [bow], id="C"))
    after, found = repaired(draft)
    assert "not sound" in found.message
    assert found.place is not None
    assert found.repair is not None
    largest = plan_of(after).rooms[2].area_m2
    assert f"{largest:.2f} m²" in found.repair.text
    # two triangles on one tip: 6 m wide and 6 m high, 3 m wide and 3 m high
    assert (largest, found.repair.changed_m2) == (pytest.approx(18), pytest.approx(4.5))


def test_flat_parts_and_holes_beside_a_sound_one_are_left_out() -> None:
    flat, sound = [[8, 9], [8, 9], [8, 9]], [[0, 9], [3, 9], [3, 12], [0, 9]]
    line = [[0.5, 9.1], [1, 9.1], [2, 9.1], [0.5, 9.1]]
    for shape, drawn in (("MultiPolygon", [[flat], [sound]]), ("Polygon", [sound, line])):
        after, _ = repaired(draft_of(A, B, D, feature("room", shape, drawn, id="C")))
        assert plan_of(after).rooms[2].area_m2 == pytest.approx(4.5)


def test_an_open_ring_is_closed() -> None:
    ring = [[20, 0], [26, 0], [26, 5], [20, 5]]
    after, found = repaired(draft_of(A, B, D, feature("room", "Polygon", [ring], id="C")))
    assert "not closed" in found.message
    assert found.repair is not None
    assert found.repair.text == "close the ring of room 'C' (30.00 m²)"
    assert plan_of(after).rooms[2].area_m2 == 30


def test_a_room_of_zero_area_is_set_aside_and_stays_in_the_file() -> None:
    flat = feature("room", "Polygon", [[[0, 9], [1, 9], [2, 9], [0, 9]]], id="C")
    after, _ = repaired(draft_of(A, B, D, flat))
    assert json.loads(after.to_bytes())["set_aside"] == [flat]
    assert len(plan_of(after).rooms) == 2


@pytest.mark.parametrize(
    ("west", "area_after", "text"),
    [
        (5.95, 60.0, "give each room half of the sliver (0.25 m²)"),
        (5.0, 60.0, "cut it from room 'Room B', the larger (5.00 m²)"),
    ],
)
def test_an_overlap_is_shared_where_it_is_a_sliver_and_else_left_to_the_smaller(
    west: float, area_after: float, text: str
) -> None:
    after, found = repaired(draft_of(A, room("B", west, 0, 12, 5), D))
    assert found.repair is not None
    assert found.repair.text == text
    assert found.message.startswith("rooms 'Room A' and 'Room B' overlap by")
    rooms = plan_of(after).rooms
    assert sum(one.area_m2 for one in rooms) == pytest.approx(area_after)
    assert rooms[0].area_m2 == pytest.approx(30 if west == 5 else 29.875)


def test_a_room_drawn_twice_is_set_aside() -> None:
    after, found = repaired(draft_of(A, B, D, room("C", 6.01, 0, 12, 5)))
    assert found.repair is not None
    assert "drawn twice" in found.repair.text
    assert [one.id for one in plan_of(after).rooms] == ["A", "B"]


def test_names_and_ids_that_stand_twice_are_numbered() -> None:
    other = room("C", 12, 0, 15, 5)
    other["properties"] |= {"id": "A", "name": "room b"}
    draft = draft_of(A, B, D, other, door("D1", 12, 2, 12, 3))
    after, done = repair_all(draft)
    assert [(one.id, one.name) for one in plan_of(after).rooms] == [
        ("R1", "Room A"), ("B", "Room B (1)"), ("R2", "room b (2)"),
    ]  # fmt: skip
    assert [one.id for one in plan_of(after).openings] == ["d1", "D1-2"]
    assert len(done) == 3


def test_an_opening_beside_the_wall_is_moved_onto_it() -> None:
    draft = draft_of(A, B, door("d1", 6, 5.9, 7, 5.9))
    after, found = repaired(draft, "warning")
    assert "touches no room" in found.message
    assert found.repair is not None
    assert "move opening 'd1' by 0.90 m" in found.repair.text
    assert plan_of(after).openings[0].rooms != ()
    assert only(draft_of(A, B, door("d1", 6, 9, 7, 9)), "warning").repair is None


def test_an_opening_inside_the_building_that_joins_one_room_is_told() -> None:
    draft = draft_of(A, room("B", 6.6, 0, 12, 5), door("d1", 6.1, 2, 6.1, 3))
    after, found = repaired(draft, "warning")
    assert "inside the building touches only room 'A'" in found.message
    assert set(plan_of(after).openings[0].rooms) == {"A", "B"}
    outside = draft_of(A, B, D, door("d2", 0, 2, 0, 3))
    assert soundness(outside) == ()


def test_notes_on_shut_rooms_gaps_and_what_is_ignored() -> None:
    shut = draft_of(A, B, room("C", 12, 0, 15, 5), D)
    assert only(shut, "note").message == ("room 'Room C': no door is drawn: air cannot reach it")
    assert only(shut, "note").repair is None
    assert "no door is drawn: on the map" in only(draft_of(A, B), "note").message
    gap = draft_of(A, room("B", 6.6, 0, 12, 5), door("d1", 6.3, 2, 6.3, 3))
    assert "3.00 m² between 'Room A', 'Room B' belong to no room" in only(gap, "note").message
    odd = draft_of(A, B, D, feature("rooom", "Polygon", [[[0, 6], [1, 6], [1, 7], [0, 6]]]))
    after, found = repaired(odd, "note")
    assert found.todo == "did you mean 'room'?"
    assert len(plan_of(after).rooms) == 3


def test_a_sliver_of_a_room_and_a_plan_in_another_unit_are_warned_of() -> None:
    sliver = draft_of(A, B, D, room("C", 12, 0, 12.02, 5), door("d2", 12, 2, 12, 3))
    assert "has 0.100 m² only" in only(sliver, "warning").message
    small = draft_of(room("A", 0, 0, 0.4, 0.6))
    assert "span 0.6 m: is it in metres?" in soundness(small)[0].message
    large = draft_of(room("A", 0, 0, 12000, 9000), room("B", 12000, 0, 15000, 9000))
    after, found = repaired(large)
    assert found.repair is not None
    assert "it spans 15.0 m then, and its rooms have 135.0 m²" in found.repair.text
    assert area(after) == pytest.approx(135)
    region = read_plan_draft(large.to_bytes(), region=True)
    assert "error" not in {one.severity for one in soundness(region)}
    assert only(PlanDraft(), "error").message == "no room is drawn"


def test_a_finding_kept_as_drawn_is_saved_with_the_plan_and_comes_back_when_it_changes() -> None:
    draft = draft_of(A, B, room("C", 12, 0, 15, 5), D)
    found = only(draft, "note")
    kept = read_plan_draft(keep_as_drawn(draft, found).to_bytes())
    assert json.loads(kept.to_bytes())["kept_as_drawn"] == [found.key]
    assert [one.kept for one in soundness(kept)] == [True]
    assert keep_as_drawn(kept, found) is kept
    moved = move_room(kept, "room C", 0, 1)
    assert [one.kept for one in soundness(moved)] == [False]
    assert [one.kept for one in soundness(ask_again(kept, found))] == [False]
    assert len(plan_of(kept).rooms) == 3


def test_an_error_cannot_be_kept_and_no_repair_is_made_of_what_is() -> None:
    draft = draft_of(A, room("B", 5, 0, 12, 5), D)
    with pytest.raises(PlanError, match="the plan is not read with it"):
        keep_as_drawn(draft, only(draft, "error"))
    sliver = draft_of(A, B, D, room("C", 12, 0, 12.02, 5), door("d2", 12, 2, 12, 3))
    kept = keep_as_drawn(sliver, only(sliver, "warning"))
    assert repair_all(kept) == (kept, ())
    assert len(repair_all(sliver)[0].rooms) == 2


def test_a_finding_does_not_know_where_the_plan_came_from() -> None:
    found: PlanFinding[str] = PlanFinding("k", "note", "m", "t", None, ())
    assert (found.repair, found.kept) == (None, False)


corner = st.tuples(st.integers(-20, 200), st.integers(-20, 150)).map(
    lambda at: [at[0] / 10, at[1] / 10]
)
rings = st.lists(corner, min_size=1, max_size=7).map(lambda ring: [*ring, ring[0]])
broken = st.one_of(
    rings.map(lambda ring: feature("room", "Polygon", [ring], name="Lab")),
    rings.map(lambda ring: feature("room", "Polygon", [ring[:-1]], id="A1")),
    st.lists(rings, min_size=1, max_size=3).map(
        lambda parts: feature("room", "MultiPolygon", [[one] for one in parts], name="Room A1")
    ),
    rings.map(lambda ring: feature("room", "LineString", ring)),
    rings.map(lambda ring: feature("wall", "Polygon", [ring])),
    rings.map(lambda ring: feature("rooom", "Polygon", [ring])),
    rings.map(lambda ring: feature("opening", "LineString", ring, state="Ajar", id="d00")),
    rings.map(lambda ring: feature("opening", "MultiLineString", [ring, ring[:2]])),
    corner.map(lambda at: feature("opening", "Point", at)),
    corner.map(lambda at: feature("wall", "Point", at)),
    st.sampled_from([None, 3, {}, {"type": "Feature", "properties": {"kind": "room"}}]),
    st.just(feature("wall", "LineString", [[0, 0], [1e12, 0]])),
)


@given(plans(), st.lists(broken, min_size=1, max_size=6), st.randoms(use_true_random=False))
def test_after_all_repairs_the_plan_is_read(draft: PlanDraft, bad: list[Any], mix: Any) -> None:
    features = [*(one.raw for one in draft.features), *bad]
    mix.shuffle(features)
    start = draft_of(*features)
    after, done = repair_all(start)
    plan = plan_of(after)
    assert "error" not in {one.severity for one in soundness(after)}
    assert len(plan.rooms) >= 1
    assert all("m²" in one for one in done)
    aside = after.members.get("set_aside") or []
    left = [one.raw for one in after.features]
    for one in bad:  # nothing that cannot be read is lost
        if not isinstance(one, dict) or "geometry" not in one:
            assert one in aside or one in left


@given(plans(least=2), st.data())
def test_every_repair_by_itself_leaves_no_more_errors(draft: PlanDraft, data: Any) -> None:
    start = draft_of(*(one.raw for one in draft.features), data.draw(broken))
    errors = [one for one in soundness(start) if one.severity == "error"]
    for one in errors:
        if one.repair is not None:
            after = one.repair.apply(start)
            assert one.key not in {other.key for other in soundness(after)}
