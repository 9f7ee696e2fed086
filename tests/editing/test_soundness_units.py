"""A plan in another unit is known by its doors and its span, and mended only where both agree."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import scaled
from hgmap.editing.soundness import Finding, repair_all, soundness
from tests.editing.drawn_plans import area, door, draft_of, plan_of, plans, room

HOUSE = draft_of(
    room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 2.91),
    door("d2", 0, 2, 0, 2.91), door("d3", 3, 0, 5.4, 0),
)  # fmt: skip
"""Two rooms over 12 m; doors of 0.91 m (36 inches), one of them 2.4 m wide."""

# an inch is 25.4 mm and a foot 304.8 mm by definition (1959), from memory
INTO = {"millimetres": 1000.0, "centimetres": 100.0, "inches": 1 / 0.0254}


def of_scale(draft: PlanDraft) -> list[Finding]:
    return [one for one in soundness(draft) if one.rule == "scale"]


@pytest.mark.parametrize(("unit", "times"), INTO.items())
def test_a_house_in_another_unit_is_told_by_doors_and_span_and_comes_back_whole(
    unit: str, times: float
) -> None:
    (found,) = of_scale(scaled(HOUSE, times))
    assert found.severity == ("error" if unit == "millimetres" else "warning")
    assert unit in found.todo
    assert found.repair is not None
    assert found.repair.factor == pytest.approx(1 / times)
    after = found.repair.apply(scaled(HOUSE, times))
    assert area(after) == pytest.approx(60.0, rel=1e-9)
    assert found.repair.changed_m2 == pytest.approx(area(scaled(HOUSE, times)) - 60.0)
    assert of_scale(after) == []


def test_a_door_36_wide_in_a_span_of_472_is_a_door_of_36_inches() -> None:
    draft = scaled(HOUSE, 1 / 0.0254)
    (found,) = of_scale(draft)
    assert "span 472 m and its openings are 35.8 m wide (the middle one of 3)" in found.message
    assert "inches (openings of 0.91 m, rooms over 12.0 m)" in found.todo
    assert not [one for one in soundness(draft) if one.rule == "width"]


def test_feet_are_named_and_not_taken_for_sure_for_a_hall_has_gates_as_wide() -> None:
    (found,) = of_scale(scaled(HOUSE, 1 / 0.3048))
    assert "may be feet (openings of 0.91 m" in found.todo
    assert found.repair is None


def test_gates_of_a_hall_raise_no_question_of_units_where_no_unit_makes_doors_of_them() -> None:
    hall = [room("A", 0, 0, 180, 60), room("B", 180, 0, 200, 60)]
    gates = [door("g1", 0, 20, 0, 26), door("g2", 180, 20, 180, 26)]
    assert [one.rule for one in soundness(draft_of(*hall, *gates)) if one.severity != "note"] == []
    # of feet they would be doors of 1.52 m in a building of 61 m
    gates = [door("g1", 0, 20, 0, 25), door("g2", 180, 20, 180, 25)]
    (found,) = of_scale(draft_of(*hall, *gates))
    assert "may be feet" in found.todo


def test_openings_that_no_unit_makes_doors_of_are_told_one_by_one() -> None:
    wide = [door("d1", 0, 20, 0, 34), door("d2", 180, 20, 180, 34)]
    draft = draft_of(room("A", 0, 0, 180, 60), *wide)
    assert of_scale(draft) == []
    assert [one.rule for one in soundness(draft)].count("width") == 2


def test_where_two_units_would_do_none_is_chosen() -> None:
    (found,) = of_scale(scaled(HOUSE, 0.033))
    assert found.todo.count(" or ") >= 1
    assert found.repair is None


def test_doors_that_contradict_the_span_leave_it_to_a_person() -> None:
    wide = draft_of(room("A", 0, 0, 8000, 6000), door("d", 0, 100, 0, 120))
    (found,) = of_scale(wide)
    assert found.severity == "error"
    assert found.repair is None


def test_one_door_of_another_width_is_told_by_itself() -> None:
    odd = draft_of(*(one.raw for one in HOUSE.features), door("d4", 12, 2, 12, 2.03),
                   door("d5", 9, 0, 9, 36))  # fmt: skip
    said = {one.message for one in soundness(odd) if one.rule == "width"}
    assert said == {"opening 'd4' is 0.03 m wide", "opening 'd5' is 36 m wide"}
    assert of_scale(odd) == []


def test_repair_all_leaves_the_scale_alone_for_readings_would_not_go_along() -> None:
    small = scaled(HOUSE, 1000.0)
    assert repair_all(small) == (small, ())


@given(plans(least=2), st.sampled_from(["millimetres", "centimetres"]))
def test_what_is_offered_is_what_was_done_to_the_plan(draft: PlanDraft, unit: str) -> None:
    for one in of_scale(scaled(draft, INTO[unit])):
        if one.repair is not None:
            assert one.repair.factor == pytest.approx(1 / INTO[unit])
            back = one.repair.apply(scaled(draft, INTO[unit]))
            assert area(back) == pytest.approx(area(draft), rel=1e-6)


def test_openings_at_one_place_are_told_and_one_set_aside_where_they_agree() -> None:
    both = [room("A", 0, 0, 6, 5), room("B", 6, 0, 12, 5), door("d1", 6, 2, 6, 3)]
    draft = draft_of(*both, door("d2", 6, 2.05, 6, 3))
    (found,) = [one for one in soundness(draft) if one.rule == "twice"]
    assert found.message == "openings 'd1' and 'd2' lie at one place"
    after, done = repair_all(draft)
    assert [one.id for one in plan_of(after).openings] == ["d1"]
    assert done == ("set opening 'd2' aside, for it is drawn twice (0 m²); it stays in the file",)
    other: Any = door("d2", 6, 2.05, 6, 3, "sealed")
    (found,) = [one for one in soundness(draft_of(*both, other)) if one.rule == "twice"]
    assert "one open and one sealed" in found.message
    assert found.repair is None
    beside = draft_of(*both, door("d2", 6, 3.1, 6, 4))
    assert not [one for one in soundness(beside) if one.rule == "twice"]


def test_rooms_without_a_name_are_one_note() -> None:
    bare = [room("x", 0, 0, 6, 5), room("R7", 6, 0, 12, 5), room("101", 12, 0, 15, 5)]
    bare[0]["properties"] = {"kind": "room"}
    for one in bare[1:]:
        del one["properties"]["name"]
    (found,) = [one for one in soundness(draft_of(*bare)) if one.rule == "unnamed"]
    assert found.message == "'room-1', 'R7': no name but a number that was made up"
    assert (found.severity, found.repair) == ("note", None)
