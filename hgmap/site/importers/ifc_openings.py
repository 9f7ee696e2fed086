"""Holes in the walls of an IFC file, and what fills them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from shapely import LineString

from hgmap.site.importers.ifc_shapes import GRID_M, Meshes, middle_line, tidied

NARROWEST_M: Final = 0.4
LOWEST_M: Final = 1.5
SILL_M: Final = 0.3
"""A hole that nothing fills is a passage where it is this wide and high, and begins within this of
the floor (m); ours, no source."""

WIDEST_M: Final = 50.0


@dataclass(frozen=True, slots=True)
class Filled:
    """A hole in a wall.

    Attributes
    ----------
    entity : ifcopenshell.entity_instance
        The hole.
    shape : shapely.Geometry
        Its ground within its wall (m): polygons.
    bottom_m, top_m : float
    """

    entity: Any
    shape: shapely.Geometry
    bottom_m: float
    top_m: float

    def is_passage(self, floor_m: float) -> bool:
        """Tell whether somebody can walk through it from a floor of this height (m)."""
        line = middle_line(self.shape)
        return (
            line is not None
            and line.length >= NARROWEST_M
            and self.top_m - self.bottom_m >= LOWEST_M
            and abs(self.bottom_m - floor_m) <= SILL_M
        )


def filled_holes(model: Any, meshes: Meshes) -> dict[int, Filled]:
    """Return the holes of all walls: by the number of what fills them, or else by their own."""
    found: dict[int, Filled] = {}
    for hole in model.by_type("IfcOpeningElement"):
        walls = [one.RelatingBuildingElement for one in hole.VoidsElements]
        fillings = [one.RelatedBuildingElement for one in hole.HasFillings]
        recess = getattr(hole, "PredefinedType", None) == "RECESS"
        if not walls or not walls[0].is_a("IfcWall") or (recess and not fillings):
            continue
        mesh = meshes.of(hole)
        if mesh is None:
            continue
        shape = mesh.from_above()
        wall = meshes.of(walls[0])
        if wall is not None:  # a hole is often drawn deeper than its wall
            within = tidied(shapely.intersection(shape, wall.from_above(), grid_size=GRID_M))
            shape = shape if within.is_empty else within
        if shape.is_empty:
            continue
        one = Filled(hole, shape, mesh.bottom_m, mesh.top_m)
        for key in [int(filling.id()) for filling in fillings] or [int(hole.id())]:
            found[key] = one
    return found


def line_of_width(product: Any, meshes: Meshes, unit_m: float) -> shapely.Geometry | None:
    """Return the line of a door or window that fills no hole: as wide as it says, or looks.

    Its placement has the x axis along its width, from its lower left corner (ISO 16739, IfcDoor
    and IfcWindow).
    """
    import ifcopenshell.util.placement

    width = getattr(product, "OverallWidth", None)
    if width is not None and product.ObjectPlacement is not None:
        width_m = float(width) * unit_m
        if 0 < width_m <= WIDEST_M:
            matrix = ifcopenshell.util.placement.get_local_placement(product.ObjectPlacement)
            start = np.asarray(matrix[:2, 3], dtype=float) * unit_m
            along = np.asarray(matrix[:2, 0], dtype=float)
            line = LineString([start, start + along * width_m])
            return line if np.isfinite(shapely.get_coordinates(line)).all() else None
    mesh = meshes.of(product)
    return middle_line(mesh.from_above()) if mesh is not None else None
