"""Mending room outlines as people draw them: crossings, doubles, overlaps, slivers.

Nothing is mended in silence: each repair is a line with its place (m, in the floor's frame) and
its size.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import shapely
from shapely import Polygon, STRtree

from hgmap.site.plan import OVERLAP_ALLOWED_M2

SMALLEST_ROOM_M2 = OVERLAP_ALLOWED_M2
"""A polygon smaller than this (m²) is a sliver, not a room."""

THINNEST_REST_M = 0.1
"""What a cut leaves of a room is a sliver where it is thinner than this (m) all over."""

LEAST_CUT_M2 = 0.0005
"""Overlaps below this (m², 5 cm²) are noise in the last digit and are left."""

REPAIR_MAY_CHANGE = 0.01
"""A self-crossing outline is mended only where that changes its area by less than this share."""

SAME_OUTLINE = 0.001
"""Two outlines are one room drawn twice where they differ by less than this share of the area."""

GRID_M = 1e-4
"""Coordinates are kept to 0.1 mm."""


@dataclass(frozen=True, slots=True)
class Outline:
    """A room before it has its final name and id."""

    label: str
    name: str
    id: str
    polygon: Polygon


@dataclass(frozen=True, slots=True)
class Mended:
    """Sound outlines on the 0.1 mm grid that do not overlap, and what was done to get there."""

    outlines: tuple[Outline, ...]
    repairs: tuple[str, ...]
    skipped: tuple[str, ...]


def mend(drawn: Iterable[tuple[Outline, shapely.Geometry]]) -> Mended:
    """Make sound outlines that do not overlap.

    Parameters
    ----------
    drawn : iterable of (Outline, Polygon or MultiPolygon)
        Each room with its geometry as drawn (m).

    Returns
    -------
    Mended
        In the order drawn; a room of several parts gives several outlines.
    """
    repairs: list[str] = []
    skipped: list[str] = []
    outlines: list[Outline] = []
    for outline, geometry in drawn:
        outlines += _sound(outline, geometry, repairs, skipped)
    outlines = _without_doubles(outlines, skipped)
    outlines = _cut_overlaps(outlines, repairs, skipped)
    return Mended(tuple(outlines), tuple(repairs), tuple(skipped))


def place_of(geometry: shapely.Geometry) -> str:
    """Name a place inside a geometry.

    Examples
    --------
    >>> place_of(shapely.box(0, 0, 4, 3))
    'at x 2.00, y 1.50 m'
    """
    point = geometry.representative_point()
    return f"at x {point.x:.2f}, y {point.y:.2f} m"


def length_words(metres: float) -> str:
    """Write a length so that it is told from one a thousand times longer.

    Examples
    --------
    >>> length_words(0.0009), length_words(36.0), length_words(12500.0), length_words(1e-15)
    ('0.9 mm', '36.00 m', '12.5 km', 'less than 0.01 mm')
    """
    if metres < 1e-5:
        return "less than 0.01 mm"
    if metres < 0.01:
        return f"{metres * 1000:.3g} mm"
    return f"{metres:.2f} m" if metres < 1000 else f"{metres / 1000:.4g} km"


def _sound(
    outline: Outline, geometry: shapely.Geometry, repairs: list[str], skipped: list[str]
) -> list[Outline]:
    """Split a room into its parts, each a valid polygon on the grid."""
    found: list[Outline] = []
    for drawn in _polygons(geometry):
        part = drawn
        if not drawn.is_valid:
            part = shapely.union_all(_polygons(shapely.make_valid(drawn)))
            if part.is_empty:
                skipped.append(f"{outline.label}: its area is zero")
                continue
            change = abs(part.area - drawn.area) / max(part.area, drawn.area, 1e-12)
            if change >= REPAIR_MAY_CHANGE:
                skipped.append(
                    f"{outline.label}: its outline is not sound "
                    f"({shapely.is_valid_reason(drawn)}) and mending it would change its area by "
                    f"{change:.0%}; draw it again"
                )
                continue
            repairs.append(
                f"{outline.label}: its outline crossed itself {place_of(part)}; mended, area "
                f"{part.area - drawn.area:+.4f} m²"
            )
        for piece in _polygons(_on_grid(part)):
            if piece.area < SMALLEST_ROOM_M2:
                skipped.append(_sliver(outline, piece))
            else:
                found.append(replace(outline, polygon=piece))
        if _on_grid(part).is_empty:
            skipped.append(f"{outline.label}: its area is zero")
    if len(found) > 1:
        repairs.append(f"{outline.label}: has {len(found)} parts, each now a room of its own")
    return found


def _without_doubles(outlines: list[Outline], skipped: list[str]) -> list[Outline]:
    polygons = [outline.polygon for outline in outlines]
    doubles: set[int] = set()
    for i, j in _touching(polygons):
        if i in doubles or j in doubles:
            continue
        area = polygons[i].area
        if abs(area - polygons[j].area) > SAME_OUTLINE * area:
            continue
        if polygons[i].symmetric_difference(polygons[j]).area <= SAME_OUTLINE * area:
            doubles.add(j)
            skipped.append(
                f"{outlines[j].label}: the same outline as {outlines[i].label} "
                f"({area:.2f} m² {place_of(polygons[i])})"
            )
    return [outline for index, outline in enumerate(outlines) if index not in doubles]


def _cut_overlaps(outlines: list[Outline], repairs: list[str], skipped: list[str]) -> list[Outline]:
    """Leave every overlap to the smaller room: it is the one drawn on purpose."""
    areas = [outline.polygon.area for outline in outlines]
    rest: list[shapely.Geometry] = [outline.polygon for outline in outlines]

    def smaller_first(pair: tuple[int, int]) -> tuple[int, int]:
        i, j = pair
        return (i, j) if areas[i] <= areas[j] else (j, i)

    pairs = [smaller_first(pair) for pair in _touching(rest)]
    cut: set[int] = set()
    for small, large in sorted(pairs, key=lambda pair: (areas[pair[0]], areas[pair[1]], pair)):
        shared = shapely.union_all(_polygons(rest[small].intersection(rest[large])))
        if shared.area <= LEAST_CUT_M2:
            continue
        rest[large] = rest[large].difference(rest[small])
        cut.add(large)
        repairs.append(
            f"{outlines[large].label}: overlapped {outlines[small].label} {place_of(shared)}; "
            f"{shared.area:.3f} m² left to the smaller room"
        )
    kept: list[Outline] = []
    for index, outline in enumerate(outlines):
        if index in cut:
            kept += _rests(outline, rest[index], repairs, skipped)
        else:
            kept.append(outline)
    return kept


def _rests(
    outline: Outline, geometry: shapely.Geometry, repairs: list[str], skipped: list[str]
) -> list[Outline]:
    kept: list[Outline] = []
    for part in _polygons(_on_grid(geometry)):
        if part.area < SMALLEST_ROOM_M2 or part.buffer(-THINNEST_REST_M / 2).is_empty:
            skipped.append(_sliver(outline, part))
        else:
            kept.append(replace(outline, polygon=part))
    if not kept:
        skipped.append(f"{outline.label}: smaller rooms cover it {place_of(outline.polygon)}")
    if len(kept) > 1:
        repairs.append(f"{outline.label}: the cuts leave {len(kept)} parts, each now a room")
    return kept


def _sliver(outline: Outline, part: Polygon) -> str:
    return f"{outline.label}: a sliver of {part.area:.4f} m² {place_of(part)}"


def _touching(polygons: list[shapely.Geometry]) -> list[tuple[int, int]]:
    if len(polygons) < 2:
        return []
    found = STRtree(polygons).query(polygons, predicate="intersects").T
    return sorted((int(i), int(j)) for i, j in found if i < j)


def _polygons(geometry: shapely.Geometry) -> list[Polygon]:
    parts = shapely.get_parts(shapely.get_parts(geometry))  # a collection may hold a multi-part
    return [part for part in parts if isinstance(part, Polygon) and not part.is_empty]


def _on_grid(geometry: shapely.Geometry) -> shapely.Geometry:
    return shapely.set_precision(geometry, GRID_M)
