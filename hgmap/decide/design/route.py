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
TURNED_AS_GIVEN: Final = 500
"""Places above which the order given is not turned too: that takes long and gains little."""

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
    source_name = "" if source_room is None else floor.rooms[source_room].name
    if not len(xy):
        return RoutePlan(np.empty(0, dtype=np.int64), np.empty(0), 0.0, (), source_name)
    every, (xy, rooms, spot) = len(xy), _spots(xy, rooms)
    if len(xy) > MOST_PLACES:
        raise EstimateError(
            f"{len(xy)} places are too many for one route",
            todo=f"give at most {MOST_PLACES}, or plan a day at a time",
        )
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
    visit, leg = np.empty(len(xy), dtype=np.int64), np.zeros(every)
    visit[np.concatenate(orders)] = np.arange(len(xy))
    order = np.argsort(visit[spot], kind="stable")
    new_spot = np.diff(visit[spot][order], prepend=-1) > 0  # other heights are read on the spot
    leg[new_spot] = np.concatenate(legs)
    cut_off = sorted({int(one) for one in rooms[part != first[0]]})
    return RoutePlan(
        order,
        leg,
        float(leg[np.isfinite(leg)].sum()),
        tuple(floor.rooms[one].name for one in cut_off),
        source_name,
    )


def _spots(xy: Floats, rooms: Ints) -> tuple[Floats, Ints, Ints]:
    """Return the different places in the order given, their rooms, and which each one is."""
    _, first, which = np.unique(
        np.column_stack([xy, rooms]), axis=0, return_index=True, return_inverse=True
    )
    rank = np.empty(len(first), dtype=np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    first = np.sort(first)
    return xy[first], rooms[first], rank[which.ravel()]


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


def _order(walk: Floats, begin: Floats | None, last: NDArray[np.bool_]) -> Ints:
    """Order the places of one part, those marked ``last`` at the end.

    The better of two routes after 2-opt: by nearest neighbour, and, of few places, as given.
    """
    given = np.argsort(last, kind="stable")
    routes = [given, _two_opt(walk, _nearest(walk, begin, last), begin, last)]
    if len(given) <= TURNED_AS_GIVEN:
        routes.append(_two_opt(walk, given, begin, last))
    return min(routes, key=lambda order: _length(walk, order, begin))


def _length(walk: Floats, order: Ints, begin: Floats | None) -> float:
    ahead = 0.0 if begin is None else float(begin[order[0]])
    return ahead + float(walk[order[:-1], order[1:]].sum())


def _nearest(walk: Floats, begin: Floats | None, last: NDArray[np.bool_]) -> Ints:
    order: list[int] = []
    left = np.ones(len(walk), dtype=bool)
    ahead = np.arange(len(walk), dtype=np.float64) if begin is None else begin
    while left.any():
        open_ = left & ~last if (left & ~last).any() else left
        order.append(int(np.where(open_, ahead, np.inf).argmin()))
        left[order[-1]] = False
        ahead = walk[order[-1]]
    return np.array(order, dtype=np.int64)


def _two_opt(walk: Floats, order: Ints, begin: Floats | None, last: NDArray[np.bool_]) -> Ints:
    """Turn stretches round while that saves way, each wholly before or wholly in the last ones.

    Turning the stretch i to j changes only the legs into i and out of j; before the first place
    lies the start or nothing, after the last nothing.
    """
    order, n = order.copy(), len(order)
    border = int((~last).sum())
    improved = True
    while improved:
        improved = False
        for i in range(n - 1):
            end = border if i < border else n
            ends = order[i + 1 : end]
            if not len(ends):
                continue
            if i:
                change = walk[order[i - 1], ends] - walk[order[i - 1], order[i]]
            elif begin is not None:
                change = begin[ends] - begin[order[0]]
            else:
                change = np.zeros(len(ends))
            after = order[i + 2 : end + 1]
            change[: len(after)] += walk[order[i], after] - walk[ends[: len(after)], after]
            j = int(change.argmin())
            if change[j] < -SHORTER_M:
                order[i : i + j + 2] = order[i : i + j + 2][::-1].copy()
                improved = True
    return order
