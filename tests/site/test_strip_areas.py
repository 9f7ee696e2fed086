"""How much of a polygon lies in a strip: the same as the area of what both share."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from hgmap.site import strip_areas as strip_areas_module
from hgmap.site.strip_areas import strip_areas, strips_beside

COORDINATE = st.integers(-40, 40).map(lambda tenth: tenth / 10)
PLACE = st.tuples(COORDINATE, COORDINATE)


@st.composite
def rooms(draw: st.DrawFn) -> Polygon:
    """Draw a sound polygon, often not convex, sometimes with a hole."""
    corners = draw(st.lists(PLACE, min_size=3, max_size=9, unique=True))
    drawn = shapely.make_valid(Polygon(corners))
    parts = [one for one in shapely.get_parts(drawn) if isinstance(one, Polygon)]
    room = max(parts, key=lambda one: float(one.area), default=shapely.box(0, 0, 1, 1))
    hole = room.representative_point().buffer(0.05, quad_segs=1)
    if draw(st.booleans()) and room.contains_properly(hole):
        return Polygon(room.exterior, [hole.exterior])
    return room


@given(st.lists(st.tuples(rooms(), PLACE, PLACE, st.booleans()), max_size=8), st.floats(0.05, 2))
def test_it_is_the_area_of_what_strip_and_room_share(
    cases: list[tuple[Polygon, tuple[float, float], tuple[float, float], bool]], reach: float
) -> None:
    cases = [one for one in cases if one[1] != one[2]]
    lines = np.array([LineString(one[1:3]) for one in cases], dtype=object)
    strips = strips_beside(lines, reach)
    turned = [one[3] for one in cases]
    strips[turned] = strips[turned, ::-1]
    polygons = np.array([one[0] for one in cases], dtype=object)
    shared = shapely.area(shapely.intersection(shapely.polygons(strips), polygons))
    assert strip_areas(strips, polygons) == pytest.approx(shared, abs=1e-9)


def test_a_strip_is_what_a_flat_buffer_is() -> None:
    line = LineString([(1, 2), (4, 6)])
    (strip,) = strips_beside(np.array([line]), 0.4)
    flat = line.buffer(0.4, cap_style="flat")
    assert Polygon(strip).symmetric_difference(flat).area < 1e-12
    assert Polygon(strip).area == pytest.approx(4.0)


def test_a_line_of_no_length_has_a_strip_of_no_area() -> None:
    strips = strips_beside(np.array([LineString([(1, 1), (1, 1)])]), 0.4)
    assert strip_areas(strips, np.array([shapely.box(0, 0, 2, 2)])).tolist() == [0.0]


def test_a_room_of_many_corners_gives_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    rooms = np.array([shapely.Point(0, 0).buffer(2), shapely.box(0, 0, 2, 2)], dtype=object)
    strips = strips_beside(np.array([LineString([(1, -3), (1, 3)])] * 2), 0.5)
    found = strip_areas(strips, rooms)
    monkeypatch.setattr(strip_areas_module, "MOST_CORNERS", 1000)
    assert strip_areas(strips, rooms) == pytest.approx(found, abs=1e-12)
    assert found[1] == pytest.approx(2.0)


def test_far_from_zero_the_area_keeps_its_digits() -> None:
    far = shapely.transform(shapely.box(0, 0, 4, 3), lambda xy: xy + np.array([5e5, 5.5e6]))
    strips = strips_beside(np.array([LineString([(5e5 + 1, 5.5e6), (5e5 + 2, 5.5e6)])]), 0.4)
    assert strip_areas(strips, np.array([far])) == pytest.approx([0.4], abs=1e-8)
