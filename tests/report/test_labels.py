from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from hgmap.report.labels import Paper, Wanted, spots_in_room

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
    spot = Paper(EDGE).place(Wanted(100.0, 75.0, 20.0, 6.0, 3.0, home=room))
    assert spot is not None
    assert room.covers(shapely.box(*spot.box))


def test_a_name_lies_inside_its_room_or_nowhere():
    room = shapely.Polygon([(0, 0), (100, 0), (100, 20), (20, 20), (20, 100), (0, 100)])
    box = spots_in_room(room, 40.0, 10.0, Paper(EDGE))
    assert box is not None
    assert room.covers(shapely.box(*box))
    assert spots_in_room(room, 40.0, 30.0, Paper(EDGE)) is None
