"""What can be seen in a straight line, from many places at once, through any number of doors.

From a place, a cone of sight is carried from triangle to neighbour and narrowed by the edge that it
passes (triangular expansion: Bungiu et al. 2014, arXiv:1403.3905). All cones of all places take
their next step together. A cone is open: what stands exactly behind a corner is reached by way of
that corner, at the same length.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hgmap.field.walkmesh import Mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GRAZING: Final = 1e-12
"""Sine of the angle (radians) within which two directions are one."""

PULL: Final = 1e-7
"""Eyes stand this share of the way from their place to the middle of their triangle: off walls, and
off the line between two triangles."""


class Stand(NamedTuple):
    """Places on a floor: where (m, less the origin of the mesh) and in which triangles."""

    xy: Floats
    triangle: Ints


@dataclass(frozen=True)
class Cones:
    """Parts of triangles that are in sight.

    Attributes
    ----------
    eye : array of shape (s,)
        Who sees it.
    triangle : array of shape (s,)
    right, left : arrays of shape (s, 2)
        Unit vectors that bound the cone; NaN where the whole triangle is in sight.
    parent : array of shape (s,)
        The cone that it was carried on from; -1 for the first.
    limited : bool
        Whether the cones ended before they met a wall, for their number.
    """

    eye: Ints
    triangle: Ints
    right: Floats
    left: Floats
    parent: Ints
    limited: bool


@dataclass(frozen=True)
class Seen:
    """Vertices in sight: ``eye`` sees ``vertex`` as the tip of the triangle of ``cone``."""

    eye: Ints
    vertex: Ints
    cone: Ints


def look_from_places(mesh: Mesh, xy: Floats, triangle: Ints, *, most: int) -> tuple[Cones, Seen]:
    """Look round from places (m, less the origin) in triangles; at most about ``most`` cones."""
    count = len(xy)
    at = eyes(mesh, Stand(xy, triangle))
    eye = np.repeat(np.arange(count), 3)
    edge = np.tile(np.arange(3), count)
    tip = Seen(eye, mesh.vertex[triangle].ravel(), eye)
    return _spread(mesh, at, np.arange(count), triangle, eye, edge, tip, most)


def look_from_vertices(mesh: Mesh, vertices: Ints, *, most: int) -> tuple[Cones, Seen]:
    """Look round from vertices; the eyes are positions in ``vertices``."""
    order = np.full(len(mesh.place), -1, dtype=np.int64)
    order[vertices] = np.arange(len(vertices))
    triangle, corner = np.nonzero(order[mesh.vertex] >= 0)
    eye = order[mesh.vertex[triangle, corner]]
    first = np.arange(len(eye))
    tips = np.column_stack([mesh.vertex[triangle, (corner + k) % 3] for k in (1, 2)])
    tip = Seen(np.repeat(eye, 2), tips.ravel(), np.repeat(first, 2))
    # a vertex has a copy of its place in every triangle: rooms may be drawn a little apart
    at = mesh.corner[triangle, corner]
    return _spread(mesh, at, eye, triangle, first, (corner + 1) % 3, tip, most)


def eyes(mesh: Mesh, stand: Stand) -> Floats:
    """Return the places a hair's breadth inside their triangles, shape (n, 2)."""
    middle = mesh.corner[stand.triangle].mean(axis=1)
    return np.asarray(stand.xy + PULL * (middle - stand.xy))


def within(cones: Cones, which: Ints, toward: Floats) -> NDArray[np.bool_]:
    """Tell which directions lie in their cones: from the eye to a place in the triangle.

    Both are as :func:`eyes` puts them.
    """
    right, left = cones.right[which], cones.left[which]
    allowed = -GRAZING * np.hypot(*toward.T)
    outside = (_cross(right, toward) < allowed) | (_cross(toward, left) < allowed)
    # a whole triangle compares as NaN: never outside
    return np.asarray(~outside)


def _spread(
    mesh: Mesh,
    at: Floats,
    eye: Ints,
    triangle: Ints,
    start: Ints,
    edge: Ints,
    tip: Seen,
    most: int,
) -> tuple[Cones, Seen]:
    """Carry on from first triangles (eye, at, triangle) across edges (of the first ``start``)."""
    whole = np.full((len(eye), 2), np.nan)
    kept = [(eye, triangle, whole, whole, np.full(len(eye), -1, dtype=np.int64))]
    seen = [(tip.eye, tip.vertex, tip.cone)]
    position = at[start]
    a, b = (mesh.corner[triangle[start], (edge + k) % 3] - position for k in (0, 1))
    # inside looking out, an edge runs from right to left
    front = _Front(eye[start], position, triangle[start], edge, _unit(a), _unit(b), start)
    total, limited = len(eye), False
    while len(front.eye):
        front = _enter(mesh, front)
        if total + len(front.eye) > most:
            limited = True
            break
        number = total + np.arange(len(front.eye))
        total += len(front.eye)
        kept.append((front.eye, front.triangle, front.right, front.left, front.parent))
        apex = mesh.corner[front.triangle, (front.edge + 2) % 3] - front.at
        margin = GRAZING * np.hypot(*apex.T)
        past_right = _cross(front.right, apex) > margin
        past_left = _cross(apex, front.left) > margin
        sees = past_right & past_left
        seen.append((front.eye[sees], mesh.vertex[front.triangle, (front.edge + 2) % 3][sees],
                     number[sees]))  # fmt: skip
        ahead = _unit(apex)
        # right of the tip: the edge after the one that was entered by; left of it: the next
        goes_right, goes_left = past_right, past_left
        to_left = np.where(sees[:, None], ahead, front.left)
        to_right = np.where(sees[:, None], ahead, front.right)
        front = _Front(
            np.concatenate([front.eye[goes_right], front.eye[goes_left]]),
            np.concatenate([front.at[goes_right], front.at[goes_left]]),
            np.concatenate([front.triangle[goes_right], front.triangle[goes_left]]),
            np.concatenate([(front.edge[goes_right] + 1) % 3, (front.edge[goes_left] + 2) % 3]),
            np.concatenate([front.right[goes_right], to_right[goes_left]]),
            np.concatenate([to_left[goes_right], front.left[goes_left]]),
            np.concatenate([number[goes_right], number[goes_left]]),
        )
    columns = [np.concatenate(column) for column in zip(*kept, strict=True)]
    found = [np.concatenate(column) for column in zip(*seen, strict=True)]
    cones = Cones(columns[0], columns[1], columns[2], columns[3], columns[4], limited)
    return cones, Seen(found[0], found[1], found[2])


@dataclass(frozen=True)
class _Front:
    """Cones about to leave triangles across edges, or just entered by them."""

    eye: Ints
    at: Floats
    triangle: Ints
    edge: Ints
    right: Floats
    left: Floats
    parent: Ints


def _enter(mesh: Mesh, front: _Front) -> _Front:
    """Step across the edges that are no wall, with the cones that have any breadth."""
    other = mesh.across[front.triangle, front.edge]
    into = mesh.back[front.triangle, front.edge]
    go = (other >= 0) & (_cross(front.right, front.left) > GRAZING)
    return _Front(
        front.eye[go], front.at[go], other[go], into[go], front.right[go], front.left[go],
        front.parent[go],
    )  # fmt: skip


def _cross(a: Floats, b: Floats) -> Floats:
    return np.asarray(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])


def _unit(a: Floats) -> Floats:
    return np.asarray(a / np.maximum(np.hypot(*a.T), 1e-300)[:, None])
