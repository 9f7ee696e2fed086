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
"""A short way ends in a corner within this (m): a little more than the step of the grid."""

WIDTH_M = 0.05
"""The widest circles are found to this (m)."""

WALL_PIECE = 2.5
"""A piece of wall that stands alone, between doors, is so many times as long as thick, or more: a
column is not. Ours, no source."""

MANY_CORNERS = 1000

ON_M = 1e-9
"""An edge within this (m) of a line is part of it: noding moves a line by its last digits."""


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


def places_of(points: Floats) -> tuple[Floats, Ints]:
    """Return the different places among points, by x and then by y, and the place of each point.

    Examples
    --------
    >>> places_of(np.array([[2.0, 0.0], [1.0, 5.0], [2.0, 0.0]]))
    (array([[1., 5.],
           [2., 0.]]), array([1, 0, 1]))
    """
    order = np.lexsort((points[:, 1], points[:, 0]))
    ordered = points[order]
    new = np.ones(len(points), dtype=bool)
    new[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    place = np.empty(len(points), dtype=np.int64)
    place[order] = np.cumsum(new) - 1
    return ordered[new], place


def lengths_of(segments: Floats) -> Floats:
    """Return the lengths (m) of segments of shape (n, 2, 2)."""
    along = segments[:, 1] - segments[:, 0]
    found: Floats = np.hypot(along[:, 0], along[:, 1])
    return found


def shortest_ways(
    points: Floats, segments: Floats, reach_m: float, same_foot_m: float = SAME_FOOT_M
) -> tuple[Ints, Floats]:
    """Return the shortest ways from points to segments nearby.

    Parameters
    ----------
    points : array of shape (n, 2)
        Corners and ends of lines (m).
    segments : array of shape (k, 2, 2)
        Pieces of lines (m).
    reach_m : float
        The longest way (m).
    same_foot_m : float
        A way that ends within this (m) of a corner ends in it.

    Returns
    -------
    which : array of shape (m,)
        The point of each way.
    ways : array of shape (m, 2, 2)
        From the point to the nearest place on a segment (m); none of no length.
    """
    if not len(points) or not len(segments):
        return np.empty(0, dtype=np.int64), np.empty((0, 2, 2))
    tree = STRtree(shapely.linestrings(segments))
    i, j = tree.query(shapely.points(points), predicate="dwithin", distance=reach_m)
    point, start, along = points[i], segments[j, 0], segments[j, 1] - segments[j, 0]
    share = np.einsum("ij,ij->i", point - start, along) / np.einsum("ij,ij->i", along, along)
    foot = start + np.clip(share, 0.0, 1.0)[:, None] * along
    for end in (segments[j, 0], segments[j, 1]):
        # two ways a tenth of a millimetre apart would leave a face that no point is found in
        foot = np.where(np.hypot(*(foot - end).T)[:, None] < same_foot_m, end, foot)
    ways = np.stack([point, foot], axis=1)
    # a millionth of a metre is the rounding of one corner drawn twice
    some = lengths_of(ways) > OVERLAP_M
    return np.asarray(i)[some], ways[some]


def widths(shapes: Shapes) -> NDArray[np.float64]:
    """Return the diameter (m) of the widest circle in each polygon, to 5 cm.

    Of a polygon with very many corners (a whole network of walls, the ground outdoors) the
    thickness is returned, which is less: a circle there would take longer than all others.
    """
    found = thickness_of(shapes)
    few = shapely.get_num_coordinates(shapes) <= MANY_CORNERS
    circles = shapely.maximum_inscribed_circle(shapes[few], WIDTH_M)
    found[few] = 2 * shapely.length(circles)
    return found


def holds_circle(shapes: Shapes, width_m: float) -> NDArray[np.bool_]:
    """Tell which polygons hold a circle of this diameter (m).

    A polygon is no larger than its perimeter times the radius of its widest circle, so most are
    known without a look at their shape.
    """
    sure = 2 * shapely.area(shapes) > width_m * shapely.length(shapes)
    found: NDArray[np.bool_] = sure.copy()
    found[~sure] = ~shapely.is_empty(shapely.buffer(shapes[~sure], -width_m / 2))
    return found


def is_strip(shapes: Shapes, thickest_m: float) -> NDArray[np.bool_]:
    """Tell which polygons may be the inside of walls.

    Parameters
    ----------
    shapes : array of shape (n,) of Polygon
        In metres.
    thickest_m : float
        The thickest wall (m). Where two walls cross, a circle √2 as wide fits.
    """
    found: NDArray[np.bool_] = thickness_of(shapes) <= thickest_m
    across = np.sqrt(2.0) * thickest_m + OVERLAP_M
    found[found] = shapely.is_empty(shapely.buffer(shapes[found], -across / 2))
    return found


def thickness_of(shapes: Shapes) -> NDArray[np.float64]:
    """Return the shorter side (m) of the rectangle of the same area and perimeter.

    Examples
    --------
    >>> thickness_of(np.array([shapely.box(0, 0, 5, 0.2)])).round(3).tolist()
    [0.2]
    """
    half, area = shapely.length(shapes) / 2, shapely.area(shapes)
    found: NDArray[np.float64] = (half - np.sqrt(np.maximum(half**2 - 4 * area, 0.0))) / 2
    return found


def is_wall_piece(shapes: Shapes, thickest_m: float) -> NDArray[np.bool_]:
    """Tell which areas are pieces of a wall that stand alone, straight or with corners.

    Parameters
    ----------
    shapes : array of shape (n,) of Polygon
        In metres.
    thickest_m : float
        The thickest wall (m).

    Examples
    --------
    >>> pieces = np.array([shapely.box(0, 0, 0.7, 0.2), shapely.box(0, 0, 0.4, 0.3)])
    >>> is_wall_piece(pieces, 0.6).tolist()
    [True, False]
    """
    long = shapely.area(shapes) >= WALL_PIECE * thickness_of(shapes) ** 2
    found: NDArray[np.bool_] = long & is_strip(shapes, thickest_m)
    return found


def clear_of(cuts: Floats, lines: Shapes) -> Ints:
    """Choose cuts that cross no line and no shorter cut, each once; return their numbers."""
    if not len(cuts):
        return np.empty(0, dtype=np.int64)
    # rounding puts the end of a cut on either side of the edge that it ends in
    length = lengths_of(cuts)
    short = np.maximum(1.0 - OVERLAP_M / np.maximum(length, OVERLAP_M), 0.5)[:, None]
    ends = cuts[:, 0] + short * (cuts[:, 1] - cuts[:, 0])
    shorter = shapely.linestrings(np.stack([cuts[:, 0], ends], axis=1))
    crossing, _ = STRtree(lines).query(shorter, predicate="crosses")
    number = np.setdiff1d(np.arange(len(cuts)), crossing)
    ends = np.round(cuts[number], 5)
    turned = (ends[:, 0, 0] > ends[:, 1, 0]) | (
        (ends[:, 0, 0] == ends[:, 1, 0]) & (ends[:, 0, 1] > ends[:, 1, 1])
    )
    ends[turned] = ends[turned, ::-1]
    _, first = np.unique(ends.reshape(-1, 4), axis=0, return_index=True)
    number = number[np.sort(first)]
    number = number[np.argsort(lengths_of(cuts[number]), kind="stable")]
    if not len(number):
        return number
    drawn = shapely.linestrings(cuts[number])
    i, j = STRtree(drawn).query(drawn, predicate="crosses")
    out = np.zeros(len(number), dtype=bool)
    for longer, shorter in sorted(zip(i[i > j].tolist(), j[i > j].tolist(), strict=True)):
        out[longer] |= not out[shorter]
    return number[~out]


def with_cuts(lines: Shapes, cuts: Floats) -> Shapes:
    """Return noded lines with cuts among them.

    A cut begins in a corner of the lines; one that ends within an edge runs on, and so meets it.
    """
    if not len(cuts):
        return lines
    at_corner = np.isin(_complex(cuts[:, 1]), _complex(shapely.get_coordinates(lines)))
    along = (cuts[:, 1] - cuts[:, 0]) / lengths_of(cuts)[:, None]
    ends = cuts[:, 1] + np.where(at_corner, 0.0, OVERLAP_M)[:, None] * along
    longer = shapely.linestrings(np.stack([cuts[:, 0], ends], axis=1))
    return noded(np.concatenate([lines, longer]))


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Faces, and the cuts between them.

    A cut that passes a corner is in several pieces; every piece has its own two faces.

    Attributes
    ----------
    faces : array of shape (n,) of Polygon
        They cover the ground inside the lines, without overlap.
    cuts : array of shape (m, 2, 2)
        The cut of each piece (m), the longest first.
    sides : array of shape (m, 2)
        The two faces beside each piece.
    number : array of shape (m,)
        Which of the cuts that were laid it is of.
    """

    faces: Shapes
    cuts: Floats
    sides: Ints
    number: Ints

    @classmethod
    def of(cls, lines: Shapes, cuts: Floats) -> Arrangement:
        """Lay cuts over noded lines; a cut that parts no two faces is left out."""
        faces: Shapes = shapely.get_parts(shapely.polygonize(with_cuts(lines, cuts)))
        middle, sides = _shared_edges(faces)
        on_line, _ = STRtree(lines).query(middle, predicate="dwithin", distance=ON_M)
        loose = np.setdiff1d(np.arange(len(middle)), on_line)
        at, number = STRtree(shapely.linestrings(cuts)).query_nearest(
            middle[loose], max_distance=OVERLAP_M, all_matches=False
        )
        order = np.argsort(-lengths_of(cuts[number]), kind="stable")
        return cls(faces, cuts[number][order], sides[loose[at]][order], number[order])

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
        return Arrangement(self.faces, self.cuts[both], self.sides[both], self.number[both])

    def whole(self, these: NDArray[np.bool_]) -> Floats:
        """Return the cuts that some pieces are of, each once."""
        _, first = np.unique(self.number[these], return_index=True)
        found: Floats = self.cuts[these][first]
        return found

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


def _shared_edges(faces: Shapes) -> tuple[Shapes, Ints]:
    """Return the middles of the straight edges that two faces share, and those faces."""
    rings, face = shapely.get_rings(faces, return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    corners = corners + 0.0  # one zero only
    same = ring[1:] == ring[:-1]
    start, end = _complex(corners[:-1][same]), _complex(corners[1:][same])
    face = face[ring[1:][same]]
    low, high = np.minimum(start, end), np.maximum(start, end)  # by x, then by y
    order = np.lexsort((high.imag, high.real, low.imag, low.real))
    low, high, face = low[order], high[order], face[order]
    twice = np.nonzero((low[1:] == low[:-1]) & (high[1:] == high[:-1]))[0]
    middle = (low[twice] + high[twice]) / 2
    sides = np.column_stack([face[twice], face[twice + 1]])
    return shapely.points(middle.real, middle.imag), sides
