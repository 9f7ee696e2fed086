"""What of a plan lies under a pointer: a corner, an opening, a wall, a room."""

from __future__ import annotations

import shapely
from shapely import Point

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_edits import Place, corners_of, finite_place


def feature_at(draft: PlanDraft, place: Place, reach_m: float) -> str | None:
    """Return the key of what lies there: openings and walls before rooms, the smallest room first.

    A room that is not sound is found by its outline, or within its box.
    """
    point = Point(finite_place(place))
    lines = []
    rooms = []
    for one in draft.features:
        shape = one.geometry
        if shape is None or shape.is_empty or not one.kind:
            continue
        if one.kind == "room":
            inside = shape.covers(point) if shape.is_valid else shape.envelope.covers(point)
            if inside or shape.distance(point) <= reach_m / 2:
                rooms.append((not inside, shape.envelope.area, one.number, one.key))
        else:
            away = shape.distance(point)
            if away <= reach_m:
                lines.append((one.kind != "opening", away, one.number, one.key))
    found = min(lines or rooms, default=None)
    return found[-1] if found else None


def corner_at(draft: PlanDraft, key: str, place: Place, reach_m: float) -> int | None:
    """Return the number of a feature's corner that lies within reach, the nearest."""
    feature = draft.by_key.get(key)
    if feature is None or feature.geometry is None:
        return None
    at = finite_place(place)
    away = [float(shapely.Point(one).distance(Point(at))) for one in corners_of(feature.geometry)]
    best = min(range(len(away)), key=away.__getitem__, default=None)
    return best if best is not None and away[best] <= reach_m else None


def edge_at(draft: PlanDraft, key: str, place: Place, reach_m: float) -> tuple[int, Place] | None:
    """Return the edge of a feature within reach: number of its first corner, and the place on it.

    Edges are numbered as :func:`hgmap.editing.plan_edits.insert_corner` counts them.
    """
    feature = draft.by_key.get(key)
    if feature is None or feature.geometry is None:
        return None
    point = Point(finite_place(place))
    found: list[tuple[float, int, Place]] = []
    first = 0
    for part in shapely.get_parts(feature.geometry):
        rings = (part.exterior, *part.interiors) if part.geom_type == "Polygon" else (part,)
        for ring in rings:
            ends = shapely.get_coordinates(ring)
            for n in range(len(ends) - 1):
                edge = shapely.LineString(ends[n : n + 2])
                foot = edge.interpolate(edge.project(point))
                found.append((edge.distance(point), first + n, (foot.x, foot.y)))
            first += len(ends) - (part.geom_type == "Polygon")
    best = min(found, default=None)
    return (best[1], best[2]) if best is not None and best[0] <= reach_m else None
