"""What slits and doors let pass on the cell graph, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve
from shapely import LineString, box

from hgmap.field.graph import CellGraph
from hgmap.site.building import Floor, Opening, Room


def channel(gap: tuple[float, float], *, opening: bool) -> Floor:
    """A channel 3 long and 1 wide with a thin wall across, open between two heights.

    The gap is left in a wall inside one room, or is an opening between two rooms.
    """
    if opening:
        rooms = (Room("a", "A", box(0, 0, 1.5, 1)), Room("b", "B", box(1.5, 0, 3, 1)))
        line = LineString([(1.5, gap[0]), (1.5, gap[1])])
        return Floor("g", "G", rooms, openings=(Opening("d", line, "open", ("a", "b")),))
    parts = [(0.0, gap[0]), (gap[1], 1.0)]
    walls = tuple(LineString([(1.5, s), (1.5, n)]) for s, n in parts if n > s)
    return Floor("g", "G", (Room("a", "A", box(0, 0, 3, 1)),), walls)


def length_m(graph: CellGraph) -> float:
    """Length of an empty channel 1 wide that resists as this one does, end cell to end cell."""
    x = graph.xy[:, 0]
    first, last = np.isclose(x, x.min()), np.isclose(x, x.max())
    inner = ~(first | last)
    laplacian = sp.csr_array(graph.laplacian())
    level = first.astype(float)
    level[inner] = spsolve(sp.csc_array(laplacian[inner][:, inner]),
                           -laplacian[inner][:, first].sum(axis=1))  # fmt: skip
    return float(1.0 / (laplacian @ level)[first].sum())


# Channel of width W, thin wall with a slit a: it is longer by -(2 W / pi) ln sin(pi a / 2 W) with
# the slit in the middle, twice that with the slit along a side (conformal map, Lamb,
# Hydrodynamics; from memory).
@pytest.mark.parametrize("opening", [False, True])
@pytest.mark.parametrize(
    ("gap", "extra_m"),
    [
        ((0.25, 0.75), 0.220636),
        ((0.375, 0.625), 0.611503),
        ((0.0, 0.5), 0.441271),
        ((0.0, 0.25), 1.223007),
    ],
)
def test_a_slit_resists_like_its_published_extra_length(
    gap: tuple[float, float], extra_m: float, opening: bool
) -> None:
    a, factor = gap[1] - gap[0], 2 if gap[0] > 0 else 4
    assert -factor / np.pi * np.log(np.sin(np.pi * a / 2)) == pytest.approx(extra_m, abs=1e-6)
    found = []
    for count in (16, 32, 64):
        graph = CellGraph.over(channel(gap, opening=opening), 1 / count)
        found.append(length_m(graph) - (3 - 1 / count))
    error = np.abs(np.array(found) - extra_m)
    assert error[2] < 0.03
    # of first order in the cell; without that term it is there
    assert 1.7 < error[0] / error[1] < 2.4
    assert 1.7 < error[1] / error[2] < 2.4
    assert 2 * found[2] - found[1] == pytest.approx(extra_m, abs=2e-3)


def test_two_mixed_rooms_exchange_air_as_two_boxes_do() -> None:
    # 30 and 60 m3, 10 m3/h between them, 100 in the first: after 2 h 57.858629 and 21.070685, the
    # solution of two linear equations; a door that resists far more than the rooms mixes them
    rooms = (Room("a", "A", box(0, 0, 6, 5)), Room("b", "B", box(6, 0, 18, 5)))
    door = Opening("d", LineString([(6, 2), (6, 3)]), "closed", ("a", "b"))
    floor = Floor("g", "Ground", rooms, openings=(door,))
    error = []
    for extra in (100.0, 1000.0):
        ways = {"open": 0.0, "closed": extra, "sealed": np.inf}
        graph = CellGraph.over(floor, 0.5, extra_path_m=ways)
        diffusivity = 10.0 * extra  # m2/h, a metre of door and height: 10 m3/h through it
        rates, modes = np.linalg.eigh(graph.laplacian().toarray() / graph.cell_area_m2)
        start = 100.0 * (graph.room == 0)
        later = modes @ (np.exp(-rates * diffusivity * 2.0) * (modes.T @ start))
        got = [later[graph.room == k].mean() for k in (0, 1)]
        error.append(np.abs(np.array(got) - (57.858629, 21.070685)).max())
    # what is left is the way to the door inside the rooms, beside the door itself
    assert error[1] < 0.1
    assert error[1] == pytest.approx(error[0] / 10, rel=0.1)
