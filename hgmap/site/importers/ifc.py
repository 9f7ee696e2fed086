"""Storeys of an IFC file: spaces, walls, doors and windows, as they stand on the plan."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyproj
import shapely

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing, Part
from hgmap.site.importers.features import LISTED
from hgmap.site.importers.ifc_file import OnTheMap, metres_per_unit, open_ifc, place_on_the_map
from hgmap.site.importers.ifc_openings import Filled, filled_holes, line_of_width
from hgmap.site.importers.ifc_shapes import CUT_M, Mesh, Meshes
from hgmap.site.importers.names import one_line_text, unique_names
from hgmap.site.plan import FARTHEST_M

WALLS: Final = ("IfcWall", "IfcCurtainWall")
NO_ROOMS: Final = ("EXTERNAL", "GFA")
"""Predefined types of a space that is no room: outside, and the sum of a storey's floor."""

STEPS: Final = 0.05
"""Where a room cut level and looked at from above differ by more than this share, that is told."""

STOREY_REACH_M: Final = 0.5


@dataclass
class _Storey:
    """One storey while its parts are gathered."""

    entity: Any
    name: str
    height_m: float
    own: int
    parts: list[Part]


def draw_ifc(data: bytes, *, file: str) -> tuple[Drawing, ...]:
    """Read the storeys of an IFC file.

    Parameters
    ----------
    data : bytes
        The file, in the STEP physical form.
    file : str
        Its name, for messages.

    Returns
    -------
    tuple of Drawing
        From the lowest storey up, in metres. Spaces are rooms. Walls are cut 1 m above the floor,
        and whole: what air passes lies over them, a door as wide as its hole in the wall or as it
        says. Where the file says where it stands (IfcMapConversion), the coordinates are those
        of its map.

    Raises
    ------
    PlanError
        If it is no such file, is damaged, or has neither spaces nor walls on a storey.
    """
    model = open_ifc(data, file=file)
    try:
        return _drawings(model, file=file)
    except PlanError:
        raise
    except Exception as error:  # an entry of another type than it should be, wherever it is met
        raise PlanError(
            f"cannot be read as IFC ({type(error).__name__}: {one_line_text(error)})",
            where=file,
            todo="it may be damaged: export it again as IFC4",
        ) from None


def _drawings(model: Any, *, file: str) -> tuple[Drawing, ...]:
    notes: list[str] = []
    unit_m = metres_per_unit(model, notes, file=file)
    meshes = Meshes()
    storeys = _storeys(model, unit_m)
    _add_spaces(model, storeys, meshes, notes)
    walls = _wall_meshes(model, storeys, meshes, notes)
    drawn = [one for one in storeys if one.own]
    if not drawn:
        raise PlanError(
            "has no space and no wall on any storey",
            where=file,
            todo="export spaces (IfcSpace), walls and doors with their storeys",
        )
    for storey in drawn:
        _add_walls(storey, walls)
    _add_openings(model, drawn, meshes, unit_m, notes)
    empty = [one.name for one in storeys if not one.own]
    if empty:
        notes.append(f"storeys with no room and no wall: {', '.join(empty[:LISTED])}")
    on_the_map = place_on_the_map(model, unit_m, notes)
    return tuple(_drawing(one, on_the_map, notes, file=file) for one in drawn)


def _storeys(model: Any, unit_m: float) -> list[_Storey]:
    import ifcopenshell.util.placement

    entities = model.by_type("IfcBuildingStorey")
    heights = [
        float(ifcopenshell.util.placement.get_storey_elevation(one)) * unit_m for one in entities
    ]
    names = unique_names(
        [one_line_text(one.Name) or one_line_text(one.LongName) for one in entities],
        otherwise="storey",
    )
    found = [
        _Storey(entity, name, height + 0.0, 0, [])
        for entity, name, height in zip(entities, names, heights, strict=True)
        if math.isfinite(height)
    ]
    return sorted(found, key=lambda one: one.height_m)


def _storey_of(product: Any, storeys: list[_Storey], base_m: float) -> _Storey | None:
    """Return the storey that a product says it is on, or else the one that it stands on."""
    import ifcopenshell.util.element

    said = ifcopenshell.util.element.get_container(product, ifc_class="IfcBuildingStorey")
    if said is None:
        above = ifcopenshell.util.element.get_aggregate(product)
        while above is not None and not above.is_a("IfcBuildingStorey"):
            above = ifcopenshell.util.element.get_aggregate(above)
        said = above
    for one in storeys:
        if said is not None and one.entity.id() == said.id():
            return one
    below = [one for one in storeys if one.height_m <= base_m + STOREY_REACH_M]
    return below[-1] if below else None


def _label(product: Any) -> str:
    name = one_line_text(product.Name)
    return f"{product.is_a()} #{product.id()}" + (f" ({name})" if name else "")


def _add_spaces(model: Any, storeys: list[_Storey], meshes: Meshes, notes: list[str]) -> None:
    lost: list[str] = []
    for space in model.by_type("IfcSpace"):
        kind = getattr(space, "PredefinedType", None) or ""
        outside = getattr(space, "InteriorOrExteriorSpace", None) or ""
        whole = any(
            part.is_a("IfcSpace")
            for relation in space.IsDecomposedBy
            for part in relation.RelatedObjects
        )
        if whole or kind in NO_ROOMS or outside == "EXTERNAL":
            lost.append(f"{_label(space)}: {'has its parts' if whole else kind or outside}")
            continue
        found = _ground(space, meshes, notes)
        storey = _storey_of(space, storeys, found[1]) if found is not None else None
        if found is None or storey is None:
            lost.append(f"{_label(space)}: no {'shape' if found is None else 'storey'}")
            continue
        shape = found[0]
        if shape.is_empty:
            lost.append(f"{_label(space)}: a shape without ground")
            continue
        name, number = one_line_text(space.LongName), one_line_text(space.Name)
        storey.own += 1
        storey.parts.append(
            Part("room", shape, _label(space), name=name or number, id=number if name else "")
        )
    _note_lost(lost, "spaces that are no room", notes)


def _ground(space: Any, meshes: Meshes, notes: list[str]) -> tuple[shapely.Geometry, float] | None:
    """Return the ground of a space and the height (m) of its floor: of its body or footprint."""
    mesh = meshes.of(space)
    if mesh is None:
        return meshes.footprint(space)
    seen = mesh.from_above()
    cut = mesh.cut(mesh.bottom_m + CUT_M) if mesh.top_m > mesh.bottom_m + CUT_M else seen
    if cut.is_empty:
        return seen, mesh.bottom_m
    if abs(cut.area - seen.area) > STEPS * seen.area:
        notes.append(
            f"{_label(space)}: {cut.area:.2f} m² at {CUT_M:g} m above its floor, {seen.area:.2f} "
            "m² seen from above: drawn as cut"
        )
    return cut, mesh.bottom_m


def _wall_meshes(
    model: Any, storeys: list[_Storey], meshes: Meshes, notes: list[str]
) -> list[tuple[Any, Mesh]]:
    found: list[tuple[Any, Mesh]] = []
    lost: list[str] = []
    for kind in WALLS:
        for wall in model.by_type(kind):
            mesh = meshes.of(wall)
            if mesh is None:
                lost.append(f"{_label(wall)}: no shape")
                continue
            found.append((wall, mesh))
            storey = _storey_of(wall, storeys, mesh.bottom_m)
            if storey is not None:
                storey.own += 1
    _note_lost(lost, "walls without a shape", notes)
    return found


def _add_walls(storey: _Storey, walls: Iterable[tuple[Any, Mesh]]) -> None:
    """Add every wall that stands in the way 1 m above the floor, whichever storey it is said on."""
    height = storey.height_m + CUT_M
    for wall, mesh in walls:
        if mesh.bottom_m < height < mesh.top_m:
            shape = mesh.cut(height)
            if not shape.is_empty:
                storey.parts.append(Part("wall", shape, _label(wall)))


def _add_openings(
    model: Any, storeys: list[_Storey], meshes: Meshes, unit_m: float, notes: list[str]
) -> None:
    holes = filled_holes(model, meshes)
    lost: list[str] = []
    for kind, role in (("IfcDoor", "door"), ("IfcWindow", "window")):
        for product in model.by_type(kind):
            if getattr(product, "PredefinedType", None) == "TRAPDOOR":
                lost.append(f"{_label(product)}: a door in a floor")
                continue
            hole = holes.pop(int(product.id()), None)
            shape = hole.shape if hole is not None else line_of_width(product, meshes, unit_m)
            base = hole.bottom_m if hole is not None else _base(product, meshes, unit_m)
            storey = _storey_of(product, storeys, base)
            if shape is None or storey is None:
                lost.append(f"{_label(product)}: no {'place' if shape is None else 'storey'}")
                continue
            storey.parts.append(
                Part(
                    "door" if role == "door" else "window",
                    shape,
                    _label(product),
                    name=one_line_text(product.Name),
                )
            )
    _note_lost(lost, "doors and windows that cannot be drawn", notes)
    _add_passages(storeys, holes.values())


def _base(product: Any, meshes: Meshes, unit_m: float) -> float:
    import ifcopenshell.util.placement

    if product.ObjectPlacement is not None:
        matrix = ifcopenshell.util.placement.get_local_placement(product.ObjectPlacement)
        return float(matrix[2][3]) * unit_m
    mesh = meshes.of(product)
    return mesh.bottom_m if mesh is not None else 0.0


def _add_passages(storeys: list[_Storey], holes: Iterable[Filled]) -> None:
    """Add holes in walls that nothing fills, where somebody can walk through."""
    for hole in holes:
        for storey in storeys:
            if hole.is_passage(storey.height_m):
                storey.parts.append(Part("door", hole.shape, _label(hole.entity)))
                break


def _note_lost(lost: list[str], what: str, notes: list[str]) -> None:
    notes += [f"{line} (left out)" for line in lost[:LISTED]]
    if len(lost) > LISTED:
        notes.append(f"{len(lost) - LISTED} more {what}")


def _drawing(
    storey: _Storey, on_the_map: OnTheMap | None, notes: list[str], *, file: str
) -> Drawing:
    parts = storey.parts
    far = max(np.abs(shapely.total_bounds([one.geometry for one in parts])))
    if not far <= FARTHEST_M:
        raise PlanError(
            f"storey {storey.name!r} lies {far:.3g} m from the origin",
            where=file,
            todo="mend the placement of its site",
        )
    crs: pyproj.CRS | None = None
    if on_the_map is not None:
        crs = on_the_map.crs
        parts = [
            Part(one.role, shapely.transform(one.geometry, on_the_map), one.label,
                 name=one.name, id=one.id, state=one.state)
            for one in parts
        ]  # fmt: skip
    own: list[str] = []
    rooms = sum(one.role == "room" for one in parts)
    if rooms > 1 and not any(one.role == "door" for one in parts):
        own.append(
            "no openings on this storey: draw the doors, for without them no air passes from room "
            "to room"
        )
    return Drawing(
        tuple(parts),
        file,
        crs=crs,
        storey=storey.name,
        elevation_m=storey.height_m,
        notes=(*notes, *own),
    )
