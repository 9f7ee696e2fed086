"""The cell graph: what doors, walls and states let pass, and how a place reads its cells."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from hgmap.field.graph import EXTRA_PATH_M, CellGraph
from hgmap.site.building import Floor, Opening, OpeningState, Room
from tests.field.small_floors import pair, scattered

STEPS = st.floats(0.12, 0.8)
SEEDS = st.integers(0, 10_000)
WALL = LineString([(3.05, 0.0), (3.05, 3.0)])


def one_room(shape: Polygon, *walls: LineString, openings: tuple[Opening, ...] = ()) -> Floor:
    return Floor("g", "Ground", (Room("a", "A", shape),), walls, openings)


def passed_m(graph: CellGraph, extra_m: float = 0.0) -> float:
    """Width (m) of the openings: conductance times length of path, over the edges between rooms."""
    i, j = graph.edges.T
    between = graph.room[i] != graph.room[j]
    length = np.hypot(*(graph.xy[i] - graph.xy[j]).T)
    length = np.maximum(length, graph.raster.cell_m)
    return float((graph.conductance * (length + extra_m))[between].sum())


@given(STEPS, st.sampled_from([0.0, 0.12, 0.3, 0.5]), st.floats(0.3, 2.8), st.booleans())
def test_a_door_keeps_its_width_at_any_step_place_and_thickness_of_wall(
    step_m: float, gap_m: float, south: float, turned: bool
) -> None:
    floor = pair(gap_m=gap_m, door=(south, south + 0.9), turned=turned)
    graph = CellGraph.over(floor, step_m)
    assert passed_m(graph) == pytest.approx(0.9, abs=1e-9)
    assert len(np.unique(graph.component)) == 1


@given(STEPS, st.sampled_from([0.0, 0.3]))
def test_a_closed_door_is_a_longer_way_and_a_sealed_one_passes_nothing(
    step_m: float, gap_m: float
) -> None:
    graphs = {
        state: CellGraph.over(pair(gap_m=gap_m, state=state), step_m)
        for state in ("open", "closed", "sealed")
    }
    assert passed_m(graphs["closed"], EXTRA_PATH_M["closed"]) == pytest.approx(0.9, abs=1e-9)
    assert 0 < passed_m(graphs["closed"]) < 0.5 * passed_m(graphs["open"])
    assert passed_m(graphs["sealed"]) == 0.0
    assert [len(np.unique(one.component)) for one in graphs.values()] == [1, 1, 2]


SLIVER = (
    Room("a", "A", box(0, 0, 3, 4)),
    Room("sliver", "S", box(3, 0, 3.05, 4)),
    Room("c", "C", box(3.05, 0, 6, 4)),
)


def test_openings_to_the_outside_and_to_a_room_too_narrow_for_cells_join_nothing() -> None:
    doors = (
        Opening("out", LineString([(0, 1), (0, 2)]), "open", ("a",)),
        Opening("in", LineString([(3, 1), (3, 2)]), "open", ("a", "sliver")),
    )
    graph = CellGraph.over(Floor("g", "Ground", SLIVER, openings=doors), 0.2)
    alone = CellGraph.over(Floor("g", "Ground", SLIVER), 0.2)
    assert set(graph.room) == {0, 2}
    assert len(graph.edges) == len(alone.edges)


def test_a_place_in_a_room_too_narrow_for_cells_reads_the_nearest_cell_there_is() -> None:
    graph = CellGraph.over(Floor("g", "Ground", SLIVER), 0.2)
    at = np.array([[3.02, 2.0]])
    home = graph.nearest(at, np.array([1]))
    gap = np.hypot(*(graph.xy - at).T)
    assert gap[home[0]] == gap.min()
    assert graph.interpolation(at, np.array([1])).sum() == pytest.approx(1.0)


def test_a_wall_line_inside_a_room_cuts_what_crosses_it_and_no_more() -> None:
    free = CellGraph.over(one_room(box(0, 0, 6, 4)), 0.2)
    cut = CellGraph.over(one_room(box(0, 0, 6, 4), WALL), 0.2)
    i, j = cut.edges.T
    assert not shapely.intersects(shapely.linestrings(cut.xy[cut.edges]), WALL).any()
    assert len(free.edges) - len(cut.edges) == 15  # 3 m of wall, 0.2 m cells
    assert (cut.conductance == 1.0).all()
    assert len(np.unique(cut.component)) == 1  # round its end
    assert ((cut.wall_faces == free.wall_faces).sum(), (cut.wall_faces > free.wall_faces).sum()) \
        == (len(free.xy) - 30, 30)  # fmt: skip
    assert (i != j).all()


@pytest.mark.parametrize(("state", "parts"), [("open", 1), ("closed", 1), ("sealed", 2)])
def test_an_opening_in_a_wall_inside_a_room_passes_what_its_state_says(
    state: OpeningState, parts: int
) -> None:
    door = Opening("d", LineString([(3.0, 1.0), (3.0, 2.0)]), state, ("a",))
    wall = LineString([(3.0, 0.0), (3.0, 4.0)])
    graph = CellGraph.over(one_room(box(0, 0, 6, 4), wall, openings=(door,)), 0.2)
    assert len(np.unique(graph.component)) == parts
    west = graph.xy[graph.edges, 0] < 3.0
    through = graph.conductance[west[:, 0] != west[:, 1]]
    # 1 m in cells of 0.2 m
    assert through.sum() == pytest.approx(5 * 0.2 / (0.2 + EXTRA_PATH_M[state]))


def test_a_place_beside_a_closed_door_inside_a_room_does_not_read_past_it() -> None:
    door = Opening("d", LineString([(3.0, 1.0), (3.0, 2.0)]), "closed", ("a",))
    wall = LineString([(3.0, 0.0), (3.0, 4.0)])
    graph = CellGraph.over(one_room(box(0, 0, 6, 4), wall, openings=(door,)), 0.2)
    read = graph.interpolation(np.array([[2.97, 1.5]]), np.array([0]))
    assert (graph.xy[read.indices, 0] < 3.0).all()


@given(st.floats(2.7, 3.4), st.floats(0.0, 2.7), STEPS)
def test_a_place_beside_a_wall_inside_its_room_reads_its_own_side(
    x: float, y: float, step_m: float
) -> None:
    graph = CellGraph.over(one_room(box(0, 0, 6, 4), WALL), step_m)
    if abs(x - 3.05) < 1e-9:
        return
    read = graph.interpolation(np.array([[x, y]]), np.array([0]))
    sides = graph.xy[read.indices, 0] - 3.05
    below = graph.xy[read.indices, 1] <= 3.0
    assert ((np.sign(sides) == np.sign(x - 3.05)) | ~below | (np.abs(sides) < 1e-9)).all()


@given(SEEDS, st.floats(0.15, 0.4))
def test_weights_add_to_1_are_positive_and_stay_in_the_room(seed: int, step_m: float) -> None:
    floor = scattered(seed)
    graph = CellGraph.over(floor, step_m)
    random = np.random.default_rng(seed)
    west, south, east, north = floor.bounds
    # on the floor, in the walls and outside, whatever room the places are said to be in
    points = random.uniform((west - 1, south - 1), (east + 1, north + 1), (60, 2))
    room = random.integers(0, len(floor.rooms), 60)
    read = graph.interpolation(points, room)
    assert np.asarray(read.sum(axis=1)).ravel() == pytest.approx(np.ones(60))
    assert (read.data > 0).all()
    row = np.repeat(np.arange(60), np.diff(read.indptr))
    assert (graph.room[read.indices] == room[row]).all()
    assert (
        graph.component[read.indices] == graph.component[graph.nearest(points, room)][row]
    ).all()


@given(STEPS, st.floats(-3, 3), st.floats(-3, 3), st.floats(-3, 3), SEEDS)
def test_away_from_walls_a_twisted_plane_is_read_exactly(
    step_m: float, a: float, b: float, c: float, seed: int
) -> None:
    def level(xy: np.ndarray) -> np.ndarray:
        return np.asarray(xy @ [a, b] + c * xy[:, 0] * xy[:, 1] + 1)

    graph = CellGraph.over(pair(), step_m)
    points = np.random.default_rng(seed).uniform((0.9, 0.9), (2.1, 3.1), (20, 2))
    read = graph.interpolation(points, np.zeros(20, dtype=np.int64))
    assert read @ level(graph.xy) == pytest.approx(level(points), abs=1e-9)


@given(st.floats(0, 0.49), st.floats(0, 0.49))
def test_round_the_corner_of_a_room_a_plane_is_read_exactly(u: float, v: float) -> None:
    # three cells there are, the fourth lies in the corner's wall
    room = Polygon([(0, 0), (4, 0), (4, 2), (2, 2), (2, 4), (0, 4)])
    graph = CellGraph.over(one_room(room), 0.25)
    points = np.array([[1.875 + 0.25 * u, 1.875 + 0.25 * v]])
    read = graph.interpolation(points, np.array([0]))
    assert (read.data >= 0).all()
    assert read @ (graph.xy @ [2.0, -3.0]) == pytest.approx(points @ [2.0, -3.0], abs=1e-9)


def test_a_place_at_the_centre_of_a_cell_reads_that_cell_alone() -> None:
    graph = CellGraph.over(pair(), 0.25)
    read = graph.interpolation(graph.xy, graph.room)
    assert np.abs(read - np.eye(len(graph.xy))).max() < 1e-9


@pytest.mark.parametrize("gap_m", [0.0, 0.3])
@pytest.mark.parametrize("y", [0.5, 1.5, 4.0, 4.6])
@pytest.mark.parametrize("room", [0, 1])
def test_on_a_wall_in_a_doorway_or_outside_a_place_reads_the_room_it_was_taken_in(
    gap_m: float, y: float, room: int
) -> None:
    graph = CellGraph.over(pair(gap_m=gap_m), 0.2)
    at = np.array([[3.0 + gap_m / 2, y]])
    assert set(graph.room[graph.interpolation(at, np.array([room])).indices]) == {room}
    nearest = graph.nearest(at, np.array([room]))[0]
    own = np.hypot(*(graph.xy[graph.room == room] - at).T)
    assert np.hypot(*(graph.xy[nearest] - at[0])) == pytest.approx(own.min())


def test_a_place_in_a_niche_far_from_every_cell_still_reads_its_room() -> None:
    niche = [(2.06, 3), (2.06, 4.2), (2.0, 4.2), (2.0, 3)]
    room = Polygon([(0, 0), (4, 0), (4, 3), *niche, (0, 3)])
    graph = CellGraph.over(one_room(room), 0.2)
    points = np.array([(2.03, y) for y in (3.05, 3.2, 3.5, 4.1)])
    read = graph.interpolation(points, np.zeros(4, dtype=np.int64))
    assert np.asarray(read.sum(axis=1)).ravel() == pytest.approx(np.ones(4))


def test_rooms_that_nothing_joins_are_components_of_their_own() -> None:
    graph = CellGraph.over(pair(door=None), 0.2)
    assert (graph.component == graph.room).all()


def test_wall_faces_are_four_less_what_passes() -> None:
    graph = CellGraph.over(one_room(box(0, 0, 2, 1)), 0.5)
    assert graph.raster.spread(graph.wall_faces).tolist() == [[2, 1, 1, 2], [2, 1, 1, 2]]
    door = CellGraph.over(pair(), 0.2)
    free = CellGraph.over(pair(door=None), 0.2)
    # 0.9 m of wall are gone on both sides of the door, in faces of 0.2 m
    assert (free.wall_faces - door.wall_faces).sum() == pytest.approx(2 * 0.9 / 0.2)


@given(SEEDS, STEPS)
def test_the_laplacian_sums_to_zero_and_is_never_negative(seed: int, step_m: float) -> None:
    graph = CellGraph.over(scattered(seed), step_m)
    laplacian = graph.laplacian()
    assert np.abs(laplacian - laplacian.T).max() == 0
    assert laplacian.sum(axis=1) == pytest.approx(np.zeros(len(graph.xy)), abs=1e-12)
    v = np.random.default_rng(seed).normal(size=len(graph.xy))
    i, j = graph.edges.T
    assert v @ laplacian @ v == pytest.approx((graph.conductance * (v[i] - v[j]) ** 2).sum())
    eigenvalues = np.linalg.eigvalsh(laplacian.toarray())
    parts = len(np.unique(graph.component))
    assert eigenvalues.min() > -1e-9
    # as many zeros as separate parts: a closed door is weak, yet it joins
    assert (eigenvalues < 1e-9).sum() == parts
