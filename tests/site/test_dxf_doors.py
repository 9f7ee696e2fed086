"""Doors of a DXF: which line a leaf closes, however it is drawn."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.document import Drawing as Document
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.site.importers.drawing import Part
from tests.site.dxf_cases import all_ends, box, drawn, empty, ends, house, noted, of_role

Corner = tuple[float, float]


def wall(space: Any, *corners: Corner, layer: str = "WALL") -> None:
    space.add_lwpolyline(corners, dxfattribs={"layer": layer})


def with_gap(thickness: float = 0.0) -> Document:
    """Make a wall along y = 0 with a gap from x = 0 to 0.9, and a room round it."""
    document = empty()
    space = document.modelspace()
    if thickness:
        box(space, -3, 0, 0, thickness, "WALL")
        box(space, 0.9, 0, 4, thickness, "WALL")
    else:
        wall(space, (-3, 0), (0, 0))
        wall(space, (0.9, 0), (4, 0))
    wall(space, (-3, 0), (-3, 5), (4, 5), (4, 0))
    return document


def swing(
    document: Document, hinge: Corner, radius: float, start: float, end: float,
    leaf: float | None = None,
) -> None:  # fmt: skip
    """Draw an arc, and a leaf in the direction of one end (degrees)."""
    space, on = document.modelspace(), {"layer": "DOOR"}
    space.add_arc(hinge, radius, start, end, dxfattribs=on)
    if leaf is not None:
        along = math.radians(leaf)
        tip = (hinge[0] + radius * math.cos(along), hinge[1] + radius * math.sin(along))
        space.add_line(hinge, tip, dxfattribs=on)


def the_door(document: Document) -> Part:
    (door,) = of_role(drawn(document), "door")
    return door


CLOSED = {(0.0, 0.0), (0.9, 0.0)}


@pytest.mark.parametrize("thickness", [0.0, 0.1, 0.3])
@pytest.mark.parametrize("leaf", [None, 90.0])
def test_the_threshold_runs_from_the_hinge_to_the_jamb(
    thickness: float, leaf: float | None
) -> None:
    document = with_gap(thickness)
    swing(document, (0, 0), 0.9, 0, 90, leaf)
    assert ends(the_door(document)) == CLOSED


def test_a_door_that_stands_open_against_a_wall_still_closes_its_gap() -> None:
    document = with_gap()
    wall(document.modelspace(), (-0.05, 0), (-0.05, 5))
    swing(document, (0, 0), 0.9, 0, 90)
    assert ends(the_door(document)) == CLOSED


def test_a_sill_drawn_across_the_opening_is_no_leaf() -> None:
    document = with_gap()
    swing(document, (0, 0), 0.9, 0, 90, leaf=0)
    assert ends(the_door(document)) == CLOSED


def test_without_walls_the_leaf_tells() -> None:
    document = with_gap()
    swing(document, (0.45, 2.5), 0.9, 0, 90, leaf=0)
    assert ends(the_door(document)) == {(0.45, 2.5), (0.45, 3.4)}


def test_a_door_that_nothing_tells_of_is_left_out_and_named() -> None:
    document = with_gap()
    swing(document, (0.45, 2.5), 0.9, 0, 90)
    drawing = drawn(document)
    assert of_role(drawing, "door") == []
    assert noted(drawing, "ARC", "without a leaf and without a wall")


def test_two_leaves_that_meet_are_two_thresholds() -> None:
    document = empty()
    space = document.modelspace()
    wall(space, (-3, 0), (0, 0))
    wall(space, (1.6, 0), (4, 0), (4, 5), (-3, 5))
    swing(document, (0, 0), 0.8, 0, 90, leaf=90)
    swing(document, (1.6, 0), 0.8, 90, 180)
    doors = of_role(drawn(document), "door")
    assert all_ends(doors) == {frozenset({(0, 0), (0.8, 0)}), frozenset({(0.8, 0), (1.6, 0)})}


def test_a_leaf_half_open_or_wide_open_closes_the_same_gap() -> None:
    for opened in (30, 45, 120, 170):
        document = with_gap()
        swing(document, (0, 0), 0.9, 0, opened, leaf=opened)
        assert ends(the_door(document)) == CLOSED


def test_a_leaf_that_swings_both_ways_closes_halfway() -> None:
    document = with_gap()
    swing(document, (0, 0), 0.9, -80, 80)
    assert ends(the_door(document), 2) == CLOSED


def test_leaf_and_arc_may_be_one_polyline_with_a_bulge() -> None:
    document = with_gap()
    quarter = math.tan(math.radians(90) / 4)
    document.modelspace().add_lwpolyline(
        [(0, 0, 0), (0, 0.9, -quarter), (0.9, 0, 0)], format="xyb", dxfattribs={"layer": "DOOR"}
    )
    assert ends(the_door(document)) == CLOSED


def test_a_leaf_as_thick_as_it_is_counts_as_one() -> None:
    document = with_gap()
    document.modelspace().add_lwpolyline(
        [(0.45, 2.5), (1.35, 2.5), (1.35, 2.54), (0.45, 2.54)],
        close=True,
        dxfattribs={"layer": "DOOR"},
    )
    swing(document, (0.45, 2.5), 0.9, 0, 90)
    assert ends(the_door(document)) == {(0.45, 2.5), (0.45, 3.4)}


def test_a_door_drawn_twice_is_one() -> None:
    document = with_gap()
    for _ in range(2):
        swing(document, (0, 0), 0.9, 0, 90, leaf=90)
    assert ends(the_door(document)) == CLOSED


def test_a_sliding_door_is_the_line_along_its_middle() -> None:
    document = with_gap(0.2)
    space = document.modelspace()
    for west, east, south in ((0.0, 0.5, 0.06), (0.4, 0.9, 0.1)):  # two panes that overlap
        box(space, west, south, east, south + 0.04, "DOOR")
    assert ends(the_door(document)) == {(0, 0.1), (0.9, 0.1)}


def test_a_sliding_door_of_a_block_holds_together_and_its_frame_is_no_door() -> None:
    document = with_gap(0.2)
    block = document.blocks.new("SLIDE")
    block.add_line((0, 0), (0.9, 0))
    block.add_line((0, 0.15), (0.9, 0.15))
    document.modelspace().add_blockref("SLIDE", (0, 0.02), dxfattribs={"layer": "DOOR"})
    box(document.modelspace(), 2.0, 0, 2.05, 0.1, "DOOR")
    drawing = drawn(document)
    assert all_ends(of_role(drawing, "door")) == {frozenset({(0.0, 0.095), (0.9, 0.095)})}


def test_what_is_no_door_on_a_layer_of_doors_is_named() -> None:
    document = house()
    space = document.modelspace()
    box(space, 6, 1, 8, 3, "A-DOOR")
    space.add_arc((7, 5), 8, 0, 90, dxfattribs={"layer": "A-DOOR"})
    space.add_circle((7, 5), 0.9, dxfattribs={"layer": "A-DOOR"})
    drawing = drawn(document)
    assert len(of_role(drawing, "door")) == 3
    assert noted(drawing, "LWPOLYLINE", "2.00 × 2.00 m without an arc")
    assert noted(drawing, "ARC", "an arc of 8.00 m is no door")


@settings(max_examples=20)
@given(
    st.floats(0, 360),
    st.booleans(),
    st.booleans(),
    st.sampled_from([0.0, 0.12, 0.3]),
    st.floats(-1e6, 1e6),
)
def test_a_door_turned_mirrored_and_moved_is_the_same_door(
    turn: float, mirrored: bool, leaf: bool, thickness: float, east: float
) -> None:
    from ezdxf.math import Matrix44

    matrix = Matrix44.chain(
        Matrix44.scale(-1 if mirrored else 1, 1, 1),
        Matrix44.z_rotate(math.radians(turn)),
        Matrix44.translate(east, 7, 0),
    )
    document = with_gap(thickness)
    swing(document, (0, 0), 0.9, 0, 90, 90 if leaf else None)
    for entity in document.modelspace():
        entity.transform(matrix)
    expected = np.array([matrix.transform(p).xyz[:2] for p in ((0, 0, 0), (0.9, 0, 0))])
    found = shapely.get_coordinates(the_door(document).geometry)
    assert found == pytest.approx(expected, abs=1e-4)
