"""In which order to visit the places of a floor, on foot and through its doors."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from hgmap.errors import EstimateError
from hgmap.field.paths import Walks
from hgmap.field.points import as_points
from hgmap.field.raster import as_rooms

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_PLACES: Final = 2000
SHORTER_M: Final = 1e-9
"""A change of the order has to save more than this (m): rounding is no gain."""


@dataclass(frozen=True)
class RoutePlan:
    """An order of places.

    Attributes
    ----------
    order : array of shape (n,)
        Positions of the places as they are visited, each once.
    leg_m : array of shape (n,)
        Walk (m) to each, in that order, from the one before or from the start; 0 at a first place
        without a start, inf where there is no walk.
    length_m : float
        Sum of the legs that can be walked.
    unreachable : tuple of str
        Names of the rooms with places that cannot be walked to; they come last.
    source_room : str
        Name of the room that is kept for the end because the source is expected there; empty:
        none.
    """

    order: Ints
    leg_m: Floats
    length_m: float
    unreachable: tuple[str, ...]
    source_room: str


def plan_route(
    walks: Walks,
    xy: Floats,
    *,
    room: Ints | None = None,
    start: ArrayLike | None = None,
    source_room: int | None = None,
) -> RoutePlan:
    """Order the places of one floor so that the walk is short; it need not be the shortest.

    The nearest unvisited place comes next; then stretches of the route are turned round while that
    saves way (nearest neighbour and 2-opt; Croes 1958, Operations Research 6). The places of the
    room where the source is expected come last, so that neither shoes nor inlet carry mercury into
    clean rooms (common practice, no source). Places that cannot be reached come after all others,
    one cut-off part of the floor after another.

    Never longer than the order given, with the source room's places and the unreachable ones moved
    to its end.

    Parameters
    ----------
    walks : Walks
        Of the floor; sealed openings are not passed.
    xy : array of shape (n, 2), m
    room : array of shape (n,), optional
        Positions in ``floor.rooms``; default: from the plan.
    start : array_like of shape (2,), optional
        Where the walk begins (m); default: at the first place of the part with most places.
    source_room : int, optional
        Position in ``floor.rooms``.

    Raises
    ------
    EstimateError
        If a place or the start is not on the floor, the source room is none of it, or there are
        more than 2000 places.
    """
    floor = walks.floor
    xy = as_points(xy)
    rooms = as_rooms(floor, xy, room, name="room")
    if source_room is not None and not 0 <= source_room < len(floor.rooms):
        raise EstimateError(f"floor {floor.name!r} has no room {source_room} for the source")
    if len(xy) > MOST_PLACES:
        raise EstimateError(
            f"{len(xy)} places are too many for one route",
            todo=f"give at most {MOST_PLACES}, or plan a day at a time",
        )
    source_name = "" if source_room is None else floor.rooms[source_room].name
    if not len(xy):
        return RoutePlan(np.empty(0, dtype=np.int64), np.empty(0), 0.0, (), source_name)
    part = walks.parts_of(xy, rooms)
    first, here = _parts_in_order(walks, part, start)
    walk = walks.distances(xy, rooms, xy, rooms)
    legs: list[Floats] = []
    orders: list[Ints] = []
    for one in first:
        members = np.flatnonzero(part == one)
        if not len(members):
            continue  # the start is cut off from every place
        begin: Floats | None = None
        if here is not None and one == first[0]:
            begin = walks.distances(here, None, xy[members], rooms[members])[0]
        own = _order(walk[np.ix_(members, members)], begin, rooms[members] == source_room)
        ahead = np.inf if one != first[0] else 0.0 if begin is None else float(begin[own[0]])
        orders.append(members[own])
        legs.append(np.concatenate([[ahead], walk[orders[-1][:-1], orders[-1][1:]]]))
    order, leg = np.concatenate(orders), np.concatenate(legs)
    cut_off = sorted({int(one) for one in rooms[part != first[0]]})
    return RoutePlan(
        order,
        leg,
        float(leg[np.isfinite(leg)].sum()),
        tuple(floor.rooms[one].name for one in cut_off),
        source_name,
    )


def _parts_in_order(
    walks: Walks, part: Ints, start: ArrayLike | None
) -> tuple[list[int], Floats | None]:
    """Return the parts of the floor with places, that of the start first, and the start."""
    found, count = np.unique(part, return_counts=True)
    parts = [int(one) for one in found[np.argsort(-count, kind="stable")]]
    if start is None:
        return parts, None
    here = as_points(np.reshape(np.asarray(start, dtype=np.float64), (1, -1)))
    as_rooms(walks.floor, here, None, name="room")  # refuses a start that is not on the floor
    own = int(walks.parts_of(here)[0])
    # the start's own part stays first even where it holds no place: then nothing can be reached
    return [own, *(one for one in parts if one != own)], here


def _order(walk: Floats, from_start: Floats | None, last: NDArray[np.bool_]) -> Ints:
    """Order the places of one part, those marked ``last`` at the end."""
    given = np.concatenate([np.flatnonzero(~last), np.flatnonzero(last)])
    clean, source = np.flatnonzero(~last), np.flatnonzero(last)
    best = [_shorten(walk, clean, from_start)]
    if len(source):
        ahead = walk[best[0][-1]] if len(clean) else from_start
        best.append(_shorten(walk, source, ahead))
    ours = np.concatenate(best)
    return min(ours, given, key=lambda order: _length(walk, order, from_start))


def _length(walk: Floats, order: Ints, from_start: Floats | None) -> float:
    begin = 0.0 if from_start is None or not len(order) else float(from_start[order[0]])
    return begin + float(walk[order[:-1], order[1:]].sum())


def _shorten(walk: Floats, members: Ints, from_start: Floats | None) -> Ints:
    """Return the better of two tours after 2-opt: by nearest neighbour, and as given."""
    if len(members) < 2:
        return members
    own = walk[np.ix_(members, members)]
    begin = None if from_start is None else from_start[members]
    tours = (_two_opt(own, one, begin) for one in (_nearest(own, begin), np.arange(len(members))))
    return members[min(tours, key=lambda order: _length(own, order, begin))]


def _nearest(walk: Floats, begin: Floats | None) -> Ints:
    order = [0 if begin is None else int(begin.argmin())]
    left = np.ones(len(walk), dtype=bool)
    left[order[0]] = False
    while left.any():
        order.append(int(np.where(left, walk[order[-1]], np.inf).argmin()))
        left[order[-1]] = False
    return np.array(order, dtype=np.int64)


def _two_opt(walk: Floats, order: Ints, begin: Floats | None) -> Ints:
    """Turn stretches round while that saves way; both ends are free but for the way to the first.

    Turning the stretch i to j changes only the legs into i and out of j.
    """
    order, n = order.copy(), len(order)
    improved = True
    while improved:
        improved = False
        for i in range(n - 1):
            stretch = order[i + 1 :]
            ahead = order[i + 2 :]
            if i:
                into = walk[order[i - 1], stretch] - walk[order[i - 1], order[i]]
            elif begin is not None:
                into = begin[stretch] - begin[order[0]]
            else:
                into = np.zeros(n - 1)
            out = np.zeros(len(stretch))
            out[:-1] = walk[order[i], ahead] - walk[stretch[:-1], ahead]
            change = into + out
            j = int(change.argmin())
            if change[j] < -SHORTER_M:
                order[i : i + j + 2] = order[i : i + j + 2][::-1].copy()
                improved = True
    return order
