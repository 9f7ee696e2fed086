"""Faces between lines, and short cuts across their narrow places.

A *face* is the ground between lines. A *cut* is a short straight line across a narrow place. All
cuts that might be wanted are laid at once; then faces are joined again over the cuts, the longest
cut first, unless both sides are spaces of their own. What stays is the shortest cut of each narrow
place: a greatest spanning forest of the faces, and no search along curves.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import STRtree

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Shapes = NDArray[np.object_]

OVERLAP_M = 1e-5
"""A cut that ends within an edge runs on by this (m), so that rounding leaves no slit there."""

SAME_FOOT_M = 2.5e-4
"""A way that ends within this (m) of a corner ends in it: a little more than the grid's step."""

ASIDE_M = 1e-5
"""The faces beside a cut are looked for so far (m) from its middle."""


def segments_of(lines: Shapes) -> Floats:
    """Return the straight pieces of lines, shape (n, 2, 2) (m), without those of no length."""
    coordinates, line = shapely.get_coordinates(lines, return_index=True)
    if len(coordinates) < 2:
        return np.empty((0, 2, 2))
    same = line[1:] == line[:-1]
    pieces = np.stack([coordinates[:-1][same], coordinates[1:][same]], axis=1)
    kept: Floats = pieces[np.any(pieces[:, 0] != pieces[:, 1], axis=1)]
    return kept


def noded(lines: Shapes, grid_m: float | None = None) -> Shapes:
    """Break lines wherever they meet, on a grid if asked; what lies on one another becomes one."""
    found: Shapes = shapely.get_parts(shapely.union_all(lines, grid_size=grid_m))
    kept: Shapes = found[shapely.get_type_id(found) == 1]
    return kept


def lengths_of(segments: Floats) -> Floats:
    """Return the lengths (m) of segments of shape (n, 2, 2)."""
    along = segments[:, 1] - segments[:, 0]
    found: Floats = np.hypot(along[:, 0], along[:, 1])
    return found


def crossings(points: Floats, segments: Floats, reach_m: float) -> Floats:
    """Return the shortest ways from points to segments nearby.

    Parameters
    ----------
    points : array of shape (n, 2)
        Corners and ends of lines (m).
    segments : array of shape (k, 2, 2)
        Pieces of lines (m).
    reach_m : float
        The longest way (m).

    Returns
    -------
    array of shape (m, 2, 2)
        From the point to the nearest place on the segment (m); none of no length.
    """
    if not len(points) or not len(segments):
        return np.empty((0, 2, 2))
    tree = STRtree(shapely.linestrings(segments))
    i, j = tree.query(shapely.points(points), predicate="dwithin", distance=reach_m)
    point, start, along = points[i], segments[j, 0], segments[j, 1] - segments[j, 0]
    share = np.einsum("ij,ij->i", point - start, along) / np.einsum("ij,ij->i", along, along)
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * along
    for end in (segments[j, 0], segments[j, 1]):
        # two ways a tenth of a millimetre apart would leave a face that no point is found in
        foot = np.where(np.hypot(*(foot - end).T)[:, None] < SAME_FOOT_M, end, foot)
    ways = np.stack([point, foot], axis=1)
    # a millionth of a metre is the rounding of one corner drawn twice
    return ways[lengths_of(ways) > OVERLAP_M]


def clear_of(cuts: Floats, lines: Shapes) -> Floats:
    """Leave out cuts that cross a line, then those that cross a shorter cut, and doubles."""
    if not len(cuts):
        return cuts
    drawn = shapely.linestrings(cuts)
    crossing, _ = STRtree(lines).query(drawn, predicate="crosses")
    cuts = np.delete(cuts, np.unique(crossing), axis=0)
    ends = np.round(cuts, 5)
    turned = (ends[:, 0, 0] > ends[:, 1, 0]) | (
        (ends[:, 0, 0] == ends[:, 1, 0]) & (ends[:, 0, 1] > ends[:, 1, 1])
    )
    ends[turned] = ends[turned, ::-1]
    _, first = np.unique(ends.reshape(-1, 4), axis=0, return_index=True)
    cuts = cuts[np.sort(first)]
    cuts = cuts[np.argsort(lengths_of(cuts), kind="stable")]
    if not len(cuts):
        return cuts
    drawn = shapely.linestrings(cuts)
    i, j = STRtree(drawn).query(drawn, predicate="crosses")
    out = np.zeros(len(cuts), dtype=bool)
    for longer, shorter in sorted(zip(i[i > j].tolist(), j[i > j].tolist(), strict=True)):
        out[longer] |= not out[shorter]
    return cuts[~out]


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Faces, and the cuts between them.

    Attributes
    ----------
    faces : array of shape (n,) of Polygon
        They cover the ground inside the lines, without overlap.
    cuts : array of shape (m, 2, 2)
        In metres, the longest first.
    sides : array of shape (m, 2)
        The two faces beside each cut.
    """

    faces: Shapes
    cuts: Floats
    sides: Ints

    @classmethod
    def of(cls, lines: Shapes, cuts: Floats) -> Arrangement:
        """Lay cuts over noded lines; a cut that parts no two faces is left out."""
        cuts = cuts[np.argsort(-lengths_of(cuts), kind="stable")]
        along = (cuts[:, 1] - cuts[:, 0]) / np.maximum(lengths_of(cuts), 1e-12)[:, None]
        if len(cuts):
            # a way begins in a corner; one that ends within an edge runs on, and so meets it
            at_corner = np.isin(_complex(cuts[:, 1]), _complex(shapely.get_coordinates(lines)))
            ends = cuts[:, 1] + np.where(at_corner, 0.0, OVERLAP_M)[:, None] * along
            longer = np.stack([cuts[:, 0], ends], axis=1)
            lines = noded(np.concatenate([lines, shapely.linestrings(longer)]))
        faces: Shapes = shapely.get_parts(shapely.polygonize(lines))
        aside = ASIDE_M * np.column_stack([-along[:, 1], along[:, 0]])
        middle = cuts.mean(axis=1)
        sides = np.column_stack([face_at(faces, middle + aside), face_at(faces, middle - aside)])
        parting = (sides >= 0).all(axis=1) & (sides[:, 0] != sides[:, 1])
        return cls(faces, cuts[parting], sides[parting])

    def joined(
        self, keeps: Callable[[int, int, int], bool], merged: Callable[[int, int], None]
    ) -> tuple[Ints, NDArray[np.bool_]]:
        """Join faces over the cuts, the longest first.

        Parameters
        ----------
        keeps : callable
            Told a cut and the two groups beside it, says whether the cut stays.
        merged : callable
            Told that the second group is now part of the first.

        Returns
        -------
        group : array of shape (n,)
            The group of each face: the number of one of its faces.
        kept : array of shape (m,)
            True for cuts that stay between two groups.
        """
        parent = np.arange(len(self.faces))

        def root(face: int) -> int:
            while parent[face] != face:
                parent[face] = parent[parent[face]]
                face = int(parent[face])
            return face

        stays = np.zeros(len(self.cuts), dtype=bool)
        for cut, (left, right) in enumerate(self.sides.tolist()):
            one, other = sorted((root(left), root(right)))
            if one == other:
                continue
            if keeps(cut, one, other):
                stays[cut] = True
            else:
                parent[other] = one
                merged(one, other)
        group = np.array([root(face) for face in range(len(self.faces))], dtype=np.int64)
        stays &= group[self.sides[:, 0]] != group[self.sides[:, 1]]
        return group, stays

    def between(self, free: NDArray[np.bool_]) -> Arrangement:
        """Return the same faces with only those cuts that have free ground on both sides."""
        both = free[self.sides].all(axis=1)
        return Arrangement(self.faces, self.cuts[both], self.sides[both])

    def rejoined(self, group: Ints, over: NDArray[np.bool_]) -> Ints:
        """Return the groups joined further, over some of the cuts."""
        graph = coo_array(
            (np.ones(int(over.sum())), (group[self.sides[over, 0]], group[self.sides[over, 1]])),
            shape=(len(self.faces), len(self.faces)),
        )
        _, label = connected_components(graph, directed=False)
        return np.asarray(label, dtype=np.int64)[group]

    def spaces(self, group: Ints) -> tuple[Shapes, Ints]:
        """Return the ground of each group as one polygon, and one face of each."""
        order = np.argsort(group, kind="stable")
        numbers, starts = np.unique(group[order], return_index=True)
        found = np.empty(len(numbers), dtype=object)
        for number, members in enumerate(np.split(order, starts[1:])):
            faces = self.faces[members]
            found[number] = faces[0] if len(faces) == 1 else shapely.union_all(faces)
        return found, order[starts]


def _complex(points: Floats) -> NDArray[np.complex128]:
    found: NDArray[np.complex128] = points[:, 0] + 1j * points[:, 1]
    return found


def face_at(faces: Shapes, points: Floats) -> Ints:
    """Return the face that holds each point, -1 for none."""
    found = np.full(len(points), -1, dtype=np.int64)
    if len(points) and len(faces):
        i, j = STRtree(faces).query(shapely.points(points), predicate="intersects")
        found[i] = j
    return found
