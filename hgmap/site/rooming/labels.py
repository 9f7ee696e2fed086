"""Texts of a drawing name the rooms that they stand in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import STRtree

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundRoom
from hgmap.site.importers.names import one_line_text
from hgmap.site.rooming.repairs import Repairs

ONE_LINE_M = 0.15
"""Texts whose places differ by less than this (m) in height are read from left to right."""


def named(rooms: Sequence[FoundRoom], texts: Sequence[Part], repairs: Repairs) -> list[FoundRoom]:
    """Give rooms without a name the texts that stand in them.

    Parameters
    ----------
    rooms : sequence of FoundRoom
        They do not overlap.
    texts : sequence of Part
        Points with a name.
    repairs : Repairs
        Takes texts that name no room.
    """
    if not texts:
        return list(rooms)
    points = shapely.centroid([text.geometry for text in texts])
    words = [one_line_text(text.name) for text in texts]
    tree = STRtree([room.polygon for room in rooms])
    inside = np.full(len(texts), -1)
    i, j = tree.query(points, predicate="intersects")
    inside[i] = j
    spoken: dict[int, list[int]] = {}
    for number, room in enumerate(inside.tolist()):
        if not words[number]:
            continue
        if room < 0:
            repairs.remark(
                f"{texts[number].label}: the text {words[number]!r} stands in no room",
                points[number],
            )
        elif rooms[room].name:
            repairs.remark(
                f"{texts[number].label}: the text {words[number]!r} stands in a room that is "
                f"called {rooms[room].name!r} already,",
                points[number],
            )
        else:
            spoken.setdefault(room, []).append(number)
    found = list(rooms)
    for room, members in spoken.items():
        names = [words[one] for one in reading_order(points[members], members)]
        # a text drawn twice at one place is one word
        found[room] = replace(rooms[room], name=one_line_text(" ".join(dict.fromkeys(names))))
    return found


def reading_order(points: Sequence[shapely.Point], numbers: Sequence[int]) -> list[int]:
    """Order texts as they are read: from the top, and from left to right on a line.

    Examples
    --------
    >>> from shapely import Point
    >>> reading_order([Point(0, 1), Point(2, 3.02), Point(0, 3)], [7, 8, 9])
    [9, 8, 7]
    """
    high_first = sorted(range(len(numbers)), key=lambda one: -float(points[one].y))
    lines: list[list[int]] = []
    for one in high_first:
        if lines and float(points[lines[-1][0]].y - points[one].y) < ONE_LINE_M:
            lines[-1].append(one)
        else:
            lines.append([one])
    return [
        numbers[one] for line in lines for one in sorted(line, key=lambda k: float(points[k].x))
    ]
