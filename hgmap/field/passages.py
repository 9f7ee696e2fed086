"""Where an opening leads through: a stretch of the outline of each of its two rooms.

An opening's line may lie on the edge that two rooms share, or anywhere near the two faces of a
thick wall. Seen along its normal, each room shows it one straight edge; the passage is the stretch
of the opening's width that both edges cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hgmap.field.doorways import REACH_M
from hgmap.site.building import Floor, Opening

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAME_PLACE_M: Final = 1e-6
"""Corners closer than this (m) are one."""

DECIMALS: Final = 9
"""Corners are rounded to this many decimals (m): none stand almost at one place."""

NARROWEST_M: Final = 0.01
"""A passage narrower than this (m) is a drawing tolerance, not a passage."""

OVERLAP_M: Final = 0.05
"""Rooms that overlap by up to this (m) at a door still face each other there."""

STEEPEST: Final = 2.0
"""An edge that leaves the opening's line more steeply than this does not face it."""


class Passage(NamedTuple):
    """Two stretches of outline that an opening joins, in the frame of the outlines (m).

    ``below`` is the room (position in the floor) that lies right of the opening's line as it is
    walked from its start, and ``above`` the one left of it. The stretches, (2, 2) each, are given
    in the direction of the line.
    """

    opening: int
    below: int
    above: int
    below_edge: Floats
    above_edge: Floats


@dataclass
class Outline:
    """The rings of one room, its inside on the left of each, that doors put corners into.

    Attributes
    ----------
    start, end : arrays of shape (e, 2)
        Ends of the edges (m).
    ring : array of shape (e,)
    """

    start: Floats
    end: Floats
    ring: Ints
    _added: dict[int, list[tuple[float, Floats]]] = field(default_factory=dict)
    _taken: dict[int, list[tuple[float, float]]] = field(default_factory=dict)

    @classmethod
    def of(cls, polygon: Polygon, origin: Floats) -> Outline:
        """Take a room's outline, without corners that are none."""
        whole = shapely.geometry.polygon.orient(polygon)
        rings = [_corners(np.round(shapely.get_coordinates(ring)[:-1] - origin, DECIMALS))
                 for ring in (whole.exterior, *whole.interiors)]  # fmt: skip
        rings = [ring for ring in rings if len(ring) >= 3]
        return cls(
            np.vstack([np.empty((0, 2)), *rings]),
            np.vstack([np.empty((0, 2)), *(np.roll(ring, -1, axis=0) for ring in rings)]),
            np.repeat(np.arange(len(rings)), [len(ring) for ring in rings]).astype(np.int64),
        )

    def polygon(self) -> Polygon:
        """Return the room with the corners of its doors put in."""
        rings: list[list[Floats]] = [[] for _ in range(int(self.ring.max(initial=-1)) + 1)]
        for edge, ring in enumerate(self.ring):
            rings[ring].append(self.start[edge])
            rings[ring] += [at for _, at in sorted(self._added.get(edge, []), key=lambda x: x[0])]
        return Polygon(rings[0], rings[1:]) if rings else Polygon()

    def free(self, edge: int, low: float, high: float) -> tuple[float, float]:
        """Return the longest part of a stretch (shares of an edge) that no door has taken yet."""
        parts = [(low, high)]
        for a, b in self._taken.get(edge, []):
            parts = [
                part
                for x, y in parts
                for part in ((x, min(y, a)), (max(x, b), y))
                if part[1] > part[0]
            ]  # fmt: skip
        return max(parts, key=lambda part: part[1] - part[0], default=(low, low))

    def take(self, edge: int, shares: tuple[float, float]) -> Floats:
        """Put the ends of a door (shares of an edge) into the outline; return them, (2, 2)."""
        self._taken.setdefault(edge, []).append((min(shares), max(shares)))
        return np.stack([self._put(edge, share) for share in shares])

    def _put(self, edge: int, share: float) -> Floats:
        a: Floats = self.start[edge]
        b: Floats = self.end[edge]
        near = SAME_PLACE_M / float(np.hypot(*(b - a)))
        added = self._added.setdefault(edge, [])
        for there, corner in ((0.0, a), (1.0, b), *added):
            if abs(share - there) <= near:
                return corner
        corner = np.round(a + share * (b - a), DECIMALS)
        added.append((share, corner))
        return corner


def find_passages(floor: Floor, outlines: Sequence[Outline], origin: Floats) -> list[Passage]:
    """Find where the openings of a floor that are not sealed lead through; outlines get corners.

    An opening that lies near only one room, or faces none of its two, leads nowhere. Where two
    openings overlap on one edge, the later one keeps what is left of its width.
    """
    place = {room.id: index for index, room in enumerate(floor.rooms)}
    passages = []
    for number, opening in enumerate(floor.openings):
        if opening.state == "sealed" or len(opening.rooms) != 2:
            continue
        a, b = (place[identifier] for identifier in opening.rooms)
        found = _lead_through(opening, outlines[a], outlines[b], origin)
        if found is not None:
            swapped, below_edge, above_edge = found
            below, above = (b, a) if swapped else (a, b)
            passages.append(Passage(number, below, above, below_edge, above_edge))
    return passages


class _Facing(NamedTuple):
    """An edge as an opening sees it: its stretch of the width, and how far off it is there."""

    edge: int
    above: bool
    low: float
    high: float
    off: float
    slope: float
    share: float
    per_metre: float

    def off_at(self, s: float) -> float:
        return self.off + self.slope * (s - self.low)

    def share_at(self, s: float) -> float:
        return self.share + self.per_metre * (s - self.low)


def _lead_through(
    opening: Opening, one: Outline, other: Outline, origin: Floats
) -> tuple[bool, Floats, Floats] | None:
    line = shapely.get_coordinates(opening.line)[[0, -1]] - origin
    best = _face_to_face(line, one, other)
    if best is None:  # drawn across the wall, not along it: turned to lie along it
        turned = _along_nearest(shapely.get_coordinates(
            opening.line.interpolate(0.5, normalized=True))[0] - origin,
            float(opening.line.length), one)  # fmt: skip
        best = None if turned is None else _face_to_face(turned, one, other)
    if best is None:
        return None
    mine, its, low, high = best
    low, high = _in_width(mine, one.free(mine.edge, *_shares(mine, low, high)))
    if high - low >= NARROWEST_M:
        low, high = _in_width(its, other.free(its.edge, *_shares(its, low, high)))
    if high - low < NARROWEST_M:
        return None
    edges = [
        outline.take(edge.edge, (edge.share_at(low), edge.share_at(high)))
        for outline, edge in ((one, mine), (other, its))
    ]
    return (True, edges[1], edges[0]) if mine.above else (False, edges[0], edges[1])


def _shares(edge: _Facing, low: float, high: float) -> tuple[float, float]:
    a, b = edge.share_at(low), edge.share_at(high)
    return min(a, b), max(a, b)


def _in_width(edge: _Facing, shares: tuple[float, float]) -> tuple[float, float]:
    a, b = ((share - edge.share) / edge.per_metre + edge.low for share in shares)
    return min(a, b), max(a, b)


def _face_to_face(
    line: Floats, one: Outline, other: Outline
) -> tuple[_Facing, _Facing, float, float] | None:
    """Return the edges that face each other best, and the stretch of the width they share."""
    width = float(np.hypot(*(line[1] - line[0])))
    if width < NARROWEST_M:
        return None
    best, found = -np.inf, None
    theirs = _facing(line, width, other)
    for mine in _facing(line, width, one):
        for its in theirs:
            low, high = max(mine.low, its.low), min(mine.high, its.high)
            if mine.above == its.above or high - low < NARROWEST_M:
                continue
            sign = 1.0 if its.above else -1.0
            gap = [sign * (its.off_at(s) - mine.off_at(s)) for s in (low, high)]
            middle = 0.5 * (low + high)
            far = abs(mine.off_at(middle)) + abs(its.off_at(middle))
            merit = (high - low) / width - far / (2 * REACH_M)
            if min(gap) >= -OVERLAP_M and merit > best:
                best, found = merit, (mine, its, low, high)
    return found


def _facing(line: Floats, width: float, outline: Outline) -> list[_Facing]:
    along = (line[1] - line[0]) / width
    normal = np.array([-along[1], along[0]])
    s0, s1 = (outline.start - line[0]) @ along, (outline.end - line[0]) @ along
    t0, t1 = (outline.start - line[0]) @ normal, (outline.end - line[0]) @ normal
    low, high = np.maximum(np.minimum(s0, s1), 0.0), np.minimum(np.maximum(s0, s1), width)
    run = np.where(s1 == s0, np.nan, s1 - s0)
    slope = (t1 - t0) / run
    off = t0 + slope * (low - s0)
    middle = np.abs(t0 + slope * (0.5 * (low + high) - s0))
    near = (high - low >= NARROWEST_M) & (np.abs(slope) <= STEEPEST) & (middle <= REACH_M)
    return [
        _Facing(int(k), bool(run[k] > 0), float(low[k]), float(high[k]), float(off[k]),
                float(slope[k]), float((low[k] - s0[k]) / run[k]), float(1.0 / run[k]))
        for k in np.flatnonzero(near)
    ]  # fmt: skip


def _along_nearest(middle: Floats, width: float, outline: Outline) -> Floats | None:
    """Return a line of this width through a place, along the edge nearest to it."""
    if not len(outline.start):
        return None
    edges = shapely.linestrings(np.stack([outline.start, outline.end], axis=1))
    edge = int(np.argmin(shapely.distance(edges, shapely.points(middle))))
    along = outline.end[edge] - outline.start[edge]
    half = 0.5 * width * along / np.hypot(*along)
    return np.stack([middle - half, middle + half])


def _corners(ring: Floats) -> Floats:
    """Return a ring without repeated corners and those on a straight edge."""
    for _ in range(2):
        ring = ring[np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > 1e-9]
        before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        flat = np.abs(turn) <= 1e-12 * np.hypot(*before.T) * np.hypot(*after.T)
        onward = (before * after).sum(axis=1) > 0
        ring = ring[~(flat & onward)]
    return np.ascontiguousarray(ring) + 0.0
