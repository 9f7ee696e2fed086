"""Doors that were drawn: how each lies in its wall, and the spaces at its two sides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely import LineString, Polygon, STRtree

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundOpening
from hgmap.site.plan import OPENING_REACH_M
from hgmap.site.rooming.arrangement import Floats, Ints, Shapes
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.strip_areas import strip_areas

SAME_LINE_M = 0.1
"""Two door leaves side by side are one opening where their lines differ by less than this (m)."""

SAME_WAY = 0.985
"""... and where the cosine between their directions is at least this: within ten degrees."""

LOOKED_M = (0.05, 0.15, OPENING_REACH_M)
"""How far (m) from a door's face a space is looked for, the nearest first."""

SHARE_OF_DOOR = 0.05
"""A space that touches less than this share of a door's face is round its corner."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """A door as it lies in its wall.

    Attributes
    ----------
    part : Part
        As drawn.
    line : LineString
        Along the middle of the wall, as long as the door is wide (m).
    thickness_m : float
        Of the wall there; 0 where the door is a line.
    """

    part: Part
    line: LineString
    thickness_m: float


def leaf_of(part: Part, shape: Polygon) -> Leaf:
    """Read a polygon in a wall as a door: its long axis is its width.

    Examples
    --------
    >>> from hgmap.site.importers.drawing import Part
    >>> drawn = shapely.box(0, 0, 0.9, 0.2)
    >>> leaf = leaf_of(Part("door", drawn, "a door"), drawn)
    >>> round(leaf.line.length, 3), round(leaf.thickness_m, 3)
    (0.9, 0.2)
    """
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))[:4]
    if len(corners) < 4:
        return Leaf(part, LineString(corners[[0, -1]]), 0.0)
    one, other = np.hypot(*(corners[1] - corners[0])), np.hypot(*(corners[2] - corners[1]))
    if one < other:
        corners = np.roll(corners, -1, axis=0)
    ends = [(corners[3] + corners[0]) / 2, (corners[1] + corners[2]) / 2]
    return Leaf(part, LineString(ends), float(min(one, other)))


def double_doors(leaves: Sequence[Leaf], gap_m: float) -> list[Leaf]:
    """Make one opening of door leaves side by side.

    Parameters
    ----------
    leaves : sequence of Leaf
        In the order of the file.
    gap_m : float
        Leaves no farther apart (m) are side by side.
    """
    if len(leaves) < 2:
        return list(leaves)
    lines = np.array([leaf.line for leaf in leaves], dtype=object)
    i, j = STRtree(lines).query(lines, predicate="dwithin", distance=gap_m)
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2)
    way = ends[:, 1] - ends[:, 0]
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    middle = ends.mean(axis=1)
    apart = middle[j] - middle[i]
    same_way = np.abs(np.einsum("ij,ij->i", way[i], way[j])) >= SAME_WAY
    aside = np.abs(way[i, 0] * apart[:, 1] - way[i, 1] * apart[:, 0]) <= SAME_LINE_M
    beside = same_way & aside & (i != j)
    graph = coo_array((np.ones(int(beside.sum())), (i[beside], j[beside])), (len(leaves),) * 2)
    _, label = connected_components(graph, directed=False)
    found: list[Leaf] = []
    for members in _members(label):
        first = leaves[members[0]]
        if len(members) > 1:
            corners = ends[members].reshape(-1, 2)
            along = (corners - corners[0]) @ way[members[0]]
            line = LineString(corners[[along.argmin(), along.argmax()]])
            thickness = max(leaves[one].thickness_m for one in members)
            name = " and ".join(leaves[one].part.label for one in members)
            first = Leaf(replace(first.part, label=name), line, thickness)
        found.append(first)
    return found


def openings_of(
    leaves: Sequence[Leaf], spaces: Sequence[Polygon], solid: shapely.Geometry, repairs: Repairs
) -> list[FoundOpening]:
    """Join the spaces at a door's two sides, and say where there is something odd.

    Parameters
    ----------
    leaves : sequence of Leaf
        In their walls.
    spaces : sequence of Polygon
        Rooms, and ground outdoors if it is known.
    solid : shapely.Geometry
        Walls and windows.
    repairs : Repairs
        Takes what is odd.
    """
    left, right = sides_of(leaves, np.array(spaces, dtype=object))
    found: list[FoundOpening] = []
    for leaf, one, other in zip(leaves, left.tolist(), right.tolist(), strict=True):
        label = leaf.part.label
        if one < 0 and other < 0:
            repairs.remark(f"{label}: a door with no room at either side", leaf.line)
            continue
        if one == other:
            repairs.doubt(
                "door in a room",
                f"{label}: the same room lies on both sides; look whether a wall is missing,",
                leaf.line,
            )
        elif leaf.thickness_m / 2 > OPENING_REACH_M:
            repairs.doubt(
                "thick at a door",
                f"{label}: its wall is {leaf.thickness_m:.2f} m thick, and a door joins rooms "
                f"through {2 * OPENING_REACH_M:g} m at most; look at it,",
                leaf.line,
            )
        found.append(FoundOpening(leaf.line, leaf.part.state, leaf.part.id, label))
    return found


def sides_of(leaves: Sequence[Leaf], spaces: Shapes) -> tuple[Ints, Ints]:
    """Return the space at the left and at the right of each door, -1 for none."""
    if not leaves:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    ends = shapely.get_coordinates([leaf.line for leaf in leaves]).reshape(-1, 2, 2)
    thickness = np.array([leaf.thickness_m for leaf in leaves])
    way = ends[:, 1] - ends[:, 0]
    way /= np.maximum(np.hypot(*way.T), 1e-9)[:, None]
    normal = np.column_stack([-way[:, 1], way[:, 0]])
    return (
        _beside(ends, normal, thickness, spaces),
        _beside(ends, -normal, thickness, spaces),
    )


def _beside(ends: Floats, normal: Floats, thickness: NDArray[np.float64], spaces: Shapes) -> Ints:
    """Return the space that covers most of a strip beside each door; the nearest strip wins."""
    found = np.full(len(ends), -1, dtype=np.int64)
    tree = STRtree(spaces)
    for reach in LOOKED_M:
        todo = np.flatnonzero(found < 0)
        start, end, aside = ends[todo, 0], ends[todo, 1], normal[todo]
        near = aside * (thickness[todo] / 2)[:, None]
        far = near + aside * reach
        strips = np.stack([start + near, end + near, end + far, start + far], axis=1)
        drawn = shapely.polygons(strips)
        i, j = tree.query(drawn, predicate="intersects")
        covered = strip_areas(strips[i], spaces[j])
        enough = covered > SHARE_OF_DOOR * shapely.area(drawn)[i]
        order = np.argsort(covered[enough], kind="stable")  # the largest is written last
        found[todo[i[enough][order]]] = j[enough][order]
    return found


def _members(label: NDArray[np.int32]) -> list[list[int]]:
    groups: dict[int, list[int]] = {}
    for number, group in enumerate(label.tolist()):
        groups.setdefault(group, []).append(number)
    return list(groups.values())
