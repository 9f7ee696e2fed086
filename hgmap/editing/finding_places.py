"""The points of a plan that a finding is shown at, one for each of its parts."""

from __future__ import annotations

import math
from typing import Any, Final

import shapely
from shapely import LineString

from hgmap.editing.outlines import crossing_of
from hgmap.site.plan_findings import PlanFinding

MOST_PARTS: Final = 12
"""A finding on more rooms is shown at the first of them: its number would fill the plan."""

ONE_PLACE_M: Final = 0.5
"""Parts nearer to each other than this (m) are shown by one number."""

Place = tuple[float, float]


def finding_places(finding: PlanFinding[Any]) -> tuple[Place, ...]:
    """Return where a finding is (m): within each part, or where an outline crosses itself.

    Empty for a finding on the whole plan, or on what has no place that can be read.
    """
    aside = finding.rule == "aside"  # it is of the plan no more, but has a place
    if finding.place is None or finding.place.is_empty or not (finding.features or aside):
        return ()
    parts = [one for one in shapely.get_parts(finding.place) if not one.is_empty]
    if finding.rule == "overlap":  # it is one place, in however many pieces
        parts = sorted(parts, key=lambda one: -one.area)[:1]
    found: list[Place] = []
    for one in parts[:MOST_PARTS]:
        at = _point(one)
        if all(math.dist(at, other) > ONE_PLACE_M for other in found):
            found.append(at)
    return tuple(found)


def place_words(finding: PlanFinding[Any]) -> str:
    """Say where a finding is, as ``"x 4.00, y 2.50 m"``; empty where it is nowhere.

    Examples
    --------
    >>> place_words(PlanFinding("k", "note", "m", "t", shapely.box(0, 0, 4, 2), ("room A",)))
    'x 2.00, y 1.00 m'
    """
    places = finding_places(finding)
    words = [f"x {x:.2f}, y {y:.2f}" for x, y in places[:2]]
    more = f" and {len(places) - 2} more" if len(places) > 2 else ""
    return f"{'; '.join(words)} m{more}" if words else ""


def _point(part: shapely.Geometry) -> Place:
    crossing = None if part.is_valid else crossing_of(part)
    if crossing is not None:
        return crossing
    if isinstance(part, LineString):
        at = part.interpolate(0.5, normalized=True)
    elif part.is_valid and part.area > 0:
        at = part.representative_point()
    else:
        x, y = shapely.get_coordinates(part).mean(axis=0)
        return float(x), float(y)
    return float(at.x), float(at.y)
