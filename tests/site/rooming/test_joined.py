"""Two rooms that are read as one without a repair are named: over a wide gap, and with a nook."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan, PlanDoubt
from hgmap.site.rooming import Rooming, rooms_from_walls
from tests.site.rooming.house import moved

HALL = box(0, 0, 12, 8)


def thin(*lines: shapely.Geometry) -> list[Part]:
    return [Part("wall", LineString(one.coords), f"line {n}") for n, one in enumerate(lines)]


def thick(shape: Polygon, *holes: Polygon) -> list[Part]:
    solid = shape.difference(shapely.union_all(list(holes)))
    return [Part("wall", one, f"wall {n}") for n, one in enumerate(shapely.get_parts(solid))]


def parted(gap_m: float, thickness_m: float = 0.0, aside_m: float = 0.0) -> list[Part]:
    """Draw a hall with a wall across it, and a gap in the middle of that."""
    low, high = 4 - gap_m / 2, 4 + gap_m / 2
    if not thickness_m:
        return thin(HALL.exterior, LineString([(7, 0), (7, low)]),
                    LineString([(7 + aside_m, high), (7 + aside_m, 8)]))  # fmt: skip
    outer = box(-0.3, -0.3, 12.3, 8.3)
    return thick(outer, box(0, 0, 7, 8), box(7 + thickness_m, 0, 12, 8), box(7, low, 9, high))


def told(plan: FoundPlan, rule: str = "wide gap") -> list[PlanDoubt]:
    return [one for one in plan.doubts if one.rule == rule]


@pytest.mark.parametrize("thickness", [0.0, 0.12, 0.4])
@pytest.mark.parametrize("gap", [2.51, 3.2, 5.9])
def test_a_gap_wider_than_a_door_that_keeps_two_rooms_one_is_named_once(
    gap: float, thickness: float
) -> None:
    plan = rooms_from_walls(parted(gap, thickness), Rooming())
    assert len(plan.rooms) == 1
    (doubt,) = told(plan)
    assert doubt.place is not None
    assert doubt.place.length == pytest.approx(gap, abs=1e-3)
    assert doubt.place.centroid.y == pytest.approx(4, abs=1e-3)
    assert 7 - 1e-3 <= doubt.place.centroid.x <= 7 + thickness + 1e-3
    assert f"over {gap:.2f} m" in doubt.text
    one, other = (float(two.split()[-1]) for two in doubt.text.split(" m²")[:2])
    assert one + other == pytest.approx(plan.rooms[0].polygon.area, abs=0.11)
    assert 35 < one < other
    assert ", y 4.00 m" in doubt.text
    as_said = rooms_from_walls(parted(gap, thickness), Rooming(widest_door_m=gap + 0.05))
    assert len(as_said.rooms) == 2, "a door so wide parts them, as the message says"
    assert told(as_said) == []


def test_a_gap_just_wider_than_a_door_is_told_with_the_digits_that_say_so() -> None:
    (doubt,) = told(rooms_from_walls(parted(2.501), Rooming()))
    assert "over 2.5010 m, wider than a door (2.5 m)" in doubt.text


@given(st.floats(0, 360), st.floats(-1e4, 1e4), st.booleans())
def test_it_is_named_however_the_drawing_is_turned_moved_and_mirrored(
    angle: float, shift: float, mirrored: bool
) -> None:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    m = -1.0 if mirrored else 1.0
    parts = moved(parted(3.2, 0.2), (c * m, -s, s * m, c, shift, -shift))
    (doubt,) = told(rooms_from_walls(parts, Rooming()))
    assert doubt.place is not None
    assert doubt.place.length == pytest.approx(3.2, abs=1e-3)


@pytest.mark.parametrize(
    "parts",
    [
        parted(2.4),
        parted(6.2),
        parted(3.2, aside_m=0.8),
        # a bay, open all along
        thin(Polygon([(0, 0), (9, 0), (9, 3), (10, 3), (10, 6), (9, 6), (9, 8), (0, 8)]).exterior),
        # a wall that can be walked round: closing it parts nothing
        thin(HALL.exterior, LineString([(7, 0), (7, 2)]), LineString([(7, 5), (7, 5.9)])),
        # piers along one wall leave nothing as wide as a corridor behind them
        thin(HALL.exterior, LineString([(0, 0.5), (3, 0.5)]), LineString([(6.5, 0.5), (12, 0.5)])),
    ],
)
def test_what_is_a_door_a_hall_a_bay_or_no_way_between_two_rooms_is_not_named(
    parts: Iterable[Part],
) -> None:
    assert told(rooms_from_walls(list(parts), Rooming())) == []


def test_wide_gaps_in_a_row_of_rooms_are_named_each() -> None:
    walls = [LineString([(x, a), (x, b)]) for x in (4, 8) for a, b in ((0, 2.5), (5.5, 8))]
    plan = rooms_from_walls(thin(HALL.exterior, *walls), Rooming())
    assert len(plan.rooms) == 1
    assert sorted(round(one.place.centroid.x) for one in told(plan) if one.place) == [4, 8]


def test_two_wide_gaps_in_one_wall_are_both_named_though_neither_alone_parts_the_room() -> None:
    walls = [LineString([(6, a), (6, b)]) for a, b in ((0, 0.5), (3.2, 4.8), (7.5, 8))]
    plan = rooms_from_walls(thin(HALL.exterior, *walls), Rooming())
    assert len(told(plan)) == 2


def test_a_wide_gap_beside_a_door_and_a_leak_in_the_same_wall_is_named() -> None:
    walls = [LineString([(7, a), (7, b)]) for a, b in ((0.02, 1), (1.9, 3), (6.2, 8))]
    plan = rooms_from_walls(thin(HALL.exterior, *walls), Rooming())
    assert len(plan.rooms) == 1
    (doubt,) = told(plan)
    assert "over 3.20 m" in doubt.text


def test_a_room_that_somebody_drew_as_one_is_not_asked_about() -> None:
    drawn = Part("room", HALL, "room 1", "Hall")
    plan = rooms_from_walls([*parted(3.2), drawn], Rooming())
    assert [one.name for one in plan.rooms] == ["Hall"]
    assert told(plan) == []


CUPBOARD = LineString([(3, 7.5), (3, 8)]), LineString([(5, 7.5), (5, 8)])


def test_a_cupboard_no_deeper_than_a_wall_that_a_gap_joins_to_its_room_is_named() -> None:
    front = LineString([(3, 7.5), (3.6, 7.5)]), LineString([(4.4, 7.5), (5, 7.5)])
    plan = rooms_from_walls(thin(HALL.exterior, *CUPBOARD, *front), Rooming())
    assert len(plan.rooms) == 1
    (doubt,) = told(plan, "nook")
    assert doubt.text.startswith("1.00 m² behind a gap of 0.80 m, no deeper than a wall")
    assert doubt.place is not None
    assert doubt.place.area == pytest.approx(1.0, abs=1e-3)


def test_a_passage_as_narrow_as_a_wall_that_ends_in_a_room_is_named() -> None:
    left, right = LineString([(4, 8), (4, 3), (4.55, 3)]), LineString([(4.55, 8), (4.55, 3.7)])
    plan = rooms_from_walls(thin(HALL.exterior, left, right), Rooming())
    assert [one.rule for one in plan.doubts] == ["nook"]


def test_a_niche_that_is_open_all_along_is_part_of_its_room_without_a_word() -> None:
    niche = Polygon([(0, 0), (12, 0), (12, 8), (5, 8), (5, 8.5), (3, 8.5), (3, 8), (0, 8)])
    plan = rooms_from_walls(thin(niche.exterior), Rooming())
    assert len(plan.rooms) == 1
    assert plan.doubts == ()


def test_the_reveals_of_doors_in_thick_walls_are_no_nooks() -> None:
    plan = rooms_from_walls(parted(0.9, 0.5), Rooming())
    assert len(plan.rooms) == 2
    assert plan.doubts == ()
