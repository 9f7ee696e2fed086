"""Rooms too narrow to hold a cell let air pass from door to door."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.field.graph import EXTRA_PATH_M, CellGraph
from hgmap.site.building import Floor, Opening, OpeningState, Room

THIN_M = 0.05


def in_a_row(
    strips: int,
    *,
    state: OpeningState = "open",
    second: float = 1.0,
    drop: int | None = None,
) -> Floor:
    """A room, strips of 5 cm, and a room; doors of 0.9 m one behind the other, the last aside."""
    x = [3.0 + THIN_M * k for k in range(strips + 1)]
    rooms = [Room("a", "A", box(0, 0, 3, 4))]
    rooms += [Room(f"s{k}", f"S{k}", box(x[k], 0, x[k + 1], 4)) for k in range(strips)]
    rooms.append(Room("b", "B", box(x[-1], 0, x[-1] + 3, 4)))
    doors = []
    for k, at in enumerate(x):
        south = second if k == strips else 1.0
        line = LineString([(at, south), (at, south + 0.9)])
        if k != drop:
            doors.append(Opening(f"d{k}", line, state, (rooms[k].id, rooms[k + 1].id)))
    return Floor("g", "Ground", tuple(rooms), openings=tuple(doors))


def passed(graph: CellGraph) -> float:
    """Conductance between rooms."""
    i, j = graph.edges.T
    return float(graph.conductance[graph.room[i] != graph.room[j]].sum())


def parts(graph: CellGraph) -> int:
    return len(np.unique(graph.component))


@given(st.floats(0.18, 0.6), st.integers(1, 3))
def test_doors_in_a_row_through_strips_pass_like_one_door_in_a_wall_as_thick(
    step_m: float, strips: int
) -> None:
    graph = CellGraph.over(in_a_row(strips), step_m)
    thick = Floor(
        "g", "Ground",
        (Room("a", "A", box(0, 0, 3, 4)),
         Room("b", "B", box(3 + THIN_M * strips, 0, 6 + THIN_M * strips, 4))),
        openings=(Opening("d", LineString([(3 + THIN_M * strips / 2, 1.0),
                                           (3 + THIN_M * strips / 2, 1.9)]), "open", ("a", "b")),),
    )  # fmt: skip
    if set(graph.room) != {0, strips + 1}:  # a strip caught a column of centres
        return
    assert parts(graph) == 1
    assert passed(graph) == pytest.approx(passed(CellGraph.over(thick, step_m)), rel=0.5)


def test_two_closed_doors_resist_like_the_path_that_both_stand_for() -> None:
    graph = CellGraph.over(in_a_row(1, state="closed"), 0.4)
    assert passed(graph) == pytest.approx(0.9 / (2 * EXTRA_PATH_M["closed"] + 0.45), rel=0.05)


def test_along_a_strip_the_way_is_as_wide_as_the_strip() -> None:
    straight = CellGraph.over(in_a_row(1), 0.4)
    aside = CellGraph.over(in_a_row(1, second=3.0), 0.4)
    assert parts(aside) == 1
    assert passed(aside) == pytest.approx(THIN_M / 1.1, rel=0.1)  # 1.1 m from door to door
    assert passed(aside) < 0.1 * passed(straight)


@pytest.mark.parametrize("drop", [0, 1, 2])
def test_a_chain_with_a_link_missing_or_sealed_joins_nothing(drop: int) -> None:
    assert parts(CellGraph.over(in_a_row(2, drop=drop), 0.4)) == 2
    assert parts(CellGraph.over(in_a_row(2, state="sealed"), 0.4)) == 2


@pytest.mark.parametrize(
    "opening",
    [
        Opening("itself", LineString([(3, 1), (3, 2)]), "open", ("a", "a")),
        Opening("no width", LineString([(3, 1), (3, 1)]), "open", ("a", "b")),
        Opening("far off", LineString([(30, 1), (30, 2)]), "open", ("a", "b")),
    ],
    ids=lambda one: one.id,
)
def test_an_opening_that_leads_nowhere_joins_nothing(opening: Opening) -> None:
    rooms = (Room("a", "A", box(0, 0, 3, 4)), Room("b", "B", box(3, 0, 6, 4)))
    graph = CellGraph.over(Floor("g", "Ground", rooms, openings=(opening,)), 0.4)
    alone = CellGraph.over(Floor("g", "Ground", rooms), 0.4)
    assert np.array_equal(graph.edges, alone.edges)
    assert parts(graph) == 2
