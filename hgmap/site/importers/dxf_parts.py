"""From flat shapes to parts of a drawing: walls, windows, and the areas of rooms."""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon

from hgmap.site.importers.drawing import Part, Role
from hgmap.site.importers.dxf_entities import Shape
from hgmap.site.importers.dxf_shapes import Left
from hgmap.site.importers.dxf_swings import swings_of

CHORD_M: Final = 0.005
"""A curve is drawn by lines that stay so near to it (m)."""
THICKEST_M: Final = 0.6
"""A closed line round more than this (m; twice its area over its length) is no wall's outline, but
a line that comes back: the inner face of the outer walls, say. Common practice, no source."""
SOLID_M: Final = 0.01
"""A line drawn so wide (m), and an outline round so thick a wall, is an area. Ours, no source."""
CLOSES_M: Final = 0.05
"""The outline of a room whose ends are nearer than this (m) is closed."""
_SHORT_M: Final = 1e-4
_CASEMENT_M: Final = 1.6
"""An arc on a layer of windows, smaller than this (m), is a casement that stands open."""


def wall_parts(
    shapes: Sequence[Shape], *, role: Role, metres: float, left: Left, solid_below: float = 0.0
) -> list[Part]:
    """Return walls (or windows): lines as drawn, and areas where a wall is drawn by its outline.

    Where the free floor is drawn, a closed line is round what stands on it, however thick; but one
    with an area of ``solid_below`` (square units) or more goes round the floor itself.
    """
    found: list[tuple[Shape, shapely.Geometry | None]] = []
    lines: dict[int, NDArray[np.float64]] = {}
    casements: set[int] = set()
    if role == "window":
        swings = swings_of(shapes)
        casements = {id(one.shape) for one in swings if one.radius * metres <= _CASEMENT_M}
    for shape in shapes:
        if id(shape) in casements:
            left[shape.layer, shape.kind, "a casement that stands open"] += 1
            continue
        loops = [loop[:, :2] for loop in shape.flat(CHORD_M / metres)]
        if _is_line(shape, loops[0], metres):
            lines[len(found)] = loops[0]
            found.append((shape, None))
            continue
        geometry = _solid(loops) if shape.filled else _wall(shape, loops[0], metres, solid_below)
        found.append((shape, geometry))
    drawn = np.array([geometry for _, geometry in found], dtype=object)
    if lines:
        number = [len(points) for points in lines.values()]
        owner = np.repeat(np.arange(len(lines)), number)
        drawn[[*lines]] = shapely.linestrings(np.concatenate([*lines.values()]), indices=owner)
    long = shapely.length(drawn) * metres >= _SHORT_M
    parts: list[Part] = []
    for (shape, _), geometry, is_long in zip(found, drawn.tolist(), long.tolist(), strict=True):
        if is_long:
            parts.append(Part(role, geometry, shape.label))
        else:
            left[shape.layer, shape.kind, "without a length"] += 1
    return parts


def area_parts(
    shapes: Sequence[Shape], *, role: Role, metres: float, left: Left, notes: list[str]
) -> list[Part]:
    """Return areas: closed lines; solid hatches only where no line is closed."""
    parts: list[Part] = []
    solid: list[tuple[Shape, shapely.Geometry | None]] = []
    for shape in shapes:
        loops = [loop[:, :2] for loop in shape.flat(CHORD_M / metres)]
        if shape.filled:
            solid.append((shape, _solid(loops)))
            continue
        ring = loops[0]
        gap = float(np.hypot(*(ring[-1] - ring[0]))) * metres if len(ring) > 3 else np.inf
        if not shape.closed and not gap <= CLOSES_M:
            left[shape.layer, shape.kind, "not closed"] += 1
            continue
        if not shape.closed and gap * 1000 >= 0.1:
            notes.append(f"{shape.label}: its ends, {gap * 1000:.1f} mm apart, were joined")
        polygon = Polygon(ring) if len(ring) > 2 else Polygon()
        if polygon.area * metres**2 < 0.01:
            left[shape.layer, shape.kind, "without an area"] += 1
            continue
        parts.append(Part(role, polygon, shape.label))
    for shape, area in solid:
        if parts and not parts[-1].label.startswith(("HATCH", "MPOLYGON", "SOLID")):
            left[shape.layer, shape.kind, "drawn by its outline too"] += 1
        elif area is None or area.area * metres**2 < 0.01:
            left[shape.layer, shape.kind, "without an area"] += 1
        else:
            parts.append(Part(role, area, shape.label))
    return parts


def _is_line(shape: Shape, points: NDArray[np.float64], metres: float) -> bool:
    """Tell whether a wall is a line and no more: all of these are made at once."""
    return not (shape.filled or shape.closed or len(points) < 2 or shape.width * metres >= SOLID_M)


def _wall(
    shape: Shape, points: NDArray[np.float64], metres: float, solid_below: float
) -> shapely.Geometry | None:
    if len(points) < 2:
        return None
    if not shape.closed:
        line = shapely.linestrings(points)
        return line.buffer(shape.width / 2, cap_style="flat", join_style="mitre")
    if len(points) < 3 or (len(points) == 3 and (points[0] == points[-1]).all()):
        return LineString(points[:2])
    polygon = Polygon(points)
    thickness = 2 * polygon.area / polygon.length * metres if polygon.length else 0.0
    if thickness >= SOLID_M and (thickness <= THICKEST_M or polygon.area < solid_below):
        return _sound(polygon)
    return LineString(polygon.exterior.coords)


def _solid(loops: Sequence[NDArray[np.float64]]) -> shapely.Geometry | None:
    """Return the inside of loops, every second one a hole; a line where it is seen edge on."""
    rings = [Polygon(loop) for loop in loops if len(loop) >= 3]
    areas = [_sound(ring) for ring in rings if ring.area > 1e-9 * ring.length**2]
    if areas:
        inside = areas[0] if len(areas) == 1 else reduce(shapely.symmetric_difference, areas)
        return None if inside.is_empty else inside
    corners = np.vstack(loops) if loops else np.empty((0, 2))
    edge = shapely.multipoints(corners).convex_hull if len(corners) else None
    if isinstance(edge, Polygon):
        edge = edge.minimum_rotated_rectangle
        edge = edge if isinstance(edge, LineString) else LineString(edge.exterior.coords[:2])
    return edge if isinstance(edge, LineString) else None


def _sound(polygon: Polygon) -> shapely.Geometry:
    return polygon if polygon.is_valid else shapely.make_valid(polygon, method="structure")
