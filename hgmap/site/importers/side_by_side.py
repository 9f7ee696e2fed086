"""Two floors that were drawn side by side in one file: they would come in as one.

Rooms that lie near to one another are one drawing. Where two such drawings, well apart, are nearly
as wide and as deep as each other, a person has to say whether they are two floors: readings of
both would share one floor, and no level below or above would be known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from hgmap.site.importers.found_plan import FoundPlan, FoundRoom, PlanDoubt
from hgmap.site.importers.outlines import place_of

RULE: Final = "side by side"

APART_M: Final = 1.5
"""Rooms farther from one another than this (m), more than a thick wall, are not one drawing."""
FEWEST_ROOMS: Final = 2
ALIKE: Final = 0.15
"""Sides that differ by no more than this share of the longer one are alike.

These three are ours, no source.
"""


def with_floors_side_by_side(found: FoundPlan) -> FoundPlan:
    """Return a plan with a doubt for each drawing in it that another one of alike size lies beside.

    The doubts come last; their numbers are 0 until all repairs and doubts are numbered.

    Parameters
    ----------
    found : FoundPlan
        In metres, on no map: rows of alike houses stand on one.
    """
    doubts = tuple(_doubt(*pair) for pair in _alike(found.rooms))
    return replace(found, doubts=(*found.doubts, *doubts)) if doubts else found


def _doubt(one: shapely.Geometry, other: shapely.Geometry) -> PlanDoubt:
    between = shapely.shortest_line(one, other)
    at = place_of(between.interpolate(0.5, normalized=True))
    text = (
        f"two drawings of alike size lie {between.length:.1f} m apart {at}: two floors side by "
        "side? bring each in from a file of its own"
    )
    return PlanDoubt(f"{RULE} {at}", RULE, text, between)


def _alike(rooms: Sequence[FoundRoom]) -> Iterator[tuple[shapely.Geometry, shapely.Geometry]]:
    """Yield each drawing, from the left, with the nearest one before it that is as large."""
    drawings = _drawings(rooms)
    bounds = shapely.bounds(drawings)
    sides, middles = bounds[:, 2:] - bounds[:, :2], (bounds[:, 2:] + bounds[:, :2]) / 2
    for position in range(1, len(drawings)):
        one, before = sides[position], sides[:position]
        same = (np.abs(before - one) <= ALIKE * np.maximum(before, one)).all(axis=1)
        far = np.hypot(*(middles[:position] - middles[position]).T)
        if same.any():
            nearest = np.where(same, far, np.inf).argmin()
            yield drawings[nearest], drawings[position]


def _drawings(rooms: Sequence[FoundRoom]) -> NDArray[np.object_]:
    """Return rooms that lie together, two or more each, as one shape; from left to right."""
    polygons = np.array([one.polygon for one in rooms], dtype=object)
    one, other = shapely.STRtree(polygons).query(polygons, "dwithin", APART_M)
    near = coo_array((np.ones(len(one), dtype=bool), (one, other)), (len(rooms), len(rooms)))
    part = connected_components(near, directed=False)[1]
    large = np.flatnonzero(np.bincount(part) >= FEWEST_ROOMS)
    if len(large) < 2:
        return np.array([], dtype=object)
    owner = np.searchsorted(large, part)
    kept = np.isin(part, large)
    order = np.argsort(owner[kept], kind="stable")
    drawings = shapely.multipolygons(polygons[kept][order], indices=owner[kept][order])
    west, south, *_ = shapely.bounds(drawings).T
    return np.asarray(drawings[np.lexsort((south, west))])
