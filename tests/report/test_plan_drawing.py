from __future__ import annotations

import pytest
import shapely

from hgmap.report.drawing import Area, Path
from hgmap.report.plan_drawing import building, openings
from hgmap.site.building import Floor, Opening, Room

ROOMS = (
    Room("a", "A", shapely.box(0, 0, 4, 3)),
    Room("b", "B", shapely.box(4.2, 0, 8, 3)),
)


def body(floor):
    areas = [item.shape for item in building(floor) if isinstance(item, Area)]
    return shapely.union_all(areas)


def test_the_gap_between_rooms_is_wall_body_where_walls_are_listed():
    floor = Floor("f", "F", ROOMS, walls=(shapely.LineString([(4.1, 0), (4.1, 3)]),))
    assert body(floor).area == pytest.approx(0.2 * 3.0, rel=0.01)


def test_without_walls_only_outlines_are_drawn():
    drawn = building(Floor("f", "F", ROOMS))
    assert all(isinstance(item, Path) for item in drawn)
    assert len(drawn) == 1


def test_a_wall_line_outside_the_rooms_gives_an_outer_wall_its_body():
    outer = shapely.LineString([(-0.3, -0.3), (8.3, -0.3)])
    with_outer = body(Floor("f", "F", ROOMS, walls=(outer,)))
    assert with_outer.contains(shapely.Point(2.0, -0.15))
    assert not with_outer.contains(shapely.Point(2.0, 3.15))


def test_a_wall_body_never_covers_a_room():
    inside = shapely.LineString([(1, 1), (1, 2)])
    rooms = shapely.union_all([room.polygon for room in ROOMS])
    assert body(Floor("f", "F", ROOMS, walls=(inside,))).intersection(rooms).area < 1e-9


def test_the_states_of_an_opening_are_drawn_apart():
    line = shapely.LineString([(4.1, 1), (4.1, 2)])
    drawn = {
        state: openings(Floor("f", "F", ROOMS, (), (Opening("o", line, state),)), 10.0)
        for state in ("open", "closed", "sealed")
    }
    assert len(drawn["open"]) < len(drawn["closed"]) < len(drawn["sealed"])
