"""Rooms too narrow to hold a cell: their openings are joined to each other straight away.

Such a room is a small network: a node for each of its openings, joined to the cells on the
opening's far side and to the room's other openings. The nodes are then taken out of the network
(Kron 1939, Tensor Analysis of Networks), which leaves conductances between cells that let the same
pass.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

Floats = NDArray[np.float64]

SHORTEST_M: Final = 1e-3
"""Two openings drawn at one place are this far apart (m)."""

LEAST_SHARE: Final = 1e-9
"""A link below this share of the strongest one of its room is rounding."""


class Pass(NamedTuple):
    """An opening that air passes: its line, its two rooms, and what its state adds to the way."""

    line: shapely.LineString
    rooms: tuple[int, int]
    extra_m: float


def narrow_links(
    openings: Sequence[Pass],
    narrow: Mapping[int, Polygon],
    cells_beside: Callable[[int, int], Mapping[int, float]],
    room_of: Callable[[int], int],
) -> dict[tuple[int, int], float]:
    """Return conductances between cells of different rooms by way of rooms without cells.

    Along a strip the passage is as wide as the strip; straight across it, as the narrower opening.

    Parameters
    ----------
    openings : sequence of Pass
        Those that are not sealed and touch two rooms.
    narrow : mapping
        Rooms without a cell: position in the floor, and outline.
    cells_beside : callable
        From the position of an opening and of a room to the room's cells and the conductance of
        the way from the middle of the opening to each.
    room_of : callable
        From a cell to the position of its room.
    """
    found: dict[tuple[int, int], float] = {}
    nodes = [k for k, one in enumerate(openings) if set(one.rooms) & set(narrow)]
    if not nodes:
        return found
    between: dict[tuple[int, int], float] = {}
    for room, outline in narrow.items():
        breadth = 2.0 * outline.area / outline.length
        own = [k for k in nodes if room in openings[k].rooms]
        for at, a in enumerate(own):
            for b in own[at + 1 :]:
                conductance = _across(openings[a], openings[b], breadth)
                between[a, b] = between.get((a, b), 0.0) + conductance
    beside: dict[tuple[int, int], float] = {}
    for k in nodes:
        for room in openings[k].rooms:
            if room not in narrow:
                for cell, conductance in cells_beside(k, room).items():
                    beside[k, cell] = beside.get((k, cell), 0.0) + conductance
    for group in _groups(nodes, list(between)):
        found.update(_without_nodes(group, between, beside, room_of))
    return found


def _across(a: Pass, b: Pass, breadth: float) -> float:
    """Return the conductance between two openings of a room of this breadth (m)."""
    length = max(float(a.line.distance(b.line)), SHORTEST_M)
    width = min(a.line.length, b.line.length)
    if length > 2.0 * breadth:
        width = min(width, breadth)
    return float(width / (length + 0.5 * (a.extra_m + b.extra_m)))


def _groups(nodes: Sequence[int], pairs: Sequence[tuple[int, int]]) -> list[list[int]]:
    """Return the openings that hang together by rooms without cells."""
    label = {k: k for k in nodes}

    def root(k: int) -> int:
        while label[k] != k:
            k = label[k]
        return k

    for a, b in pairs:
        label[root(b)] = root(a)
    groups: dict[int, list[int]] = {}
    for k in nodes:
        groups.setdefault(root(k), []).append(k)
    return list(groups.values())


def _without_nodes(
    group: Sequence[int],
    between: Mapping[tuple[int, int], float],
    beside: Mapping[tuple[int, int], float],
    room_of: Callable[[int], int],
) -> dict[tuple[int, int], float]:
    """Take the nodes out of one network; return what is left between cells of different rooms."""
    place = {k: i for i, k in enumerate(group)}
    cells = sorted({cell for k, cell in beside if k in place})
    column = {cell: j for j, cell in enumerate(cells)}
    if len({room_of(cell) for cell in cells}) < 2:
        return {}
    inner = np.zeros((len(group), len(group)))
    outer = np.zeros((len(group), len(cells)))
    for (a, b), conductance in between.items():
        if a in place:
            inner[place[a], place[b]] = inner[place[b], place[a]] = -conductance
    for (k, cell), conductance in beside.items():
        if k in place:
            outer[place[k], column[cell]] = conductance
    inner[np.diag_indices(len(group))] = outer.sum(axis=1) - inner.sum(axis=1)
    left = outer.T @ np.linalg.solve(inner, outer)
    return {
        (one, other): float(left[i, j])
        for i, one in enumerate(cells)
        for j, other in enumerate(cells)
        if i < j and room_of(one) != room_of(other) and left[i, j] > LEAST_SHARE * left.max()
    }
