"""Insets of crowded rooms: they say everything of their room, and cover nothing."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.report import drawing as d
from hgmap.report.insets import LARGER, marks_and_insets
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.room_sheet import crowded_rooms
from hgmap.report.sheet import marked_zone_sheet
from hgmap.report.words import reading_value
from hgmap.site.building import Floor, Opening, Room
from tests.report.sheet_cases import boxes_of, outside, overlaps
from tests.report.test_sheet import evidence_for, places_for, reading, site_for, zones_for


def yard():
    """A long low floor, so that its sheet has free paper: a hall and a few small rooms."""
    rooms = [Room("hall", "Hall", shapely.box(0.0, 0.0, 60.0, 6.0))]
    rooms += [
        Room(f"s{n}", f"Store {n}", shapely.box(5.0 * n, 6.2, 5.0 * n + 4.8, 9.0))
        for n in range(12)
    ]
    doors = (Opening("a", shapely.LineString([(1.0, 6.1), (2.0, 6.1)]), "closed"),)
    return Floor("ground", "Yard", tuple(rooms), (), doors, north_deg=0.0)


def crowded(seed=1, per_room=14, rooms=2):
    """The yard with so many readings in each of its first small rooms, and a few in the hall."""
    floor, random = yard(), np.random.default_rng(seed)
    readings = [reading(f"h{n}", 3.0 + 9.0 * n, 3.0, 0.4)._replace(room="hall") for n in range(6)]
    for room in floor.rooms[1 : 1 + rooms]:
        west, south, east, north = room.polygon.bounds
        for n in range(per_room):
            x = west + 0.3 + random.random() * (east - west - 0.6)
            y = south + 0.3 + random.random() * (north - south - 0.6)
            value = round(float(np.exp(random.normal(0.0, 1.0))), 2) + 0.001 * n
            readings.append(reading(f"{room.id}-{n}", x, y, value)._replace(room=room.id))
    evidence = evidence_for(floor, readings)
    site = site_for(floor)
    return site, site.rounds[0], evidence, None, zones_for(evidence, None), places_for(floor, 3)


@pytest.fixture(scope="module")
def shown():
    case = crowded()
    return case, *marked_zone_sheet(*case)


def test_a_crowded_room_is_drawn_larger_with_every_value_its_name_and_its_scale(shown):
    case, sheet, marks = shown
    evidence = case[2]
    plan, *insets = sheet.frames
    assert len(insets) == 2
    assert crowded_rooms(marks) == ()
    values = sorted(
        one.text for frame in insets for one in frame.drawing if isinstance(one, d.Label)
        and one.text[0].isdigit() and len(one.text) > 2
    )  # fmt: skip
    own = [one.reading for one in evidence.items if one.reading.room in ("s0", "s1")]
    assert values == sorted(reading_value(one, evidence.level) for one in own)
    on_plan = {one.text for one in plan.drawing if isinstance(one, d.Label)}
    assert {"A", "B"} <= on_plan
    assert not on_plan & set(values)
    said = d.texts(sheet)
    for frame in insets:
        assert frame.mm_per_m >= LARGER * plan.mm_per_m
        assert f"1 : {1000.0 / frame.mm_per_m:g}" in said
    assert {"Store 0", "Store 1", "drawn larger in an inset, values and all"} <= set(said)
    assert marks.labelled == marks.drawn


def test_the_letter_of_an_inset_stands_for_the_room_that_it_shows(shown):
    _, sheet, _ = shown
    rooms = {one.id: one.polygon for one in yard().rooms}
    plan, *insets = sheet.frames
    for letter, frame in zip(("A", "B"), insets, strict=True):
        mark = next(one for one in plan.drawing
                    if isinstance(one, d.Label) and one.text == letter)  # fmt: skip
        (home,) = (one for one in rooms.values() if one.contains(shapely.Point(mark.x, mark.y)))
        assert shapely.box(*frame.seen_m).contains(home)


def inset_boxes(sheet):
    """The boxes (mm) of the insets with their heads."""
    return [
        shapely.box(one.left_mm, one.bottom_mm, one.left_mm + one.width_mm,
                    one.bottom_mm + one.height_mm + 4.4)
        for one in sheet.frames[1:]
    ]  # fmt: skip


@settings(max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), per_room=st.integers(5, 16), rooms=st.integers(1, 4))
def test_no_inset_covers_a_reading_a_label_a_leader_the_building_or_another_inset(
    seed, per_room, rooms
):
    sheet, marks = marked_zone_sheet(*crowded(seed, per_room, rooms))
    plan = sheet.frames[0]
    boxes = inset_boxes(sheet)
    for item in plan.drawing:
        if isinstance(item, d.Dot):
            x, y = plan.to_page(item.x, item.y)
            at = shapely.Point(x + item.offset_pt[0] / d.PT_PER_MM,
                               y + item.offset_pt[1] / d.PT_PER_MM)  # fmt: skip
            assert not any(box.intersects(at) for box in boxes)
        if isinstance(item, d.Stroke):
            x, y = plan.to_page(item.x, item.y)
            ends = np.array([item.start_pt, item.end_pt]) / d.PT_PER_MM + (x, y)
            assert not any(box.intersects(shapely.LineString(ends)) for box in boxes)
    building = shapely.union_all([one.polygon for one in yard().rooms])
    corners = shapely.transform(
        building, lambda at: np.array([plan.to_page(*one) for one in at.tolist()])
    )
    edge = shapely.box(plan.left_mm, plan.bottom_mm, plan.left_mm + plan.width_mm,
                       plan.bottom_mm + plan.height_mm)  # fmt: skip
    for n, box in enumerate(boxes):
        assert edge.buffer(1e-6).contains(box)
        assert not box.intersects(corners)
        assert not any(box.intersects(other) for other in boxes[:n])
    assert overlaps(sheet) == []
    assert outside(sheet) == []
    assert marks.labelled <= marks.drawn
    assert list(boxes_of(sheet))


def test_where_no_paper_is_free_the_map_says_on_which_sheet_the_values_are():
    case = crowded(per_room=70, rooms=1)
    sheet, marks = marked_zone_sheet(*case, details=lambda marks, scale: {"s0": 7})
    assert len(sheet.frames) == 1
    assert crowded_rooms(marks) == ("s0",)
    assert "all values of Store 0: see sheet 7" in d.texts(sheet)


def test_a_plan_that_is_not_crowded_is_as_it_was():
    site, round_, evidence, _, zones, places = crowded(per_room=1)
    sheet, _ = marked_zone_sheet(site, round_, evidence, None, zones, places)
    frame = sheet.frames[0]
    marks, insets = marks_and_insets(evidence, places, frame, zones)
    assert insets == ()
    assert marks.labelled == marks.drawn


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_far_values_of_a_room_with_a_sheet_of_its_own_are_left_to_it_but_for_its_highest(seed):
    site, round_, evidence, _, zones, places = crowded(seed, per_room=70, rooms=1)
    frame = marked_zone_sheet(site, round_, evidence, None, zones, places)[0].frames[0]
    plain = marks_on_plan(evidence, places, frame, zones)
    left = marks_on_plan(evidence, places, frame, zones, detailed=("s0",))

    def far(marks):
        reach = [np.hypot(*one.end_pt) for one in marks.drawing
                 if isinstance(one, d.Stroke) and one.x < 5.0 and one.y > 6.1]  # fmt: skip
        return sum(one > 60.0 for one in reach) // 2  # each with its rim

    assert far(plain) > 1
    assert far(left) <= 1
    assert plain.labelled > left.labelled
    highest = max(
        (one for one in evidence.items if one.reading.room == "s0"),
        key=lambda one: one.reading.concentration,
    )
    value = reading_value(highest.reading, evidence.level)
    assert value in [one.text for one in left.drawing if isinstance(one, d.Label)]
    assert set(crowded_rooms(left)) >= {"s0"}
