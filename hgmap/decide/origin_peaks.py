"""Peaks of an estimate over cells that air joins, and rooms whose air rises toward a door.

In steady air, whatever its drift, the concentration above that outside has no peak but where
something gives off vapour (the maximum principle of diffusion with loss; Evans, Partial
Differential Equations, section 6.4, from memory). So the peaks of the estimate are where to look;
that it is only an estimate is what the draws allow for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.decide.origin_model import Climb
from hgmap.field.graph import CellGraph

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

ONE_PEAK_M: Final = 2.0
"""Peaks of one room nearer than this (m) are one place to look at. Our rule, no source."""

AT_THE_DOOR_M: Final = 1.0
"""The highest place of a room this near (m) to a door is at that door. Our rule, no source."""


@dataclass(frozen=True, slots=True)
class Peak:
    """A cell higher than all around it, and how far down it is to higher ground (working scale).

    Infinitely far from the highest cell of all that air joins to it; 0 where it is no peak.
    """

    cell: int
    prominence: float


def peaks_of(mean: Floats, edges: Ints, least: float) -> list[Peak]:
    """Return the peaks of a field on a graph, the highest first.

    Parameters
    ----------
    mean : array of shape (m,)
        Working scale; NaN where nothing is known.
    edges : array of shape (e, 2)
        Joined cells.
    least : float
        Least prominence of a peak (working scale).
    """
    known = np.isfinite(mean)
    order = [int(k) for k in np.argsort(-mean, kind="stable") if known[k]]
    beside: list[list[int]] = [[] for _ in mean]
    for i, j in edges[known[edges].all(axis=1)].tolist():
        beside[i].append(j)
        beside[j].append(i)
    # flooding from the top: every hill is named by its top, and ends where it meets a higher one
    top = np.full(len(mean), -1, dtype=np.int64).tolist()
    found: dict[int, float] = {}

    def hill(cell: int) -> int:
        while top[cell] != cell:
            top[cell] = top[top[cell]]
            cell = top[cell]
        return cell

    for cell in order:
        top[cell] = cell
        for other in beside[cell]:
            if top[other] < 0:
                continue
            one, two = hill(cell), hill(other)
            if one == two:
                continue
            low, high = sorted((one, two), key=lambda peak: (mean[peak], -peak))
            found[low] = float(mean[low] - mean[cell])
            top[low] = high
    found |= {cell: np.inf for cell in order if top[cell] == cell}
    peaks = [Peak(cell, height) for cell, height in found.items() if height >= least]
    return sorted(peaks, key=lambda one: (-mean[one.cell], one.cell))


def places_to_look(mean: Floats, graph: CellGraph, peaks: list[Peak]) -> dict[int, list[Peak]]:
    """Return, for each room that is known, its peaks; its highest cell where it has none.

    Of peaks of one room nearer than 2 m the highest is kept. A highest cell that is no peak has
    prominence 0.
    """
    found: dict[int, list[Peak]] = {}
    for one in peaks:
        kept = found.setdefault(int(graph.room[one.cell]), [])
        away = [np.hypot(*(graph.xy[one.cell] - graph.xy[other.cell])) for other in kept]
        if not away or min(away) >= ONE_PEAK_M:
            kept.append(one)
    for room in np.unique(graph.room[np.isfinite(mean)]).tolist():
        if room not in found:
            own = np.flatnonzero((graph.room == room) & np.isfinite(mean))
            found[room] = [Peak(int(own[np.argmax(mean[own])]), 0.0)]
    return found


def climbs_of(
    mean: Floats, graph: CellGraph, places: dict[int, list[Peak]], least: float, *, log: bool
) -> tuple[Climb, ...]:
    """Return the rooms without a peak of their own whose air is highest at a door.

    The room beyond is higher, and the air at the door is above the room's middle by ``least``
    (working scale).
    """
    i, j = graph.edges.T
    across = graph.room[i] != graph.room[j]
    near = np.concatenate([i[across], j[across]])
    far = np.concatenate([j[across], i[across]])
    climbs = []
    for room, own in sorted(places.items()):
        if own[0].prominence > 0.0:
            continue
        at = own[0].cell
        doors = np.flatnonzero((graph.room[near] == room) & np.isfinite(mean[far]))
        apart = np.hypot(*(graph.xy[near[doors]] - graph.xy[at]).T)
        doors = doors[(apart <= AT_THE_DOOR_M) & (mean[far[doors]] > mean[near[doors]])]
        if not len(doors):
            continue
        door = doors[np.argmax(mean[far[doors]])]
        held = mean[(graph.room == room) & np.isfinite(mean)]
        middle = float(np.median(held))
        if mean[at] - middle < least:
            continue
        ratio = float(np.exp(mean[at] - middle)) if log else float(mean[at] / middle)
        climbs.append(Climb(room, int(graph.room[far[door]]), ratio))
    return tuple(climbs)
