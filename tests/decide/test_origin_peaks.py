"""Peaks of a field on cells that air joins, and rooms that rise toward a door."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from hgmap.decide.origin_peaks import climbs_of, peaks_of, places_to_look
from hgmap.field.graph import CellGraph
from hgmap.site.building import Floor, Opening, Room

CHAIN = np.column_stack([np.arange(6), np.arange(1, 7)])


def test_peaks_of_a_chain_have_the_height_to_the_saddle_of_higher_ground() -> None:
    # heights 1 5 2 4 0 3 1: the peak of 4 is 2 above its saddle of 2, that of 3 is 3 above 0
    found = peaks_of(np.array([1.0, 5, 2, 4, 0, 3, 1]), CHAIN, 0.5)
    assert [(one.cell, one.prominence) for one in found] == [(1, np.inf), (3, 2.0), (5, 3.0)]


def test_a_low_peak_is_none() -> None:
    found = peaks_of(np.array([1.0, 5, 3.9, 4, 0, 3, 1]), CHAIN, 0.5)
    assert [one.cell for one in found] == [1, 5]


def test_ground_that_no_air_joins_has_a_peak_of_its_own() -> None:
    edges = CHAIN[[0, 1, 3, 4, 5]]  # cut between cells 2 and 3
    found = peaks_of(np.array([1.0, 5, 4, 4, 3, 2, 1]), edges, 0.5)
    assert [(one.cell, one.prominence) for one in found] == [(1, np.inf), (3, np.inf)]


def test_cells_that_nobody_knows_are_no_peak_and_no_way() -> None:
    found = peaks_of(np.array([1.0, 5, np.nan, 4, 3, 2, 1]), CHAIN, 0.5)
    assert [(one.cell, one.prominence) for one in found] == [(1, np.inf), (3, np.inf)]


def test_a_level_field_has_one_peak() -> None:
    assert len(peaks_of(np.zeros(7), CHAIN, 0.0 + 1e-9)) == 1


@given(st.lists(st.floats(-5, 5), min_size=7, max_size=7), st.floats(-3, 3))
def test_peaks_do_not_depend_on_the_unit(heights: list[float], step: float) -> None:
    one = np.round(np.array(heights), 6)
    ours = peaks_of(one, CHAIN, 0.5)
    shifted = peaks_of(one + np.round(step, 6), CHAIN, 0.5)
    assert abs(len(ours) - len(shifted)) == 0 or any(
        abs(peak.prominence - 0.5) < 1e-5 for peak in (*ours, *shifted)
    )
    # the highest is always one, and a peak is higher than its neighbours
    assert ours[0].cell == int(np.argmax(one))
    for peak in ours:
        beside = [k for k in (peak.cell - 1, peak.cell + 1) if 0 <= k < 7]
        assert all(one[peak.cell] >= one[k] for k in beside)


def corridor(state: str = "open") -> CellGraph:
    """A corridor of 10 by 2 m west of a room of 4 by 4 m, with a door of 1 m."""
    rooms = (Room("c", "Corridor", box(0, 0, 10, 2)), Room("r", "Room", box(10, 0, 14, 4)))
    door = Opening("d", LineString([(10, 0.5), (10, 1.5)]), state, ("c", "r"))  # type: ignore[arg-type]
    return CellGraph.over(Floor("f", "F", rooms, openings=(door,)), 0.25)


def test_a_corridor_that_rises_to_a_door_says_so() -> None:
    graph = corridor()
    mean = 0.3 * graph.xy[:, 0]
    places = places_to_look(mean, graph, peaks_of(mean, graph.edges, 0.2))
    (climb,) = climbs_of(mean, graph, places, 0.1, log=True)
    assert (climb.room, climb.towards) == (0, 1)
    # from the middle, 5 m, to the last cell, 9.875 m
    assert climb.ratio == pytest.approx(np.exp(0.3 * 4.875), rel=0.05)


def test_a_room_that_falls_toward_its_door_does_not() -> None:
    graph = corridor()
    mean = -0.3 * graph.xy[:, 0]
    places = places_to_look(mean, graph, peaks_of(mean, graph.edges, 0.2))
    (climb,) = climbs_of(mean, graph, places, 0.1, log=True)
    assert (climb.room, climb.towards) == (1, 0)


def test_nothing_rises_through_a_sealed_door() -> None:
    graph = corridor("sealed")
    mean = 0.3 * graph.xy[:, 0]
    places = places_to_look(mean, graph, peaks_of(mean, graph.edges, 0.2))
    assert climbs_of(mean, graph, places, 0.1, log=True) == ()
    assert all(own[0].prominence == np.inf for own in places.values())


def test_peaks_of_a_room_nearer_than_two_metres_are_one_place() -> None:
    graph = corridor()
    for apart, count in ((1.5, 1), (4.0, 2)):
        at = np.array([[2.125, 1.125], [2.125 + apart, 1.125]])
        mean = np.max([np.exp(-8 * np.sum((graph.xy - one) ** 2, axis=1)) for one in at], axis=0)
        places = places_to_look(mean, graph, peaks_of(mean, graph.edges, 0.2))
        assert len(places[0]) == count
