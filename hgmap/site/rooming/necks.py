"""Free floor parted into rooms at its narrow places.

A neck is a place where free floor is narrower than on both of its sides. Corners that stand out
into the floor look for the nearest edges; a way across stays a cut where both sides hold a circle
that is wider by a margin than the way is long.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.site.rooming.arrangement import (
    Arrangement,
    Floats,
    clear_of,
    lengths_of,
    noded,
    segments_of,
    shortest_ways,
    widths,
)
from hgmap.site.rooming.settings import Rooming

WIDER = 1.4
"""Both sides of a neck hold a circle at least so many times as wide: a corridor of 1.3 m beside a
door of 0.9 m. Ours, no source."""

STANDS_OUT = 0.15
"""A corner stands out into the floor where the sine of its turn is at least this: nine degrees."""

OPEN_SHARE = 0.5
"""Two spaces with several necks in a row between them are one where the necks make up more than
this share of the row: columns, not walls. Ours, no source."""


def part_necks(
    spaces: Sequence[Polygon], settings: Rooming
) -> tuple[list[Polygon], list[LineString]]:
    """Part free floor at its necks.

    Parameters
    ----------
    spaces : sequence of Polygon
        Free floor (m).
    settings : Rooming
        Its ``narrowest_door_m`` and ``widest_door_m``.

    Returns
    -------
    parted : list of Polygon
        The floor of each room.
    openings : list of LineString
        The shortest way across each neck (m).
    """
    if not spaces:
        return [], []
    shapes = shapely.orient_polygons(np.array(spaces, dtype=object))
    lines = noded(shapely.boundary(shapes))
    pieces = segments_of(lines)
    corners = outstanding(shapes)
    _, ways = shortest_ways(corners, pieces, settings.widest_door_m)
    ways = ways[lengths_of(ways) >= settings.narrowest_door_m]
    ways = ways[clear_of(ways, lines)]
    arrangement = Arrangement.of(lines, ways)
    faces = arrangement.faces
    union = shapely.union_all(shapes)
    shapely.prepare(union)
    free = shapely.intersects(union, shapely.point_on_surface(faces))
    arrangement = arrangement.between(free)
    width = widths(faces)
    length = lengths_of(arrangement.cuts)

    def merged(one: int, other: int) -> None:
        width[one] = max(width[one], width[other])

    def keeps(cut: int, one: int, other: int) -> bool:
        return bool(min(width[one], width[other]) >= WIDER * length[cut])

    group, kept = arrangement.joined(keeps, merged)
    rows = _rows(arrangement, group, kept)
    group = arrangement.rejoined(group, rows)
    kept &= group[arrangement.sides[:, 0]] != group[arrangement.sides[:, 1]]
    parted, first = arrangement.spaces(group)
    return parted[free[first]].tolist(), shapely.linestrings(arrangement.whole(kept)).tolist()


def outstanding(shapes: NDArray[np.object_]) -> Floats:
    """Return the corners that stand out into polygons whose outer rings run counter-clockwise.

    Examples
    --------
    >>> corner = Polygon([(0, 0), (4, 0), (4, 4), (2, 4), (2, 2), (0, 2)])
    >>> outstanding(np.array([corner])).tolist()
    [[2.0, 2.0]]
    """
    found = [np.empty((0, 2))]
    for ring in shapely.get_rings(shapes):
        corners = shapely.get_coordinates(ring)[:-1]
        before = corners - np.roll(corners, 1, axis=0)
        after = np.roll(corners, -1, axis=0) - corners
        turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        size = np.hypot(*before.T) * np.hypot(*after.T)
        found.append(corners[turn < -STANDS_OUT * size])
    return np.unique(np.concatenate(found), axis=0)


def _rows(
    arrangement: Arrangement, group: NDArray[np.int64], kept: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Tell which cuts stand in a row that is more open than closed."""
    between: dict[tuple[int, ...], list[int]] = defaultdict(list)
    for cut in np.nonzero(kept)[0].tolist():
        between[tuple(sorted(group[arrangement.sides[cut]].tolist()))].append(cut)
    found = np.zeros(len(kept), dtype=bool)
    for cuts in between.values():
        row = arrangement.cuts[cuts][np.unique(arrangement.number[cuts], return_index=True)[1]]
        extent = np.hypot(*np.ptp(row.reshape(-1, 2), axis=0))
        if len(row) > 1 and lengths_of(row).sum() > OPEN_SHARE * extent:
            found[cuts] = True
    return found
