"""Growing and shrinking outlines: what lies in the cracks between rooms, and what is thin."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely import Polygon

FILLED_M: Final = 1.0
"""What is narrower (m) lies within the ground of a floor. Ours, no source."""

_MITRE: Final = 5.0
_SIMPLE_M: Final = 0.05


def grown(geometry: shapely.Geometry, by_m: float, *, square: bool = False) -> shapely.Geometry:
    """Return a shape grown by so many metres, or shrunk by less than 0; ``square`` keeps corners.

    The library divides by zero within, at corners that go straight on; the shape is right.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        if square:
            return shapely.buffer(geometry, by_m, join_style="mitre", mitre_limit=_MITRE)
        return shapely.buffer(geometry, by_m)


def closed(geometry: shapely.Geometry, width_m: float, *, square: bool = True) -> shapely.Geometry:
    """Return a shape with every crack filled that is narrower than ``width_m``."""
    return grown(grown(geometry, width_m / 2, square=square), -width_m / 2, square=square)


def ground_of(polygons: Sequence[shapely.Geometry]) -> shapely.Geometry:
    """Return the ground (m) that rooms cover together, with walls, gaps and courts filled."""
    parts = shapely.get_parts(closed(shapely.union_all(list(polygons)), FILLED_M))
    filled = [Polygon(one.exterior) for one in parts if isinstance(one, Polygon)]
    return shapely.simplify(shapely.union_all(filled), _SIMPLE_M)


def is_thin(geometry: shapely.Geometry, width_m: float) -> bool:
    """Tell whether a shape is thinner than ``width_m`` all over."""
    return bool(grown(geometry, -width_m / 2).is_empty)


def crossing_of(geometry: shapely.Geometry) -> tuple[float, float] | None:
    """Return where (m) an outline crosses or touches itself first; None where it does not.

    Examples
    --------
    >>> crossing_of(shapely.Polygon([(0, 0), (2, 2), (2, 0), (0, 2)]))
    (1.0, 1.0)
    """
    place = shapely.is_valid_reason(geometry).partition("[")[2].rstrip("]").split()
    return (float(place[0]), float(place[1])) if len(place) == 2 else None
