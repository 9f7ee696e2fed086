"""Laying rooms out whose place nobody knows, in rows that do not touch."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely import Polygon, STRtree

from hgmap.site.plan import OVERLAP_ALLOWED_M2

GAP_M: Final = 1.0
"""Between rooms that are laid out (m)."""


def in_rows(sizes: Sequence[tuple[float, float]], gap_m: float) -> list[tuple[float, float]]:
    """Return the lower left corners of rectangles laid out in rows, the first row at the top.

    Examples
    --------
    >>> in_rows([(2.0, 1.0), (2.0, 1.0)], 1.0)
    [(0.0, 2.0), (0.0, 0.0)]
    """
    ground = sum((length + gap_m) * (width + gap_m) for length, width in sizes)
    broad = max([1.3 * math.sqrt(ground), *(length for length, _ in sizes)])
    rows: list[list[int]] = []
    x = 0.0
    for n, (length, _) in enumerate(sizes):
        if not rows or x + length > broad:
            rows.append([])
            x = 0.0
        rows[-1].append(n)
        x += length + gap_m
    corners = [(0.0, 0.0)] * len(sizes)
    y = 0.0
    for row in reversed(rows):
        x = 0.0
        for n in row:
            corners[n] = (x, y)
            x += sizes[n][0] + gap_m
        y += max(sizes[n][1] for n in row) + gap_m
    return corners


def beside(
    placed: Sequence[Polygon], sizes: Sequence[tuple[float, float]], gap_m: float
) -> list[tuple[float, float]]:
    """Return the lower left corners of rectangles laid out in rows, to the right of what stands."""
    west = max((one.bounds[2] for one in placed), default=-gap_m) + gap_m
    south = min((one.bounds[1] for one in placed), default=0.0)
    return [(west + x, south + y) for x, y in in_rows(sizes, gap_m)]


def laid_over_another(polygons: Sequence[Polygon]) -> set[int]:
    """Return the numbers of those that overlap one before them that stays."""
    late: set[int] = set()
    if not polygons:
        return late
    tree = STRtree(polygons)
    stays = np.ones(len(polygons), dtype=bool)
    for second, polygon in enumerate(polygons):  # one by one: all may lie at one place
        near = tree.query(polygon, predicate="intersects")
        before = near[(near < second) & stays[near]]
        if any(polygons[n].intersection(polygon).area > OVERLAP_ALLOWED_M2 for n in before):
            stays[second] = False
            late.add(second)
    return late


def span_of(polygons: Sequence[Polygon]) -> float:
    """Return the larger side (m) of the box round all of them; 0 without any."""
    if not polygons:
        return 0.0
    west, south, east, north = shapely.total_bounds(polygons)
    return float(max(east - west, north - south))
