"""Where walls end: loose ends of lines, and the short edges that close thick walls."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from hgmap.site.rooming.arrangement import (
    Floats,
    Ints,
    Shapes,
    is_wall_piece,
    lengths_of,
    places_of,
    segments_of,
)

COLUMN = 2.0
"""A solid part whose box measures less than so many wall thicknesses across is a column."""

STRAIGHT_M = 1e-3
"""A corner that leaves the straight line by less than this (m) is none."""

PARALLEL = 0.9
"""The flanks of a thick wall's end are parallel where the cosine between them is at least this."""


@dataclass(frozen=True, slots=True)
class WallEnds:
    """Ends of walls.

    Attributes
    ----------
    places : array of shape (n, 2)
        The ends of lines, and the two corners of each thick wall's end (m).
    ways : array of shape (n, 2)
        The direction in which the wall would go on, of length 1.
    behind_m : array of shape (n,)
        How long the straight wall before the end is (m).
    loose : array of shape (n,)
        True for the end of a line; False for a corner of a thick wall's end.
    """

    places: Floats
    ways: Floats
    behind_m: NDArray[np.float64]
    loose: NDArray[np.bool_]

    def chosen(self, these: NDArray[np.bool_]) -> WallEnds:
        """Return some of the ends."""
        return WallEnds(
            self.places[these], self.ways[these], self.behind_m[these], self.loose[these]
        )


def straightened(lines: Shapes) -> Shapes:
    """Return noded lines without the corners that lie on a straight line."""
    merged = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(lines.tolist())))
    for number in np.nonzero(shapely.is_closed(merged))[0].tolist():
        corners = shapely.get_coordinates(merged[number])[:-1]
        # a ring is never simplified where it begins: the farthest corner is a true one
        start = int(np.argmax(np.hypot(*(corners - corners.mean(axis=0)).T)))
        merged[number] = shapely.linestrings(np.vstack([corners[start:], corners[: start + 1]]))
    found: Shapes = shapely.simplify(merged, STRAIGHT_M, preserve_topology=False)
    return found


def wall_ends(lines: Shapes, thickest_m: float) -> WallEnds:
    """Find the ends of walls among noded lines.

    Parameters
    ----------
    lines : array of LineString
        They meet only in their ends (m).
    thickest_m : float
        The end of a thick wall is an edge no longer than this (m).
    """
    pieces = segments_of(straightened(lines))
    _, place = places_of(pieces.reshape(-1, 2))
    place = place.reshape(-1, 2)
    degree = np.bincount(place.ravel())
    length = lengths_of(pieces)
    way = (pieces[:, 1] - pieces[:, 0]) / length[:, None]
    loose = [
        (pieces[at, side], way[at] * (1 if side else -1), length[at])
        for side in (0, 1)
        for at in [degree[place[:, side]] == 1]
    ]
    beside = _others(place, degree)
    caps = np.nonzero((length <= thickest_m) & (beside >= 0).all(axis=1))[0]
    flanks = beside[caps]
    # flanks point towards the edge between them
    toward = [
        np.where((place[flanks[:, side], 1] == place[caps, side])[:, None], 1, -1)
        * way[flanks[:, side]]
        for side in (0, 1)
    ]
    across = np.abs(np.einsum("ij,ij->i", toward[0], way[caps]))
    ends = (np.einsum("ij,ij->i", toward[0], toward[1]) >= PARALLEL) & (across <= 1 - PARALLEL / 2)
    closed = [
        (pieces[caps[ends], side], toward[side][ends], length[flanks[ends, side]])
        for side in (0, 1)
    ]
    places, ways, behind = (np.concatenate(parts) for parts in zip(*loose, *closed, strict=True))
    number = sum(len(one[0]) for one in loose)
    return WallEnds(places, ways, behind, np.arange(len(places)) < number)


def at_columns(places: Floats, solid: shapely.Geometry, thickest_m: float) -> NDArray[np.bool_]:
    """Tell which places are corners of columns: solid parts no larger than a wall is thick.

    A piece of wall between two doors may be as small, but is longer than thick.
    """
    parts = shapely.get_parts(solid)
    west, south, east, north = shapely.bounds(shapely.minimum_rotated_rectangle(parts)).T
    small = np.hypot(east - west, north - south) <= COLUMN * thickest_m
    small &= ~is_wall_piece(parts, thickest_m)
    found = np.zeros(len(places), dtype=bool)
    at, _ = STRtree(parts[small]).query(shapely.points(places), predicate="dwithin", distance=1e-3)
    found[at] = True
    return found


def _others(place: Ints, degree: Ints) -> Ints:
    """Return the one other piece at each end of each piece; -1 where there is none or several."""
    number = np.repeat(np.arange(len(place)), 2)
    order = np.argsort(place.ravel(), kind="stable")
    sorted_place, sorted_number = place.ravel()[order], number[order]
    first = np.searchsorted(sorted_place, np.arange(len(degree)))
    pair = np.full((len(degree), 2), -1, dtype=np.int64)
    two = degree == 2
    pair[two, 0] = sorted_number[first[two]]
    pair[two, 1] = sorted_number[first[two] + 1]
    mine = np.arange(len(place))[:, None]
    at = pair[place]  # shape (n, 2, 2)
    found: Ints = np.where(at[:, :, 0] == mine, at[:, :, 1], at[:, :, 0])
    return found
