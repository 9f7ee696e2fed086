"""One shortest walk in full: where it bends, and which rooms and openings it passes."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final, Literal

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.sparse.csgraph import dijkstra

from hgmap.field.sight import Cones, Seen, Stand, eyes, look_from_places, look_from_vertices, within
from hgmap.field.walkmesh import Mesh
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Step = tuple[Literal["room", "opening"], int]

MOST_CONES: Final = 3_000_000
"""Cones of sight that one corner may need; a floor of ten thousand rooms needs fewer."""


@dataclass(frozen=True)
class Route:
    """A shortest walk.

    Attributes
    ----------
    length_m : float
    vertices : array of shape (k, 2)
        Start, corners it bends at, end (m, the floor's frame).
    openings : tuple of str
        Ids of the openings that it passes, in order.
    closed : tuple of str
        Those of them that are closed doors: a person can open them, little air passes.
    rooms : tuple of str
        Ids of the rooms, from that of the start to that of the end.
    """

    length_m: float
    vertices: Floats
    openings: tuple[str, ...]
    closed: tuple[str, ...]
    rooms: tuple[str, ...]


class Departure:
    """A place that walks begin at: what is seen from it, and its way to every corner.

    Several walks from it share what is worked out once.
    """

    def __init__(self, mesh: Mesh, links: sp.csr_array, start: Stand) -> None:
        self.mesh, self.links, self.start = mesh, links, start

    @cached_property
    def sight(self) -> tuple[Cones, Seen]:
        """What is seen from the place."""
        return look_from_places(self.mesh, *self.start, most=MOST_CONES)

    @cached_property
    def onward(self) -> tuple[Floats, Ints]:
        """Length (m) of the way to each vertex, and the vertex before it; the place is the last."""
        _, seen = self.sight
        size = self.links.shape[0]
        first = np.full(size, np.inf)
        first[seen.vertex] = np.hypot(*(self.mesh.place[seen.vertex] - self.start.xy[0]).T)
        reached = np.flatnonzero(np.isfinite(first))
        ahead = sp.coo_array(
            (np.maximum(first[reached], 1e-12), (np.full(len(reached), size), reached)),
            shape=(size + 1, size + 1),
        )
        grown = sp.coo_array(
            (self.links.data, self.links.tocoo().coords), shape=(size + 1, size + 1)
        )
        length, before = dijkstra(
            sp.csr_array(grown + ahead), indices=size, return_predecessors=True
        )
        return length, before

    def corners_to(self, last: Floats) -> list[int]:
        """Return the vertices of the shortest way that ends at these costs (m); or none."""
        length, before = self.onward
        size = len(last)
        total = length[:size] + last
        corner = int(np.argmin(total))
        if not np.isfinite(total[corner]):
            return []
        corners = []
        while corner != size:
            corners.append(corner)
            corner = int(before[corner])
        return corners[::-1]


class Arrival:
    """A place that walks end at, and what is seen from it."""

    def __init__(self, mesh: Mesh, end: Stand) -> None:
        self.mesh, self.end = mesh, end

    @cached_property
    def sight(self) -> tuple[Cones, Seen]:
        """What is seen from the place."""
        return look_from_places(self.mesh, *self.end, most=MOST_CONES)

    @cached_property
    def last(self) -> Floats:
        """Length (m) from each vertex that is seen; inf from the others."""
        _, seen = self.sight
        last = np.full(len(self.mesh.place), np.inf)
        last[seen.vertex] = np.hypot(*(self.mesh.place[seen.vertex] - self.end.xy[0]).T)
        return last


def find_route(
    floor: Floor,
    departure: Departure,
    arrival: Arrival,
    rooms: tuple[int, int],
    legs: dict[tuple[int, int], list[int]] | None = None,
) -> Route | None:
    """Return the shortest walk from one place to another, or None where no air way joins them.

    Parameters
    ----------
    rooms : tuple of int
        The rooms that the places are said to be in; -1 for unknown.
    legs : dict, optional
        Triangles between corners, kept from one walk of the floor to the next.
    """
    legs = {} if legs is None else legs
    mesh, start, end = departure.mesh, departure.start, arrival.end
    a, b = start.xy[0], end.xy[0]
    cones, seen = departure.sight
    facing = np.flatnonzero(cones.triangle == end.triangle[0])
    ahead = eyes(mesh, end) - eyes(mesh, start)
    direct = facing[within(cones, facing, np.repeat(ahead, len(facing), axis=0))]
    if len(direct):
        chain = _back_to_eye(cones, int(direct[0]))[::-1]
        return _told(floor, mesh, np.stack([a, b]), chain, rooms)
    corners = departure.corners_to(arrival.last)
    if not corners:
        return None
    back_cones, back_seen = arrival.sight
    chains = [_back_to_eye(cones, _cone_of(seen.vertex, seen.cone, corners[0]))[::-1]]
    for pair in itertools.pairwise(corners):
        if pair not in legs:
            legs[pair] = _leg(mesh, *pair)
        chains.append(legs[pair])
    chains.append(_back_to_eye(back_cones, _cone_of(back_seen.vertex, back_seen.cone, corners[-1])))
    whole = list(chains[0])
    for corner, chain in zip(corners, chains[1:], strict=True):
        whole += _round_corner(mesh, corner, whole[-1], chain[0]) + list(chain)
    return _told(floor, mesh, np.vstack([a, mesh.place[corners], b]), whole, rooms)


def _cone_of(vertex: Ints, cone: Ints, wanted: int) -> int:
    return int(cone[np.flatnonzero(vertex == wanted)[0]])


def _back_to_eye(cones: Cones, cone: int) -> list[int]:
    """Return the triangles that a line of sight passes, from its end to the eye."""
    chain = []
    while cone >= 0:
        chain.append(int(cones.triangle[cone]))
        cone = int(cones.parent[cone])
    return chain


def _leg(mesh: Mesh, start: int, end: int) -> list[int]:
    """Return the triangles between two vertices that see each other."""
    for eye, other in ((start, end), (end, start)):  # sight is mutual, but for rounding
        cones, seen = look_from_vertices(mesh, np.array([eye]), most=MOST_CONES)
        if (seen.vertex == other).any():
            chain = _back_to_eye(cones, _cone_of(seen.vertex, seen.cone, other))
            return chain[::-1] if eye == start else chain
    raise AssertionError("two vertices are linked that do not see each other")


def _round_corner(mesh: Mesh, vertex: int, start: int, end: int) -> list[int]:
    """Return the triangles round a vertex from one (left out) to another (left out)."""
    round_it = np.flatnonzero((mesh.vertex == vertex).any(axis=1))
    before = {start: start}
    waiting = [start]
    allowed = {int(t) for t in round_it}
    while waiting and end not in before:
        here = waiting.pop(0)
        for k in range(3):
            other = int(mesh.across[here, k])
            touches = vertex in (mesh.vertex[here, k], mesh.vertex[here, (k + 1) % 3])
            if touches and other in allowed and other not in before:
                before[other] = here
                waiting.append(other)
    chain = []
    here = before[end]
    while here != start:
        chain.append(here)
        here = before[here]
    return chain[::-1]


def _told(
    floor: Floor, mesh: Mesh, bends: Floats, chain: Sequence[int], rooms: tuple[int, int]
) -> Route:
    steps = _steps(mesh, chain, rooms)
    vertices = _without_flat(bends) + mesh.origin
    openings = [number for kind, number in steps if kind == "opening"]
    openings = _with_inner(floor, mesh, vertices, openings)
    return Route(
        float(np.hypot(*np.diff(bends, axis=0).T).sum()),
        vertices,
        tuple(floor.openings[k].id for k in openings),
        tuple(floor.openings[k].id for k in openings if floor.openings[k].state == "closed"),
        tuple(floor.rooms[k].id for kind, k in steps if kind == "room"),
    )


def _steps(mesh: Mesh, chain: Sequence[int], rooms: tuple[int, int]) -> list[Step]:
    """Return the rooms and openings of a chain of triangles, in order."""
    raw: list[Step] = [("room", rooms[0])] if rooms[0] >= 0 else []
    for here, then in zip([chain[0], *chain], chain, strict=False):
        if here != then:
            edge = int(np.flatnonzero(mesh.across[here] == then)[0])
            if mesh.opening[here, edge] >= 0:
                raw.append(("opening", int(mesh.opening[here, edge])))
        if mesh.passage[then] >= 0:
            raw.append(("opening", int(mesh.passage[then])))
        else:
            raw.append(("room", int(mesh.room[then])))
    if rooms[1] >= 0:
        raw.append(("room", rooms[1]))
    steps: list[Step] = []
    for step in raw:
        if steps and steps[-1] == step:
            continue
        if len(steps) >= 2 and steps[-2] == step and step[0] == "room":
            steps.pop()  # along a door and back is not through it
            continue
        steps.append(step)
    return steps


def _with_inner(floor: Floor, mesh: Mesh, vertices: Floats, openings: list[int]) -> list[int]:
    """Put in the openings in walls inside a room, which join no two rooms."""
    known = {*mesh.opening.ravel().tolist(), *mesh.passage.tolist()}
    walk = shapely.LineString(vertices)
    inner = [
        k
        for k, one in enumerate(floor.openings)
        if k not in known and one.state != "sealed" and one.line.dwithin(walk, 1e-6)
    ]
    if not inner:
        return openings

    def how_far(k: int) -> float:
        return float(walk.project(shapely.Point(
            shapely.shortest_line(walk, floor.openings[k].line).coords[0])))  # fmt: skip

    return sorted([*openings, *inner], key=how_far)


def _without_flat(bends: Floats) -> Floats:
    """Return a walk without the corners that it passes straight or twice."""
    kept = [bends[0]]
    for here, after in itertools.pairwise(bends[1:]):
        came, goes = here - kept[-1], after - here
        turn = abs(came[0] * goes[1] - came[1] * goes[0])
        if np.hypot(*came) > 1e-6 and turn > 1e-6 * np.hypot(*came) * np.hypot(*goes):
            kept.append(here)
    return np.stack([*kept, bends[-1]])
