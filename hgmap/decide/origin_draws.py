"""How sure a highest place is: where the highest air lies in fields that agree with the readings.

Each draw of the estimate (:mod:`hgmap.field.simulate`) has one highest place on the floor and one
in each room. The share of the draws whose highest place is nearest to a peak, in its room, is the
uncertainty of that peak.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.origin_model import HELD_SHARE
from hgmap.field.graph import CellGraph
from hgmap.field.simulate import Draws

Floats = NDArray[np.float64]

FEWEST: Final = 20
"""Draws of the floor's highest place from which a radius is taken; else those of the room's."""


@dataclass(frozen=True, slots=True)
class Spot:
    """A place (m) to share highest places out to; ``fixed`` where something was read there."""

    x: float
    y: float
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class Spread:
    """What the draws say of one place.

    ``share`` of all draws have the floor's highest air here, ``share_in_room`` their room's. Their
    middle is at ``x`` and ``y`` (m), in the room: on simulated buildings it lies nearer to the
    source than the peak of the estimate. A fixed place is its own. ``radius_m`` round it holds
    80 % of these highest places; None where no draw has one here, or too few for a fixed place.
    ``own`` is the share in which its room's highest air is above that of every room joined to it:
    then something gives off vapour in the room itself, unless it comes from off the plan. None
    where no other room is joined to it.
    """

    x: float
    y: float
    share: float = 0.0
    share_in_room: float = 0.0
    radius_m: float | None = None
    own: float | None = None


def spread_of(
    draws: Draws, graph: CellGraph, places: Mapping[int, Sequence[Spot]]
) -> dict[int, list[Spread]]:
    """Return what the draws say of every place of every room, in the order given.

    Shares over the floor add up to 1 where every room that was drawn has a place.
    """
    held = np.isfinite(draws.fields).all(axis=1)
    cells, fields = draws.cells[held], draws.fields[held]
    room = graph.room[cells]
    here = {index: np.flatnonzero(room == index) for index in np.unique(room).tolist()}
    highest = {index: fields[own].max(axis=0) for index, own in here.items()}
    joined = _joined(graph)
    top = cells[fields.argmax(axis=0)] if len(cells) else cells
    found: dict[int, list[Spread]] = {}
    for index, some in places.items():
        if index not in here:
            found[index] = [Spread(one.x, one.y) for one in some]
            continue
        mine = here[index]
        of_floor = graph.xy[top[graph.room[top] == index]]
        of_room = graph.xy[cells[mine[fields[mine].argmax(axis=0)]]]
        beside = [highest[other] for other in joined.get(index, ()) if other in highest]
        own = float((highest[index] > np.max(beside, axis=0)).mean()) if beside else None
        found[index] = _shared(some, of_floor, of_room, graph.xy[cells[mine]], own)
    return found


def _joined(graph: CellGraph) -> dict[int, set[int]]:
    """Return the rooms that each room is joined to."""
    found: dict[int, set[int]] = {}
    for one, other in np.unique(graph.room[graph.edges], axis=0).tolist():
        if one != other:
            found.setdefault(one, set()).add(other)
            found.setdefault(other, set()).add(one)
    return found


def _shared(
    places: Sequence[Spot], of_floor: Floats, of_room: Floats, cells: Floats, own: float | None
) -> list[Spread]:
    """Share highest places out to the nearest of some places of their room."""
    at = np.array([(one.x, one.y) for one in places], dtype=np.float64)
    floor_home, room_home = (_apart(one, at).argmin(axis=1) for one in (of_floor, of_room))
    count = len(of_room)
    spreads = []
    for k, place in enumerate(places):
        near, far = of_floor[floor_home == k], of_room[room_home == k]
        some = near if len(near) >= FEWEST or place.fixed else far
        if place.fixed and len(near) < FEWEST:
            some = near[:0]
        middle = at[k]
        if len(some) and not place.fixed:
            middle = cells[np.hypot(*(cells - some.mean(axis=0)).T).argmin()]
        radius = float(np.quantile(np.hypot(*(some - middle).T), HELD_SHARE)) if len(some) else None
        spreads.append(
            Spread(
                float(middle[0]), float(middle[1]), len(near) / count, len(far) / count, radius, own
            )
        )
    return spreads


def _apart(points: Floats, places: Floats) -> Floats:
    step = points[:, None, :] - places[None, :, :]
    return np.asarray(np.hypot(step[..., 0], step[..., 1]))
