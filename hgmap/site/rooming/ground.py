"""What a drawing has, sorted: what stops air, what lets it pass, what only names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString

from hgmap.site.importers.drawing import Part
from hgmap.site.rooming.arrangement import Ints, Shapes
from hgmap.site.rooming.repairs import Repairs

RING = 2
"""The number that shapely gives a closed ring among its types."""

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
        bounds = shapely.total_bounds(drawn)
        west, south, east, north = np.nan_to_num(bounds)  # of nothing: a frame round nothing
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
    shapes = _near_zero(parts, origin, repairs)
    pieces, owner = _pieces_of(shapes)
    kind = shapely.get_dimensions(pieces)
    stops = np.array([part.role in ("wall", "window") for part in parts], dtype=bool)[owner]
    solid = pieces[stops & (kind == 2)].tolist()
    lines = pieces[stops & (kind == 1)]
    for number in np.nonzero(stops & (kind == 0))[0].tolist():
        part = parts[owner[number]]
        repairs.remark(f"{part.label}: a {part.role} that is a point", pieces[number])
    doors = [
        replace(parts[owner[number]], geometry=pieces[number])
        for number in np.nonzero(~stops)[0].tolist()
        if parts[owner[number]].role == "door"
    ]
    kept = [
        replace(part, geometry=shape)
        for part, shape in zip(parts, shapes, strict=True)
        if part.role not in ("wall", "window", "door") and not shape.is_empty
    ]
    return Ground(
        shapely.union_all(solid) if solid else shapely.MultiPolygon(),
        np.array(
            [*solid, *(one.geometry for one in doors if _is_area(one.geometry))], dtype=object
        ),
        np.array(_open_lines(lines), dtype=object),
        _area_of(kept, "outline", repairs),
        _area_of(kept, "walkable", repairs),
        tuple(doors),
        tuple(part for part in kept if part.role == "room"),
        tuple(part for part in kept if part.role == "text"),
    )


def _near_zero(parts: Sequence[Part], origin: NDArray[np.float64], repairs: Repairs) -> Shapes:
    """Return the shapes of parts near zero; outlines that cross themselves are mended."""
    drawn = np.array([part.geometry for part in parts], dtype=object)
    shapes: Shapes = shapely.transform(shapely.force_2d(drawn), lambda xy: xy - origin)
    unsound = ~shapely.is_valid(shapes)
    shapes[unsound] = shapely.make_valid(shapes[unsound])
    for number in np.nonzero(unsound & ~shapely.is_empty(shapes))[0].tolist():
        repairs.remark(
            f"{parts[number].label}: its outline crosses itself; read as the areas that it "
            "surrounds,",
            shapes[number],
        )
    return shapes


def _pieces_of(shapes: Shapes) -> tuple[Shapes, Ints]:
    """Return the points, lines and polygons of shapes, and the shape of each."""
    outer, shape = shapely.get_parts(shapes, return_index=True)
    inner, piece = shapely.get_parts(outer, return_index=True)  # a collection holds multi-parts
    return inner, shape[piece]


def _open_lines(lines: Shapes) -> list[LineString]:
    """Return rings as plain lines."""
    rings = shapely.get_type_id(lines) == RING
    lines[rings] = [LineString(one.coords) for one in lines[rings]]
    return list(lines.tolist())


def _is_area(shape: shapely.Geometry) -> bool:
    return int(shapely.get_dimensions(shape)) == 2


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
