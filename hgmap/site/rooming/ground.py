"""What a drawing has, sorted: what stops air, what lets it pass, what only names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming.arrangement import Shapes
from hgmap.site.rooming.repairs import Repairs

FRAME_M = 5.0
"""Where no outline is drawn, outdoors begins as a frame so far (m) from everything."""


@dataclass(frozen=True, slots=True)
class Ground:
    """The parts of a drawing, near zero (m).

    Attributes
    ----------
    solid : shapely.Geometry
        Thick walls and windows.
    pieces : array of Polygon
        The same, and doors, one by one.
    lines : array of LineString
        Thin walls and windows, and faces of thick ones.
    outline : shapely.Geometry or None
        Round the building.
    walkable : shapely.Geometry or None
        Free floor.
    doors, rooms, texts : tuple of Part
        As drawn, near zero.
    """

    solid: shapely.Geometry
    pieces: Shapes
    lines: Shapes
    outline: shapely.Geometry | None
    walkable: shapely.Geometry | None
    doors: tuple[Part, ...]
    rooms: tuple[Part, ...]
    texts: tuple[Part, ...]

    @property
    def extent(self) -> shapely.Geometry:
        """The ground that is looked at: free floor, the outline, or a frame round everything."""
        if self.walkable is not None:
            return self.walkable
        if self.outline is not None:
            return self.outline
        drawn = [self.solid, *self.lines, *(one.geometry for one in (*self.doors, *self.rooms))]
        west, south, east, north = shapely.total_bounds(drawn)
        return shapely.box(west - FRAME_M, south - FRAME_M, east + FRAME_M, north + FRAME_M)


def sort_parts(parts: Sequence[Part], origin: NDArray[np.float64], repairs: Repairs) -> Ground:
    """Sort parts by role and shape; what cannot be used is said.

    Parameters
    ----------
    parts : sequence of Part
        In metres of the floor's frame.
    origin : array of shape (2,)
        What becomes zero (m).
    repairs : Repairs
        Takes the remarks.
    """
    moved = [_near_zero(part, origin, repairs) for part in parts]
    kept = [part for part in moved if not part.geometry.is_empty]
    solid: list[shapely.Geometry] = []
    lines: list[shapely.Geometry] = []
    doors: list[Part] = []
    for part in kept:
        pieces = shapely.get_parts(shapely.get_parts(part.geometry))
        kind = shapely.get_dimensions(pieces)
        if part.role in ("wall", "window"):
            solid += pieces[kind == 2].tolist()
            lines += pieces[kind == 1].tolist()
            if (kind == 0).any():
                repairs.remark(f"{part.label}: a {part.role} that is a point", pieces[kind == 0][0])
        elif part.role == "door":
            doors += [_with_shape(part, piece) for piece in pieces]
    return Ground(
        shapely.union_all(solid) if solid else shapely.MultiPolygon(),
        np.array(
            [*solid, *(one.geometry for one in doors if _is_area(one.geometry))], dtype=object
        ),
        np.array([shapely.LineString(one) for one in lines], dtype=object),
        _area_of(kept, "outline", repairs),
        _area_of(kept, "walkable", repairs),
        tuple(doors),
        tuple(part for part in kept if part.role == "room"),
        tuple(part for part in kept if part.role == "text"),
    )


def standing_alone(shapes: Shapes, others: shapely.Geometry, reach_m: float) -> NDArray[np.bool_]:
    """Tell which shapes are farther than ``reach_m`` from all others' parts."""
    tree = STRtree(shapely.get_parts(others))
    near, _ = tree.query(shapes, predicate="dwithin", distance=reach_m)
    alone = np.ones(len(shapes), dtype=bool)
    alone[near] = False
    return alone


def _near_zero(part: Part, origin: NDArray[np.float64], repairs: Repairs) -> Part:
    shape = shapely.transform(shapely.force_2d(part.geometry), lambda xy: xy - origin)
    if not shape.is_empty and not shape.is_valid:
        mended = shapely.make_valid(shape)
        if part.role != "text":
            repairs.remark(
                f"{part.label}: its outline crosses itself; read as the areas that it surrounds,",
                mended,
            )
        shape = mended
    return _with_shape(part, shape)


def _is_area(shape: shapely.Geometry) -> bool:
    return int(shapely.get_dimensions(shape)) == 2


def _with_shape(part: Part, shape: shapely.Geometry) -> Part:
    return Part(part.role, shape, part.label, part.name, part.id, part.state)


def _area_of(parts: list[Part], role: str, repairs: Repairs) -> shapely.Geometry | None:
    areas: list[shapely.Geometry] = []
    for part in parts:
        if part.role == role:
            pieces = shapely.get_parts(shapely.get_parts(part.geometry))
            polygons = pieces[shapely.get_dimensions(pieces) == 2].tolist()
            areas += polygons
            if not polygons:
                repairs.remark(f"{part.label}: the {role} is an area, found lines", part.geometry)
    return shapely.union_all(areas) if areas else None
