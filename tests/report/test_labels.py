from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.report.crossing import lines_over_boxes, lines_over_lines
from hgmap.report.ground import Ground
from hgmap.report.labels import Paper, spots_in_room
from hgmap.report.wanted import Wanted

EDGE = (0.0, 0.0, 200.0, 150.0)
places = st.lists(
    st.tuples(st.floats(0.0, 200.0), st.floats(0.0, 150.0), st.floats(4.0, 40.0)), max_size=30
)


@settings(max_examples=30, deadline=None)
@given(places)
def test_placed_texts_never_overlap_and_never_leave_the_paper(wanted):
    paper = Paper(EDGE)
    marks = np.array([(x - 2, y - 2, x + 2, y + 2) for x, y, _ in wanted]).reshape(-1, 4)
    paper.take(marks)
    found = [paper.place(Wanted(x, y, width, 6.0, 3.0)) for x, y, width in wanted]
    boxes = [shapely.box(*spot.box) for spot in found if spot is not None]
    for index, box in enumerate(boxes):
        assert shapely.box(*EDGE).covers(box)
        assert not any(box.intersects(other) for other in boxes[:index])
        assert not shapely.intersects(shapely.box(*marks.T), box).any() if len(marks) else True


def test_a_lone_text_stands_right_of_its_mark():
    spot = Paper(EDGE).place(Wanted(100.0, 75.0, 20.0, 6.0, 3.0))
    assert spot is not None
    assert spot.box == (103.0, 72.0, 123.0, 78.0)
    assert spot.leader is None


def test_a_text_with_no_room_beside_its_mark_gets_a_leader():
    paper = Paper(EDGE)
    paper.take(np.array([(95.0, 60.0, 99.0, 90.0), (101.0, 60.0, 105.0, 90.0)]))
    paper.take(np.array([(95.0, 86.0, 105.0, 90.0)]))
    spot = paper.place(Wanted(100.0, 75.0, 8.0, 6.0, 2.0))
    assert spot is not None
    assert spot.leader is not None


def test_a_text_that_may_not_go_far_is_left_out_where_paper_is_full():
    paper = Paper(EDGE)
    paper.take(np.array([(60.0, 40.0, 140.0, 110.0)]))
    assert paper.place(Wanted(100.0, 75.0, 20.0, 6.0, 3.0, far=False)) is None


def test_a_text_prefers_its_own_room():
    room = shapely.box(50.0, 50.0, 105.0, 100.0)
    ground = Ground(rooms=(room, shapely.box(105.0, 50.0, 160.0, 100.0)))
    spot = Paper(EDGE, ground).place(Wanted(100.0, 75.0, 20.0, 6.0, 3.0, home=room))
    assert spot is not None
    assert room.covers(shapely.box(*spot.box))


def test_a_text_with_no_room_at_home_goes_out_of_the_building_and_not_to_the_neighbours():
    room = shapely.box(80.0, 60.0, 90.0, 90.0)
    rooms = (room, shapely.box(40.0, 60.0, 80.0, 90.0), shapely.box(90.0, 60.0, 130.0, 90.0))
    spot = Paper(EDGE, Ground(rooms=rooms)).place(
        Wanted(85.0, 75.0, 20.0, 6.0, 3.0, home=room, anywhere=True)
    )
    assert spot is not None
    assert spot.leader is not None
    assert not shapely.union_all(rooms).intersects(shapely.box(*spot.box))


def test_a_text_stays_off_walls_and_contours_where_it_can():
    room = shapely.box(0.0, 0.0, 200.0, 150.0)
    wall = shapely.LineString([(110.0, 60.0), (110.0, 90.0)])
    contour = shapely.LineString([(90.0, 60.0), (90.0, 90.0)])
    wanted = Wanted(100.0, 75.0, 8.0, 6.0, 3.0, home=room)
    for lines in (Ground((room,), (wall,)), Ground((room,), (wall,), (contour,))):
        spot = Paper(EDGE, lines).place(wanted)
        assert spot is not None
        assert not shapely.box(*spot.box).intersects(shapely.union_all(lines.walls))
        assert not shapely.box(*spot.box).intersects(shapely.union_all(lines.contours))


def test_no_leader_runs_through_a_text():
    paper = Paper(EDGE)
    paper.take(np.array([(80.0, 60.0, 98.0, 90.0), (102.0, 60.0, 120.0, 90.0)]), text=True)
    spots = [paper.place(Wanted(100.0, 75.0, 20.0, 6.0, 3.0, over=True, anywhere=True))]
    spots.append(paper.place(Wanted(100.0, 65.0, 20.0, 6.0, 3.0, over=True, anywhere=True)))
    texts = [shapely.box(*box) for box in paper.boxes[paper.texts]]
    for spot in spots:
        assert spot is not None
        assert spot.leader is not None
        leader = shapely.LineString(spot.leader)
        assert sum(text.intersects(leader) for text in texts) == 1  # its own, at its end


def test_a_far_value_leads_over_no_other_mark_where_there_is_another_way():
    paper = Paper(EDGE)
    paper.take(np.array([(60.0, 79.0, 140.0, 150.0), (60.0, 0.0, 140.0, 71.0)]), text=True)
    marks = np.array([(x - 2.0, 73.0, x + 2.0, 77.0) for x in (70.0, 84.0, 98.0, 112.0)])
    paper.take(marks)  # a corridor: the near end lies to the left, past three marks
    spot = paper.place(Wanted(98.0, 75.0, 20.0, 9.0, 3.0, over=True, anywhere=True))
    assert spot is not None
    assert spot.leader is not None
    assert lines_over_boxes(np.array([spot.leader]), marks[[0, 1, 3]]).sum() == 1  # to the right


def test_a_name_lies_inside_its_room_or_nowhere():
    room = shapely.Polygon([(0, 0), (100, 0), (100, 20), (20, 20), (20, 100), (0, 100)])
    box = spots_in_room(room, 40.0, 10.0, Paper(EDGE))
    assert box is not None
    assert room.covers(shapely.box(*box))
    assert spots_in_room(room, 40.0, 30.0, Paper(EDGE)) is None


coordinate = st.integers(0, 100).map(float)
lines_in_space = st.lists(
    st.tuples(coordinate, coordinate, coordinate, coordinate), min_size=1, max_size=8
)


@settings(max_examples=60, deadline=None)
@given(lines_in_space, lines_in_space)
def test_crossings_are_those_of_the_geometry_library(first, second):
    # shapely is the outside check; bare touches may go either way
    lines = np.array(first).reshape(-1, 2, 2)
    others = np.array(second).reshape(-1, 2, 2)
    boxes = np.column_stack([others.min(axis=1), others.max(axis=1)])
    over_boxes, over_lines = lines_over_boxes(lines, boxes), lines_over_lines(lines, others)
    for i, one in enumerate(shapely.linestrings(lines)):
        for j, box in enumerate(shapely.box(*boxes.T)):
            if box.buffer(1e-6).intersects(one) == box.buffer(-1e-6).intersects(one):
                assert over_boxes[i, j] == box.intersects(one)
        for j, other in enumerate(shapely.linestrings(others)):
            if other.crosses(one):
                assert over_lines[i, j]
            elif other.distance(one) > 1e-6:
                assert not over_lines[i, j]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(*[st.floats(-20.0, 140.0)] * 4).filter(lambda one: one[:2] != one[2:]),
        min_size=1, max_size=12,
    )
)  # fmt: skip
def test_a_leader_passes_the_rooms_that_the_geometry_library_says(ends):
    rooms = [shapely.box(west, 0.0, west + 25.0, 100.0) for west in (0.0, 30.0, 60.0, 90.0)]
    lines = np.array(ends).reshape(-1, 2, 2)
    drawn = [shapely.LineString(one) for one in lines]
    counted = Ground(rooms).passed(lines, rooms[1]).tolist()
    assert counted == [
        sum(one.intersects(room) for room in rooms if room is not rooms[1]) for one in drawn
    ]


def test_a_leader_goes_out_by_the_wall_of_its_own_room_and_through_no_neighbour():
    """The way through the neighbour is the shorter one."""
    home, other = shapely.box(60.0, 0.0, 100.0, 150.0), shapely.box(102.0, 0.0, 120.0, 150.0)
    paper = Paper(EDGE, Ground([home, other]))
    wanted = Wanted(97.0, 75.0, 46.0, 7.0, 3.0, home=home, longest=70.0, anywhere=True)
    spot = paper.place(wanted)
    assert spot is not None
    assert spot.leader is not None
    assert not shapely.LineString(spot.leader).intersects(other)
