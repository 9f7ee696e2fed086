"""A floor from a GeoJSON file: rooms, walls and openings, in local metres, into a site folder."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import shapely
from shapely import LineString, Polygon

from hgmap.errors import PlanError
from hgmap.site.building import Opening, OpeningState, Room
from hgmap.site.files import read_bytes
from hgmap.site.importers.add_floor import ImportReport, add_floor, find_place
from hgmap.site.importers.doors import Edges
from hgmap.site.importers.features import Feature, read_features
from hgmap.site.importers.names import one_line_text, unique_ids, unique_names
from hgmap.site.importers.outlines import GRID_M, Mended, Outline, mend, place_of
from hgmap.site.importers.placing import Placing, Units, choose_placing, source_crs
from hgmap.site.plan import STATES, check_span, parse_geojson

__all__ = ["ImportReport", "import_geojson"]


def import_geojson(
    file: Path,
    site_folder: Path,
    floor: str,
    *,
    where: str | None = None,
    units: Units | None = None,
    crs: str | None = None,
    use: str | None = None,
    title: str | None = None,
    replace: bool = False,
) -> ImportReport:
    """Import one floor; everything is checked before anything is written.

    Parameters
    ----------
    file : Path
        A GeoJSON FeatureCollection (RFC 7946, or the older form with a ``crs`` member).
    site_folder : Path
        The site; made if it is not there.
    floor : str
        Name of the floor.
    where : str, optional
        Keep the features whose property holds a value: ``"level=0"``.
    units : {"lonlat", "metres"}, optional
        What the coordinates are; otherwise told from their span.
    crs : str, optional
        The projected system that the coordinates are in.
    use : str, optional
        What the building is used for.
    title : str, optional
        Title of the floor, as printed.
    replace : bool
        Put the plan in the place of one of the same floor name, whose entry is kept.

    Raises
    ------
    PlanError
        If the file cannot be used, has no room left, or the floor is there already.
    SiteError
        If the site folder cannot be used.
    """
    source = str(file)
    place = find_place(site_folder, floor, use=use, replace=replace)
    collection = parse_geojson(read_bytes(file, where=source), where=source)
    features, left_out = read_features(collection, where=where, file=source)
    bounds = _bounds(features)
    placing = choose_placing(
        bounds,
        source_crs(bounds, units=units, crs=crs, member=collection.get("crs"), file=source),
        site_frame=place.map_frame,
        other_floors=place.other_floors,
        file=source,
    )
    features = [_in_metres(one, placing, file=source) for one in features]
    if units is None and crs is None:  # nobody has said that these really are metres
        west, south, east, north = _bounds(features)
        check_span(max(east - west, north - south), where=source)
    mended = mend(
        (Outline(one.label, one.name or one.id, one.id, Polygon()), one.geometry)
        for one in features
        if one.role == "room"
    )
    if not mended.outlines:
        raise PlanError("no room is left", where=source, todo="; ".join(mended.skipped[:3]))
    rooms, renamed = _rooms(mended)
    openings, far = _openings(features, rooms, file=source)
    return add_floor(
        place,
        rooms,
        [line for one in features if one.role == "wall" for line in _lines(one.geometry)],
        openings,
        map_frame=placing.frame,
        title=title,
        repairs=(*mended.repairs, *renamed),
        skipped=(*mended.skipped, *far, *left_out),
    )


def _bounds(features: list[Feature]) -> tuple[float, float, float, float]:
    west, south, east, north = shapely.total_bounds(
        [one.geometry for one in features if one.role == "room"]
    )
    return float(west), float(south), float(east), float(north)


def _in_metres(one: Feature, placing: Placing, *, file: str) -> Feature:
    geometry = shapely.transform(one.geometry, placing.convert)
    if not np.isfinite(shapely.get_coordinates(geometry)).all():
        raise PlanError(
            f"{one.label}: a corner lies outside the map", where=file, todo="check --crs"
        )
    return dataclasses.replace(one, geometry=geometry)


def _rooms(mended: Mended) -> tuple[list[Room], list[str]]:
    outlines = mended.outlines
    names = unique_names([outline.name for outline in outlines])
    ids = unique_ids([outline.id for outline in outlines], letter="R", names=names)
    notes = [
        f"{outline.label}: another room is called {outline.name!r}; this one is now {name!r}"
        for outline, name in zip(outlines, names, strict=True)
        if outline.name and name != outline.name
    ]
    rooms = [
        Room(identifier, name, shapely.orient_polygons(outline.polygon))
        for outline, name, identifier in zip(outlines, names, ids, strict=True)
    ]
    return rooms, notes


def _lines(geometry: shapely.Geometry) -> list[LineString]:
    """Return lines as drawn, and a polygon (a thick wall) as its outline."""
    lines: list[LineString] = []
    for part in shapely.get_parts(geometry):
        rings = [part.exterior, *part.interiors] if isinstance(part, Polygon) else [part]
        lines += [LineString(ring.coords) for ring in rings if ring.length > GRID_M]
    return lines


def _openings(
    features: list[Feature], rooms: list[Room], *, file: str
) -> tuple[list[Opening], list[str]]:
    """Return openings as drawn, and doors laid along the nearest room edge, in the file's order."""
    found: list[tuple[str, OpeningState, LineString]] = []
    skipped: list[str] = []
    edges = Edges(room.polygon for room in rooms)
    for one in features:
        if one.role == "opening":
            lines = _lines(one.geometry)
            if not lines:
                skipped.append(f"{one.label}: an opening without a length")
        elif one.role == "door":
            lines = []
            for point in shapely.get_parts(one.geometry):
                line, distance = edges.lay(point)
                if line is not None:
                    lines.append(line)
                    continue
                skipped.append(
                    f"{one.label}: a door {distance:.2f} m from the nearest room edge "
                    f"{place_of(point)}"
                )
        else:
            continue
        found += [(one.id, _state(one, file=file), line) for line in lines]
    ids = unique_ids([given for given, _, _ in found], letter="D")
    openings = [
        Opening(identifier, line, state)
        for identifier, (_, state, line) in zip(ids, found, strict=True)
    ]
    return openings, skipped


def _state(one: Feature, *, file: str) -> OpeningState:
    """Return the state said with our own ``kind``; other markings do not say how a door stood."""
    said = one.properties.get("state") if "kind" in one.properties else None
    for state in STATES:
        if said in (state, None):
            return state if said else "open"
    raise PlanError(
        f"{one.label}: state {one_line_text(said)!r} is not one of {', '.join(STATES)}",
        where=file,
        todo="write one of them, or leave it out for 'open'",
    )
