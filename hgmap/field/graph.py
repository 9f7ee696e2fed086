"""The cell graph of a floor: where air can pass, and how easily.

Cells of one room are joined face to face unless a wall stands between their centres. Rooms are
joined by openings only. An edge's conductance is the width of the passage over its length, in
units in which two neighbouring cells have 1; an opening shares its own width out over the cells
that it touches on both sides, so that a door of 0.9 m conducts like 0.9 m at any step, whether the
wall is a line or has a thickness, and a closed one resists like a stated length of open air. A room
too narrow to hold a cell joins what its openings lead to (:mod:`hgmap.field.narrow`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import NDArray
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree
from shapely import STRtree
from shapely.geometry.base import BaseGeometry

from hgmap.field.doorways import join_openings
from hgmap.field.raster import Raster
from hgmap.site.building import Floor, OpeningState

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

EXTRA_PATH_M: Final[Mapping[OpeningState, float]] = {"open": 0.0, "closed": 2.5, "sealed": np.inf}
"""Metres of open air, as wide as the opening, that resist like it. A closed door that leaks 10 m³/h
through 2 m² exchanges 5 m/h; air that mixes at 12 m²/h does so over 2.4 m (common practice, no
source)."""

NEAREST: Final = 16
"""So many of the nearest cells are asked for one on the same side of a wall inside a room."""

LINES_AT_ONCE: Final = 1000
"""To make lines lets no other thread work: a window beside it would stand still."""


@dataclass(frozen=True)
class CellGraph:
    """Cells of a floor and the edges between them.

    Attributes
    ----------
    raster : Raster
        The cells; node k is the k-th inside cell, row by row.
    xy : array of shape (m, 2)
        Centres (m).
    room : array of shape (m,)
        Position of each cell's room in ``floor.rooms``.
    edges : array of shape (e, 2)
        Joined cells, each pair once.
    conductance : array of shape (e,)
        Of the edges, dimensionless.
    wall_faces : array of shape (m,)
        Faces of each cell that nothing passes (a part of a face counts in part).
    component : array of shape (m,)
        Cells with the same number can reach each other.
    barriers : tuple of shapely geometries
        Walls inside rooms, without their open openings.
    """

    raster: Raster
    xy: Floats
    room: Ints
    edges: Ints
    conductance: Floats
    wall_faces: Floats
    component: Ints
    barriers: tuple[BaseGeometry, ...] = ()

    @property
    def cell_area_m2(self) -> float:
        """Area of a cell (m²)."""
        return self.raster.cell_m**2

    @cached_property
    def neighbours(self) -> Ints:
        """Cells joined to each cell west, east, south and north of it, shape (m, 4); -1: none."""
        table = np.full((len(self.xy), 4), -1, dtype=np.int64)
        i, j = self.edges.T
        dx, dy = ((self.xy[j] - self.xy[i]) / self.raster.cell_m).T
        # what a closed door lets through is too little to read the other side by
        same = (self.room[i] == self.room[j]) & (self.conductance >= 1.0)
        right = same & (np.abs(dx - 1) < 0.01) & (np.abs(dy) < 0.01)
        up = same & (np.abs(dy - 1) < 0.01) & (np.abs(dx) < 0.01)
        table[i[right], 1], table[j[right], 0] = j[right], i[right]
        table[i[up], 3], table[j[up], 2] = j[up], i[up]
        return table

    def laplacian(self) -> sp.csc_array:
        """Return G, with v' G v the sum over edges of conductance times squared difference."""
        m = len(self.xy)
        i, j = self.edges.T
        joined = sp.coo_array((self.conductance, (i, j)), shape=(m, m))
        joined = joined + joined.T
        return sp.csc_array(sp.diags_array(joined.sum(axis=1)) - joined)

    @classmethod
    def over(
        cls,
        floor: Floor,
        step_m: float,
        *,
        extra_path_m: Mapping[OpeningState, float] = EXTRA_PATH_M,
    ) -> CellGraph:
        """Build the graph of a floor with cells of ``step_m`` (m).

        Raises
        ------
        EstimateError
            If the step does not fit the floor (see :meth:`hgmap.field.raster.Raster.over`).
        """
        raster = Raster.over(floor, step_m)
        number = np.full(raster.shape, -1, dtype=np.int64)
        number[raster.inside] = np.arange(int(raster.inside.sum()))
        xy = raster.points()
        room = raster.room_index[raster.inside].astype(np.int64)
        edges = _faces(number, raster)
        conductance = _past_walls(edges, xy, floor, step_m, extra_path_m)
        edges, conductance = edges[conductance > 0], conductance[conductance > 0]
        through, how_well = join_openings(floor, xy, room, step_m, extra_path_m)
        edges = np.vstack([edges, through])
        conductance = np.concatenate([conductance, how_well])
        m = len(xy)
        passed = np.bincount(edges.ravel(), weights=np.repeat(conductance, 2), minlength=m)
        links = sp.coo_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(m, m))
        component = connected_components(links, directed=False)[1].astype(np.int64)
        faces = np.maximum(4.0 - passed, 0.0)
        barriers = _barriers(floor, extra_path_m)
        return cls(raster, xy, room, edges, conductance, faces, component, barriers)

    def interpolation(self, points: Floats, room: Ints) -> sp.csr_array:
        """Return weights (n, m) that read the cells at points, from their own side of any wall.

        A point takes from the nearest cell of its room, and bilinearly from the three others
        round it that are joined to that one face by face; weights add up to 1.

        Parameters
        ----------
        points : array of shape (n, 2), m
        room : array of shape (n,)
            Position of each point's room in ``floor.rooms``; -1 where it has none: any room.
        """
        home = self.nearest(points, room)
        joined = self.neighbours
        step = self.raster.cell_m
        offset = (points - self.xy[home]) / step
        side = np.where(offset >= 0, 1, -1)
        near = np.minimum(np.abs(offset), 1.0)
        # neighbours are stored as west, east, south, north; -1 where a wall stands
        beside = joined[home, np.where(side[:, 0] > 0, 1, 0)]
        along = joined[home, np.where(side[:, 1] > 0, 3, 2)]
        corner = np.where(beside >= 0, joined[beside, np.where(side[:, 1] > 0, 3, 2)], -1)
        other = np.where(along >= 0, joined[along, np.where(side[:, 0] > 0, 1, 0)], -1)
        corner = np.where(corner == other, corner, -1)
        cells = np.stack([home, beside, along, corner])
        # across a wall there is nothing to lean towards
        u, v = np.where(beside >= 0, near[:, 0], 0.0), np.where(along >= 0, near[:, 1], 0.0)
        weight = np.stack([(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v])
        # where a corner is missing the plane through the other cells still holds
        lone = (cells[3] < 0) & (cells[1] >= 0) & (cells[2] >= 0)
        weight[:, lone] = np.stack([1 - u - v, u, v, 0 * u])[:, lone]
        weight = np.where(cells >= 0, weight, 0.0)
        bare = lone & (weight[0] < 0)
        weight[:, bare] = np.stack([0 * u, u / (u + v + 1e-300), v / (u + v + 1e-300), 0 * u])[
            :, bare
        ]
        weight /= weight.sum(axis=0)
        row = np.tile(np.arange(len(points)), 4)
        keep = (weight != 0).ravel()
        return sp.csr_array(
            (weight.ravel()[keep], (row[keep], cells.ravel()[keep])),
            shape=(len(points), len(self.xy)),
        )

    def nearest(self, points: Floats, room: Ints) -> Ints:
        """Return the nearest cell of each point's own room; of any room where it has none.

        On its own side of the walls inside that room, where one of the nearest cells is.
        """
        found = np.empty(len(points), dtype=np.int64)
        for one in np.unique(room):
            own, tree = self._tree(int(one))
            these = np.flatnonzero(room == one)
            found[these] = own[tree.query(points[these])[1]]
            behind = these[self._behind(points[these], found[these])]
            for k in behind:
                others = own[np.atleast_1d(tree.query(points[k], k=min(NEAREST, len(own)))[1])]
                seen = ~self._behind(np.repeat(points[k][None], len(others), axis=0), others)
                if seen.any():
                    found[k] = others[seen.argmax()]
        return found

    def _tree(self, room: int) -> tuple[Ints, KDTree]:
        """Return the cells of a room, all of them where it has none, and a tree of them; kept."""
        if room not in self._trees:
            own = np.flatnonzero(self.room == room)
            if room < 0 or not len(own):
                own = np.arange(len(self.xy))
            self._trees[room] = own, KDTree(self.xy[own])
        return self._trees[room]

    @cached_property
    def _trees(self) -> dict[int, tuple[Ints, KDTree]]:
        return {}

    def _behind(self, points: Floats, cells: Ints) -> NDArray[np.bool_]:
        """Tell which points have a barrier between them and their cell."""
        hit = np.zeros(len(points), dtype=bool)
        if self.barriers and len(points):
            for start in range(0, len(points), LINES_AT_ONCE):
                some = slice(start, start + LINES_AT_ONCE)
                sight = shapely.linestrings(np.stack([points[some], self.xy[cells[some]]], axis=1))
                found = STRtree(sight).query(list(self.barriers), predicate="intersects")[1]
                hit[start + found] = True
        return hit


def _faces(number: Ints, raster: Raster) -> Ints:
    """Pair up cells of one room that share a face."""
    pairs = []
    for a, b in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1, :], np.s_[1:, :])):
        one, other = number[a], number[b]
        same = (one >= 0) & (other >= 0) & (raster.room_index[a] == raster.room_index[b])
        pairs.append(np.column_stack([one[same], other[same]]))
    return np.vstack(pairs)


def _past_walls(
    edges: Ints, xy: Floats, floor: Floor, step_m: float, extra_path_m: Mapping[OpeningState, float]
) -> Floats:
    """Return the conductance that the walls inside rooms leave each edge: 0 to 1.

    An opening is cut out of the wall that it lies in. Inside a room it resists as its state says;
    one between two rooms does so by :func:`hgmap.field.doorways.join_openings`.
    """
    passes = np.ones(len(edges))
    if not floor.walls or not len(edges):
        return passes
    tree = STRtree(shapely.linestrings(xy[edges]))
    leaves = _leaves(floor, extra_path_m)
    gaps = shapely.union_all([leaf for leaf, _ in leaves])
    for wall in floor.walls:
        for leaf, extra in leaves:
            if wall.intersects(leaf):
                hit = tree.query(wall.intersection(leaf), predicate="intersects")
                passes[hit] = np.minimum(passes[hit], step_m / (step_m + extra))
        passes[tree.query(wall.difference(gaps), predicate="intersects")] = 0.0
    return passes


def _leaves(
    floor: Floor, extra_path_m: Mapping[OpeningState, float]
) -> list[tuple[BaseGeometry, float]]:
    """Return each opening, a hair wide, and the extra path (m) that it is inside a room."""
    return [
        (one.line.buffer(1e-3, cap_style="flat"),
         extra_path_m[one.state] if len(one.rooms) < 2 else 0.0)
        for one in floor.openings
    ]  # fmt: skip


def _barriers(floor: Floor, extra_path_m: Mapping[OpeningState, float]) -> tuple[BaseGeometry, ...]:
    """Return the walls inside rooms without the openings that stand open."""
    gaps = shapely.union_all([leaf for leaf, extra in _leaves(floor, extra_path_m) if extra <= 0])
    solid = (wall.difference(gaps) for wall in floor.walls)
    return tuple(wall for wall in solid if not wall.is_empty)
