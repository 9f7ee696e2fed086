"""A small house whose true rooms are known, drawn in several manners; and how alike rooms are."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely import LineString, Polygon, box

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.found_plan import FoundPlan

WALL_M = 0.2

#   +-----------+-------+
#   |  study    | store |
#   +-----------+-------+
#   |  hall             |
#   +-------+-----------+
#   | lab   | plant     |
#   +-------+-----------+
ROOMS = {
    "lab": box(0.2, 0.2, 4.2, 4.2),
    "plant": box(4.4, 0.2, 10.2, 4.2),
    "hall": box(0.2, 4.4, 10.2, 6.0),
    "study": box(0.2, 6.2, 6.2, 9.2),
    "store": box(6.4, 6.2, 10.2, 9.2),
}
OUTLINE = box(0, 0, 10.4, 9.4)
DOORS = {
    "lab door": (box(1.0, 4.2, 1.9, 4.4), ("lab", "hall")),
    "plant door": (box(7.0, 4.2, 7.9, 4.4), ("plant", "hall")),
    "study door": (box(2.0, 6.0, 2.9, 6.2), ("study", "hall")),
    "store door": (box(8.0, 6.0, 8.9, 6.2), ("store", "hall")),
    "front door": (box(10.2, 4.8, 10.4, 5.7), ("hall",)),
}
WINDOWS = {"window": box(1.0, 0.0, 3.0, 0.2)}


def thick_walls(*, gap_m: float = 0.0, outline: bool = True) -> list[Part]:
    """Draw the house with walls as polygons, each cut off ``gap_m`` (m) before the next."""
    solid = OUTLINE.difference(shapely.union_all(list(ROOMS.values())))
    cuts = [shape for shape, _ in DOORS.values()] + list(WINDOWS.values())
    walls = solid.difference(shapely.union_all(cuts))
    # the walls between rooms end short of the walls that they run into
    walls = walls.difference(
        shapely.union_all(
            [
                box(0.2, 4.2, 0.2 + gap_m, 4.4),
                box(10.2 - gap_m, 4.2, 10.2, 4.4),
                box(0.2, 6.0, 0.2 + gap_m, 6.2),
                box(4.2, 4.2 - gap_m, 4.4, 4.2),
                box(6.2, 6.2, 6.4, 6.2 + gap_m),
            ]
        )
    )
    parts = [Part("wall", one, f"wall {n}") for n, one in enumerate(shapely.get_parts(walls))]
    parts += [Part("door", shape, name, id=name) for name, (shape, _) in DOORS.items()]
    parts += [Part("window", shape, name) for name, shape in WINDOWS.items()]
    parts += [Part("outline", OUTLINE, "outline")] if outline else []
    return parts


def moved(parts: Iterable[Part], matrix: Sequence[float]) -> list[Part]:
    """Move every part: ``matrix`` is (a, b, c, d, x, y), new x = a x + b y + x (m)."""
    return [
        Part(one.role, placed(one.geometry, matrix), one.label, one.name, one.id, one.state)
        for one in parts
    ]


def placed(shape: shapely.Geometry, matrix: Sequence[float]) -> shapely.Geometry:
    a, b, c, d, x, y = matrix
    return shapely.transform(shape, lambda xy: xy @ np.array([[a, c], [b, d]]) + np.array([x, y]))


def likeness(one: Polygon, other: Polygon) -> float:
    """Return the shared area over the area of both together."""
    return float(one.intersection(other).area / one.union(other).area)


def assert_rooms(plan: FoundPlan, true: Iterable[Polygon], least: float = 0.99) -> None:
    """Each true room was found, and nothing else."""
    true = list(true)
    found = [room.polygon for room in plan.rooms]
    assert len(found) == len(true), [round(one.area, 2) for one in found]
    assert all(one.is_valid for one in found)
    for room in true:
        best = max(likeness(room, one) for one in found)
        assert best >= least, (room.wkt, best)


def joined(plan: FoundPlan, line: LineString, reach_m: float = 0.35) -> set[int]:
    """Return the rooms (their places in the plan) at an opening."""
    middle = line.interpolate(0.5, normalized=True)
    near = sorted((one.polygon.distance(middle), n) for n, one in enumerate(plan.rooms))
    return {number for distance, number in near[:2] if distance <= reach_m}
