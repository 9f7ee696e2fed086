"""The strip between the two faces of a wall, where walls are drawn as double lines."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, STRtree

from hgmap.site.importers.outlines import length_words
from hgmap.site.rooming.arrangement import is_strip, thickness_of
from hgmap.site.rooming.ground import Ground
from hgmap.site.rooming.repairs import Repairs
from hgmap.site.rooming.settings import Rooming

DOUBLE_SHARE = 0.3
"""Walls are drawn as double lines where at least this share of all lines bounds narrow strips: a
drawing of single lines has a few shafts at most. Ours, no source."""

LONG = 5.3
"""A strip is long where perimeter² / (4 area) is at least this: three times as long as wide."""

ODD = 2.0
"""A strip more than so many times as thick as half of the others is named as something to look at,
and stays a room; ours, no source."""

TOUCH_M = 1e-3


def without_strips(
    spaces: Sequence[Polygon], ground: Ground, settings: Rooming, repairs: Repairs
) -> list[Polygon]:
    """Tell rooms from the inside of walls.

    Parameters
    ----------
    spaces : sequence of Polygon
        What lines and thick walls surround (m).
    ground : Ground
        The drawing.
    settings : Rooming
        Its ``thickest_wall_m``.
    repairs : Repairs
        Takes each wall found.

    Returns
    -------
    list of Polygon
        What is no inside of a wall, in order.
    """
    shapes = np.array(spaces, dtype=object)
    if not len(ground.lines) or not len(shapes):
        return list(spaces)
    thin = is_strip(shapes, settings.thickest_wall_m)
    thin &= _lined(shapes, ground) >= 0.5
    perimeter, area = shapely.length(shapes), shapely.area(shapes)
    long = perimeter**2 >= 4 * LONG * area
    strip = thin & (long | (area < settings.smallest_room_m2))
    thickness = thickness_of(shapes)
    drawn_m = float(shapely.length(ground.lines).sum())
    double = float(perimeter[strip].sum()) >= DOUBLE_SHARE * drawn_m
    usual = _middle(thickness[strip], perimeter[strip])
    rooms: list[Polygon] = []
    for number, space in enumerate(spaces):
        width = length_words(float(thickness[number]))
        is_wall = False
        if thin[number] and not (double and strip[number] and thickness[number] <= ODD * usual):
            repairs.doubt(
                "strip",
                f"a space {width} wide on average may be the inside of a wall; kept as a room, "
                "look at it,",
                space,
            )
        elif strip[number]:
            is_wall = repairs.wants(
                "thick wall",
                f"two faces {width} apart, {perimeter[number] / 2:.1f} m long, read as one wall",
                space,
                float(thickness[number]),
            )
        if not is_wall:
            rooms.append(space)
    return rooms


def _lined(shapes: NDArray[np.object_], ground: Ground) -> NDArray[np.float64]:
    """Return the share of each outline that is not the edge of a thick wall."""
    solid = shapely.get_parts(ground.solid)
    edges = shapely.boundary(shapes)
    if not len(solid):
        return np.ones(len(shapes))
    along = np.zeros(len(shapes))
    i, j = STRtree(solid).query(shapes, predicate="dwithin", distance=TOUCH_M)
    part = shapely.length(shapely.intersection(edges[i], shapely.buffer(solid[j], TOUCH_M)))
    np.add.at(along, i, part)
    share: NDArray[np.float64] = 1.0 - along / shapely.length(edges)
    return share


def _middle(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    """Return the weighted median; 0 for none."""
    if not len(values):
        return 0.0
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])
