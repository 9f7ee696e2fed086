"""Parts of a room that a crew can tape off: laws over random ground, and cases worked by hand."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from hgmap.decide.contours import polygonal
from hgmap.decide.model import ZoneName
from hgmap.decide.straight_edges import STRAIGHT_M, straightened
from hgmap.decide.taped import (
    TapeRules,
    _filled,
    errs_to_the_careful_side,
    taped_parts,
    worst,
)

ROOM = box(0, 0, 10, 8)
ROOMS = (
    ROOM,
    Polygon([(0, 0), (10, 0), (10, 4), (5, 4), (5, 8), (0, 8)]),
    Polygon([(0, 0), (9, 1), (7, 7.5), (1.5, 6)]),
    ROOM.difference(box(4, 3, 6, 5)),
    box(0, 0, 10, 0.9),  # hardly wider than a tape
    Polygon([(0, 0), (10, 0), (10, 8), (6, 8), (6, 0.4), (5.9, 0.4), (5.9, 8), (0, 8)]),
)
Parts = dict[ZoneName, BaseGeometry]

blots = st.lists(
    st.tuples(st.floats(0, 10), st.floats(0, 8), st.floats(0.03, 2.5), st.booleans()),
    max_size=5,
)


def ground(room: Polygon, found: list[tuple[float, float, float, bool]]) -> BaseGeometry:
    shapes = [
        Point(x, y).buffer(r) if is_round else box(x - r, y - 0.3 * r, x + r, y + 0.3 * r)
        for x, y, r, is_round in ((*(round(v, 6) for v in one[:3]), one[3]) for one in found)
    ]
    return polygonal(shapely.union_all(shapes).intersection(room))


def parts_of(room: Polygon, remediate: BaseGeometry, doubtful: BaseGeometry) -> Parts:
    kept = polygonal(shapely.union(remediate, doubtful))
    return {
        "remediate": remediate,
        "resample": polygonal(shapely.difference(kept, remediate)),
        "clear": polygonal(shapely.difference(room, kept)),
    }


@st.composite
def rooms_with_parts(draw: st.DrawFn) -> tuple[Polygon, Parts]:
    room = draw(st.sampled_from(ROOMS))
    remediate = ground(room, draw(blots))
    return room, parts_of(room, remediate, ground(room, draw(blots)))


rules_of_any_width = st.builds(
    TapeRules, width_m=st.floats(0.05, 2.0), area_m2=st.sampled_from([0.0, 1.0, 4.0])
)


@given(rooms_with_parts(), rules_of_any_width)
def test_taped_parts_tile_the_room_and_err_to_the_careful_side_only(
    case: tuple[Polygon, Parts], rules: TapeRules
) -> None:
    room, parts = case
    cut = taped_parts(room, parts, rules)
    assert sum(one.area for one in cut.values()) == pytest.approx(room.area, rel=1e-9)
    assert shapely.union_all(list(cut.values())).area == pytest.approx(room.area, rel=1e-9)
    least = 1e-9 * room.area
    assert parts["remediate"].difference(cut.get("remediate", Polygon())).area <= least
    assert cut.get("clear", Polygon()).difference(parts["clear"]).area <= least
    assert all(one.is_valid for one in cut.values())


@given(rooms_with_parts(), rules_of_any_width)
def test_no_clear_piece_is_smaller_than_the_least_area(
    case: tuple[Polygon, Parts], rules: TapeRules
) -> None:
    room, parts = case
    cut = taped_parts(room, parts, rules)
    pieces = shapely.get_parts(cut.get("clear", Polygon()))
    whole = parts["clear"].area > (1 - 1e-9) * room.area
    assert whole or all(one.area >= rules.area_m2 for one in pieces if one.area > 1e-6)


@given(rooms_with_parts(), st.floats(0.05, 2.0))
def test_ground_to_remediate_grows_by_a_bounded_width_only(
    case: tuple[Polygon, Parts], width_m: float
) -> None:
    room, parts = case
    cut = taped_parts(room, parts, TapeRules(width_m, 0.0))
    # thin ground by one width, a strip along a wall by another, the mitres of straight edges
    reach = parts["remediate"].buffer(3.0 * width_m + 3.0 * STRAIGHT_M + 0.01)
    assert cut.get("remediate", Polygon()).difference(reach).area <= 1e-9 * room.area


@given(rooms_with_parts(), st.floats(0.05, 2.0))
def test_between_ground_to_remediate_and_clear_ground_lies_the_least_width(
    case: tuple[Polygon, Parts], width_m: float
) -> None:
    room, parts = case
    cut = taped_parts(room, parts, TapeRules(width_m, 1.0))
    # a spike of rounding along a wall is no ground
    clear, remediate = (cut.get(name, Polygon()).buffer(-1e-5) for name in ("clear", "remediate"))
    for piece in shapely.get_parts(clear):
        for source in shapely.get_parts(remediate):
            apart = shapely.shortest_line(piece, source)
            # what lies behind a wall of the same room is not beside it
            if not piece.is_empty and not source.is_empty and room.covers(apart):
                assert apart.length >= 0.98 * width_m - 1e-6


@given(st.sampled_from(ROOMS), blots, blots, st.floats(0.05, 2.0))
def test_to_fill_strips_keeps_the_order_of_sets(
    room: Polygon, some: Any, more: Any, width_m: float
) -> None:
    small = ground(room, some)
    large = polygonal(shapely.union(small, ground(room, more)))
    first, second = (_filled(one, room, width_m) for one in (small, large))
    # arcs are chords: they lie within 1 % of the width
    assert first.buffer(-0.012 * width_m).difference(second).area <= 1e-6
    assert small.difference(first).area <= 1e-6


@given(rooms_with_parts())
def test_a_whole_room_takes_its_worst_part(case: tuple[Polygon, Parts]) -> None:
    room, parts = case
    cut = taped_parts(room, parts, TapeRules(whole_rooms=True))
    assert cut == {worst(room, parts): room}
    least = 1e-9 * room.area
    if parts["remediate"].area > least:
        assert list(cut) == ["remediate"]
    elif parts["resample"].area > least:
        assert list(cut) == ["resample"]
    else:
        assert list(cut) == ["clear"]


def test_a_whole_room_is_clear_only_where_all_of_it_is() -> None:
    assert worst(ROOM, {"no data": ROOM}) == "no data"
    half, other = box(0, 0, 5, 8), box(5, 0, 10, 8)
    assert worst(ROOM, {"no data": half, "clear": other}) == "no data"
    assert worst(ROOM, {"no data": half, "resample": other}) == "resample"
    assert worst(ROOM, {"clear": ROOM}) == "clear"
    assert worst(ROOM, {}) == "no data"


# --- by hand, in the room 10 x 8 with a width of 0.6 m


def cut(
    remediate: tuple[float, float] | None, kept: tuple[float, float], **rules: Any
) -> dict[str, float]:
    """Cut strips of the room between two x; return areas (m²)."""
    first = Polygon() if remediate is None else box(remediate[0], 0, remediate[1], 8)
    found = taped_parts(
        ROOM, parts_of(ROOM, first, box(kept[0], 0, kept[1], 8)), TapeRules(**rules)
    )
    return {name: float(one.area) for name, one in found.items()}


def areas(remediate: float, resample: float, clear: float) -> dict[str, Any]:
    return {
        "remediate": pytest.approx(remediate, abs=1e-4),
        "resample": pytest.approx(resample, abs=1e-4),
        "clear": pytest.approx(clear, abs=1e-4),
        "no data": 0.0,
    }


def test_wide_straight_parts_stay_as_they_are() -> None:
    assert cut((6, 10), (4, 10)) == areas(32, 16, 32)


def test_a_strip_at_the_wall_narrower_than_the_width_goes_to_the_worse_zone() -> None:
    assert cut((5, 9.6), (3, 10)) == areas(40, 16, 24)  # 0.4 m of resample to remediate
    assert cut((5, 9.3), (3, 10)) == areas(34.4, 21.6, 24)  # 0.7 m stay
    assert cut(None, (3, 9.6)) == areas(0, 56, 24)  # 0.4 m of clear to resample
    assert cut(None, (3, 9.3)) == areas(0, 50.4, 29.6)


def test_a_thin_strip_to_remediate_is_grown_by_the_width() -> None:
    assert cut((9.5, 10), (3, 10)) == areas(8 * 1.1, 8 * 5.9, 24)


def test_ground_to_remediate_keeps_its_distance_from_clear_ground() -> None:
    assert cut((6, 10), (5.9, 10)) == areas(32, 8 * 0.6, 8 * 5.4)


def test_the_width_and_the_area_are_settings() -> None:
    assert cut(None, (3, 9.3), width_m=0.8) == areas(0, 56, 24)
    assert cut(None, (3, 9.3), area_m2=6.0) == areas(0, 56, 24)
    assert cut(None, (3, 9.3), area_m2=5.0) == areas(0, 50.4, 29.6)


def test_an_island_to_remediate_is_grown_and_never_dropped() -> None:
    spot = Point(5, 4).buffer(0.1)
    found = taped_parts(ROOM, parts_of(ROOM, spot, Point(5, 4).buffer(2)), TapeRules())
    grown = found["remediate"]
    # a disc of 0.7 m, and no more than what straight edges add to it
    assert math.pi * 0.7**2 * 0.98 <= grown.area <= math.pi * (0.7 + STRAIGHT_M) ** 2
    assert grown.covers(spot)


def test_a_circle_is_taped_in_few_straight_runs() -> None:
    circle = Point(5, 4).buffer(2, quad_segs=32)
    straight = straightened(circle, ROOM, STRAIGHT_M)
    assert straight.covers(circle)
    assert shapely.get_num_coordinates(straight) - 1 <= 16
    assert straight.area <= math.pi * (2 + STRAIGHT_M) ** 2
    assert float(shapely.hausdorff_distance(straight, circle)) <= 3 * STRAIGHT_M


def test_an_edge_that_wavers_along_a_line_becomes_that_line() -> None:
    y = np.linspace(0, 8, 81)
    x = 5 + 0.03 * np.sin(7 * y)
    wavy = Polygon([(10, 0), (10, 8), *zip(x[::-1], y[::-1], strict=True)])
    straight = straightened(wavy, ROOM, STRAIGHT_M)
    assert straight.covers(wavy)
    assert shapely.get_num_coordinates(straight) - 1 <= 5
    assert straight.area - wavy.area <= 8 * 0.08


@given(st.sampled_from(ROOMS), blots, st.floats(0.01, 0.5))
def test_straight_edges_never_go_inside_nor_far(room: Polygon, found: Any, most: float) -> None:
    one = ground(room, found)
    straight = straightened(one, room, most)
    assert one.difference(straight).area <= 1e-9
    assert straight.difference(room).area <= 1e-9
    assert straight.difference(one.buffer(3.0 * most + 1e-6)).area <= 1e-6


@pytest.mark.parametrize("angle", range(3, 90, 12))
@pytest.mark.parametrize("pillar", [Point(5, 4).buffer(1), box(4, 3, 6, 5)])
def test_a_pillar_is_never_filled(angle: float, pillar: Polygon) -> None:
    turned = affinity.rotate(ROOM.difference(pillar), angle, origin=(0, 0))
    for x in (1.0, 3.0):
        spot = affinity.rotate(Point(x, 4).buffer(1.5), angle, origin=(0, 0))
        parts = parts_of(turned, polygonal(spot.intersection(turned)), Polygon())
        cut = taped_parts(turned, parts, TapeRules(5.0, 4.0))
        assert sum(one.area for one in cut.values()) == pytest.approx(turned.area, rel=1e-7)
        assert all(one.difference(turned).area <= 1e-7 for one in cut.values())


def test_a_cut_that_takes_a_piece_for_the_other_side_is_found() -> None:
    first, rest, west = box(0, 0, 2, 8), box(2, 0, 10, 8), box(0, 0, 5, 8)
    parts: Parts = {"remediate": first, "clear": rest}
    assert errs_to_the_careful_side(ROOM, parts, {"remediate": west, "clear": box(5, 0, 10, 8)})
    assert not errs_to_the_careful_side(ROOM, parts, {"remediate": rest, "clear": first})
    assert not errs_to_the_careful_side(ROOM, parts, {"resample": ROOM})
    assert not errs_to_the_careful_side(ROOM, parts, {"remediate": first, "clear": west})
