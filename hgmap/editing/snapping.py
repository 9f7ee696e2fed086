"""Where a pointer that is near something means to be: a corner, a wall, a right angle."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_edits import Place, finite_place
from hgmap.errors import PlanError

What = Literal["corner", "wall", "right angle", "in line", "angle", "length", ""]


@dataclass(frozen=True, slots=True)
class Snap:
    """A place (m), what it was drawn to, and the lines (m) that show why."""

    x: float
    y: float
    what: What = ""
    guides: tuple[LineString, ...] = ()


@dataclass(frozen=True, slots=True)
class _Ray:
    """A line through ``start`` along the unit vector ``along``, where a right angle would lie."""

    start: NDArray[np.float64]
    along: NDArray[np.float64]
    what: What

    def foot(self, at: NDArray[np.float64]) -> NDArray[np.float64]:
        return self.start + self.along * float(self.along @ (at - self.start))


def snap(
    point: Place,
    draft: PlanDraft,
    reach_m: float,
    previous: Sequence[Place] = (),
    length_m: float | None = None,
    angle_step: float = 90.0,
) -> Snap:
    """Draw a pointer to what it is near: corners first, then walls, then right angles.

    Parameters
    ----------
    point : (x, y)
        Of the pointer (m).
    draft : PlanDraft
        Whose corners and edges it may be drawn to. While a room is dragged, give a draft without
        it (``draft.edited({key: None})``, made once a drag), or it sticks to itself.
    reach_m : float
        So near (m) it has to be. The place returned is never farther from the pointer, except
        where a length is given.
    previous : sequence of (x, y)
        The corners drawn so far. From the last, directions at ``angle_step`` to the segment
        before (or to the plan's own axes) count; so do those that close the outline at its first
        corner with a right angle.
    length_m : float, optional
        Typed by the person: the distance (m) from the last corner. The direction follows the
        pointer, and the places it is drawn to.
    angle_step : float
        Degrees between the directions that count.
    """
    at = finite_place(point)
    drawn = [finite_place(one) for one in previous]
    if length_m is not None and drawn:
        return _of_length(at, draft, reach_m, drawn, length_m, angle_step)
    return _drawn_to(at, draft, reach_m, drawn, angle_step)


def _of_length(
    at: NDArray[np.float64],
    draft: PlanDraft,
    reach_m: float,
    drawn: Sequence[NDArray[np.float64]],
    length_m: float,
    angle_step: float,
) -> Snap:
    if not (math.isfinite(length_m) and length_m > 0):
        raise PlanError(f"a length of {length_m:g} m", todo="type a number above 0")
    aimed = _drawn_to(at, draft, reach_m, drawn, angle_step)
    last = drawn[-1]
    along = np.array([aimed.x, aimed.y]) - last
    if not np.hypot(*along) > 0:
        along = np.array([1.0, 0.0])
    end = last + along / np.hypot(*along) * length_m
    return Snap(float(end[0]), float(end[1]), "length", (LineString([last, end]),))


def _drawn_to(
    at: NDArray[np.float64],
    draft: PlanDraft,
    reach_m: float,
    drawn: Sequence[NDArray[np.float64]],
    angle_step: float,
) -> Snap:
    edges = _near(at, draft.edges, reach_m)
    corner = _nearest_corner(at, edges, reach_m, drawn)
    if corner is not None:
        return _snap(corner, "corner")
    rays = [ray for ray in _rays(drawn, angle_step) if _apart(ray.foot(at), at) <= reach_m]
    rays.sort(key=lambda ray: _apart(ray.foot(at), at))
    if len(edges):
        return _on_wall(at, edges, reach_m, rays)
    for n, ray in enumerate(rays):
        for other in rays[n + 1 :]:
            both = _crossing(ray, other.start, other.along)
            if both is not None and _apart(both, at) <= reach_m:
                what: What = "right angle" if "right angle" in (ray.what, other.what) else ray.what
                return _snap(both, what, ray.start, other.start)
    if rays:
        return _snap(rays[0].foot(at), rays[0].what, rays[0].start)
    return _snap(at, "")


def _near(
    at: NDArray[np.float64], edges: NDArray[np.float64], reach_m: float
) -> NDArray[np.float64]:
    """Return the edges within reach: x, y of their ends."""
    start, along = edges[:, :2], edges[:, 2:] - edges[:, :2]
    squared = np.einsum("ij,ij->i", along, along)
    share = np.einsum("ij,ij->i", at - start, along) / np.where(squared > 0, squared, 1.0)
    away = start + along * np.clip(share, 0.0, 1.0)[:, None] - at
    found: NDArray[np.float64] = edges[np.einsum("ij,ij->i", away, away) <= reach_m * reach_m]
    return found


def _nearest_corner(
    at: NDArray[np.float64],
    edges: NDArray[np.float64],
    reach_m: float,
    drawn: Sequence[NDArray[np.float64]],
) -> NDArray[np.float64] | None:
    first = [drawn[0]] if len(drawn) > 2 else []  # to close the outline
    corners = np.vstack([edges[:, :2], edges[:, 2:], *(one[None] for one in first)])
    if not len(corners):
        return None
    away = np.hypot(*(corners - at).T)
    best = int(np.argmin(away))
    found: NDArray[np.float64] = corners[best]
    return found if away[best] <= reach_m else None


def _rays(drawn: Sequence[NDArray[np.float64]], angle_step: float) -> list[_Ray]:
    if not drawn:
        return []
    last = drawn[-1]
    before = _direction(drawn[-2], last) if len(drawn) > 1 else None
    base = np.array([1.0, 0.0]) if before is None else before
    rays = [_ray(last, base, degrees) for degrees in np.arange(0.0, 180.0, max(angle_step, 1.0))]
    if len(drawn) > 1 and (opening := _direction(drawn[0], drawn[1])) is not None:
        rays.append(_ray(drawn[0], opening, 90.0))
    return rays


def _ray(start: NDArray[np.float64], base: NDArray[np.float64], degrees: float) -> _Ray:
    what: What = "in line" if degrees == 0 else "right angle" if degrees == 90 else "angle"
    # exact at 0 and 90 degrees: a wall along an axis must stay on it
    sine = 1.0 if degrees == 90 else math.sin(math.radians(degrees))
    cosine = 0.0 if degrees == 90 else math.cos(math.radians(degrees))
    along = np.array([base[0] * cosine - base[1] * sine, base[0] * sine + base[1] * cosine])
    return _Ray(start, along, what)


def _direction(start: NDArray[np.float64], end: NDArray[np.float64]) -> NDArray[np.float64] | None:
    length = _apart(start, end)
    return (end - start) / length if length > 0 else None


def _on_wall(
    at: NDArray[np.float64], edges: NDArray[np.float64], reach_m: float, rays: Sequence[_Ray]
) -> Snap:
    """Return the nearest place on an edge; better, one where a ray meets an edge within reach."""
    for ray in rays:
        for edge in edges:
            along = _direction(edge[:2], edge[2:])
            met = None if along is None else _crossing(ray, edge[:2], along)
            if along is None or met is None or _apart(met, at) > reach_m:
                continue
            if 0 <= float(along @ (met - edge[:2])) <= _apart(edge[:2], edge[2:]):
                return _snap(met, "wall", ray.start)
    feet = [_foot(at, edge) for edge in edges]
    return _snap(min(feet, key=lambda foot: _apart(foot, at)), "wall")


def _foot(at: NDArray[np.float64], edge: NDArray[np.float64]) -> NDArray[np.float64]:
    along = edge[2:] - edge[:2]
    squared = float(along @ along)
    share = float(along @ (at - edge[:2])) / squared if squared > 0 else 0.0
    foot: NDArray[np.float64] = edge[:2] + along * min(max(share, 0.0), 1.0)
    return foot


def _crossing(
    ray: _Ray, start: NDArray[np.float64], along: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    across = float(ray.along[0] * along[1] - ray.along[1] * along[0])
    if abs(across) < 1e-6:
        return None
    gap = start - ray.start
    return ray.start + ray.along * (float(gap[0] * along[1] - gap[1] * along[0]) / across)


def _apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    return math.dist(one, other)


def _snap(at: NDArray[np.float64], what: What, *starts: NDArray[np.float64]) -> Snap:
    guides = tuple(LineString([start, at]) for start in starts)
    return Snap(float(at[0]), float(at[1]), what, guides)
