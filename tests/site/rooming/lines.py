"""A house of four rooms and a hall drawn with lines: centre lines, or both faces of each wall."""

from __future__ import annotations

import itertools

import shapely
from shapely import LineString, Polygon, box

from hgmap.site.importers.drawing import Part

#   y 9 +---------+------+
#       |  study  | store|
#     6 +--- -----+- ----+
#       |  hall             <- a gap on the east side: the front door
#     4 +- ----+------- -+
#       |  lab | plant   |
#     0 +------+---------+
#       0      4    6   10
ROOMS = {
    "lab": box(0, 0, 4, 4),
    "plant": box(4, 0, 10, 4),
    "hall": box(0, 4, 10, 6),
    "study": box(0, 6, 6, 9),
    "store": box(6, 6, 10, 9),
}
GAPS = {
    ("lab", "hall"): LineString([(1, 4), (1.9, 4)]),
    ("plant", "hall"): LineString([(7, 4), (7.9, 4)]),
    ("study", "hall"): LineString([(2, 6), (2.9, 6)]),
    ("store", "hall"): LineString([(8, 6), (9.2, 6)]),
    ("hall",): LineString([(10, 4.5), (10, 5.4)]),
}
CENTRE = shapely.union_all([room.boundary for room in ROOMS.values()])


def as_parts(lines: shapely.Geometry, role: str = "wall") -> list[Part]:
    """One part for each straight piece."""
    pieces = [
        LineString(pair)
        for line in shapely.get_parts(lines)
        for pair in itertools.pairwise(line.coords)
    ]
    return [Part(role, one, f"LINE {n:X}") for n, one in enumerate(pieces)]  # type: ignore[arg-type]


def single_lines(*, short_m: float = 0.0) -> list[Part]:
    """Draw centre lines with gaps for doors; walls between rooms end ``short_m`` before others."""
    inner = [
        LineString([(short_m, 4), (10 - short_m, 4)]),
        LineString([(short_m, 6), (10 - short_m, 6)]),
        LineString([(4, 0), (4, 4 - short_m)]),
        LineString([(6, 6 + short_m), (6, 9)]),
    ]
    outer = box(0, 0, 10, 9).exterior
    cut = shapely.buffer(list(GAPS.values()), 1e-9, cap_style="flat")
    return [
        part
        for line in [outer, *inner]
        for part in as_parts(shapely.difference(line, shapely.union_all(cut)))
    ]


def faces(thickness_m: float) -> shapely.Geometry:
    """Return the solid walls round the centre lines."""
    return shapely.buffer(CENTRE, thickness_m / 2, cap_style="square", join_style="mitre")


def double_lines(thickness_m: float, *, jambs: bool) -> list[Part]:
    """Draw both faces of each wall; at doors with lines that close the wall's ends, or without."""
    gaps = [
        shapely.buffer(gap, thickness_m, cap_style="flat", join_style="mitre")
        for gap in GAPS.values()
    ]
    walls = faces(thickness_m).difference(shapely.union_all(gaps))
    lines = walls.boundary
    if not jambs:
        lines = lines.difference(shapely.union_all([one.boundary.buffer(1e-6) for one in gaps]))
    return as_parts(shapely.line_merge(lines))


def inside(thickness_m: float) -> list[Polygon]:
    """Return the true rooms between walls of that thickness."""
    return [room.buffer(-thickness_m / 2, join_style="mitre") for room in ROOMS.values()]
