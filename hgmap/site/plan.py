"""A floor plan from GeoJSON features with a ``kind``, checked: rooms, walls, openings.

A plan is in the floor's own metres. A room whose ring is not closed or crosses itself, rooms that
overlap, and rooms that share a name are errors: each could put a reading into the wrong room.
"""

from __future__ import annotations

import difflib
import itertools
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, Polygon, STRtree
from shapely.geometry import shape

from hgmap.errors import PlanError
from hgmap.site.building import Opening, OpeningState, Room
from hgmap.site.geometries import geometries_at_once
from hgmap.site.model import Problem
from hgmap.site.strip_areas import strip_areas, strips_beside
from hgmap.site.textfile import printable

OPENING_REACH_M = 0.35
"""An opening joins the rooms within this distance (m) of its middle: half a thick wall."""

BESIDE_M = 0.05
BESIDE_SHARE = 0.5
"""A room is looked for so much (m) past that reach, so that one just within it shows, and lies
beside an opening where it fills so much of that further strip; ours, no source."""

OVERLAP_ALLOWED_M2 = 0.02
"""Rooms that share less than this (m²) overlap by a drawing tolerance, not by mistake."""

LONGEST_BUILDING_M = 5000.0
"""A plan that spans more (m) is in another unit, or more than one building."""

FARTHEST_M = 1e8
"""No grid of a map counts farther (m); beyond it a metre drowns in the last digits."""

KINDS = ("room", "wall", "opening")
STATES: tuple[OpeningState, ...] = ("open", "closed", "sealed")


@dataclass(frozen=True, slots=True)
class Plan:
    """The parts of one floor plan."""

    rooms: tuple[Room, ...]
    walls: tuple[LineString, ...]
    openings: tuple[Opening, ...]
    problems: tuple[Problem, ...]


def parse_geojson(data: bytes, *, where: str) -> dict[str, Any]:
    """Read a GeoJSON FeatureCollection, or say what is wrong with it in one line."""
    try:
        collection = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise PlanError("is not UTF-8 text", where=where, todo="export it as GeoJSON") from None
    except json.JSONDecodeError as error:
        raise PlanError(
            f"is not GeoJSON: {error.msg} at line {error.lineno}", where=where
        ) from None
    except ValueError as error:  # a number of more digits than Python reads
        raise PlanError(f"is not GeoJSON: {error}", where=where) from None
    except RecursionError:
        raise PlanError("is not GeoJSON: nested too deeply", where=where) from None
    if not isinstance(collection, dict) or not isinstance(collection.get("features"), list):
        raise PlanError(
            "has no list of features", where=where, todo="export a GeoJSON FeatureCollection"
        )
    return collection


def read_plan(data: bytes, *, where: str, floor: str, region: bool = False) -> Plan:
    """Read one floor's plan.

    ``region`` allows one larger than a building: the ground that soil or moss was taken from.

    Raises
    ------
    PlanError
        If the file is not GeoJSON, has no room, or a room cannot be trusted; the message names
        the first offenders and counts the rest.
    """
    problems: list[Problem] = []
    errors: list[str] = []
    rooms: list[Room] = []
    walls: list[LineString] = []
    openings: list[Opening] = []
    features = parse_geojson(data, where=where)["features"]
    read = geometries_at_once(features, farthest_m=FARTHEST_M)
    for number, feature in enumerate(features, start=1):
        try:
            part = read_part(feature, number, read[number - 1] if read else None)
            if isinstance(part, Room):
                rooms.append(part)
            elif isinstance(part, Opening):
                openings.append(part)
            elif part is not None:
                walls.extend(part)
            else:
                kind, label = properties_of(feature).get("kind"), label_of(feature, number)
                near = difflib.get_close_matches(str(kind), KINDS, n=1)
                hint = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(KINDS)}"
                problems.append(
                    Problem("note", where, f"{label}: kind {kind!r} is ignored", hint, floor)
                )
        except PlanError as error:
            errors.append(f"{label_of(feature, number)}: {error}")
    errors += room_conflicts(rooms)
    if not rooms and not errors:
        errors.append("no room (a polygon with kind 'room')")
    if errors:
        more = f" (and {len(errors) - 3} more)" if len(errors) > 3 else ""
        raise PlanError("; ".join(errors[:3]) + more, where=where, todo="mend the plan")
    if not region:
        west, south, east, north = shapely.total_bounds([room.polygon for room in rooms])
        check_span(float(max(east - west, north - south)), where=where)
    joined = join_openings(openings, rooms)
    problems += [
        Problem(
            "note",
            where,
            f"opening {opening.id!r} touches no room",
            f"move it to within {OPENING_REACH_M} m of a room's edge",
            floor,
        )
        for opening in joined
        if not opening.rooms
    ]
    return Plan(tuple(rooms), tuple(walls), tuple(joined), tuple(problems))


def read_part(
    feature: Any, number: int, geometry: shapely.Geometry | None = None
) -> Room | Opening | list[LineString] | None:
    """Read one feature of a plan: a room, an opening, or the lines of a wall.

    Parameters
    ----------
    feature : object
        As JSON gave it.
    number : int
        Its place in the file, from 1: what has no id is called by it.
    geometry : shapely.Geometry, optional
        Its geometry, where it was read already.

    Returns
    -------
    Room, Opening, list of LineString or None
        None where its ``kind`` is not one of ours.

    Raises
    ------
    PlanError
        If its geometry cannot be read, or is not one for its kind.
    """
    properties = properties_of(feature)
    kind = properties.get("kind")
    geometry = read_geometry(feature) if geometry is None else geometry
    if kind == "room":
        return _room(geometry, properties, number)
    if kind == "wall":
        return _lines(geometry)
    return _opening(geometry, properties, number) if kind == "opening" else None


def properties_of(feature: Any) -> dict[str, Any]:
    """Return a feature's properties; none where it has none, or is no feature."""
    properties = feature.get("properties") if isinstance(feature, dict) else None
    return properties if isinstance(properties, dict) else {}


def label_of(feature: Any, number: int) -> str:
    """Say how a message calls a feature."""
    properties = properties_of(feature)
    kind = properties.get("kind")
    word = text_property(properties, "name") or text_property(properties, "id") or kind
    return f"feature {number} ({word})"


def read_geometry(feature: Any, *, farthest: float = FARTHEST_M) -> shapely.Geometry:
    """Return a feature's geometry in two dimensions, refusing what is not finite or not closed.

    No coordinate is ``farthest`` from zero or more.
    """
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    if not isinstance(geometry, dict):
        raise PlanError("no geometry")
    _refuse_open_rings(geometry)
    try:
        with np.errstate(invalid="ignore"):  # what is not finite is refused below
            made = shapely.force_2d(shape(geometry))
    except (
        ValueError,
        TypeError,
        KeyError,
        AttributeError,
        IndexError,
        RecursionError,
        OverflowError,
        shapely.errors.ShapelyError,
    ):
        raise PlanError("its coordinates cannot be read") from None
    coordinates = shapely.get_coordinates(made)
    if not coordinates.size:
        raise PlanError("it has no coordinates")
    if not np.isfinite(coordinates).all():
        raise PlanError("a coordinate is not a finite number")
    found = float(np.abs(coordinates).max())
    if found > farthest:
        raise PlanError(
            f"a coordinate of {found:g} is farther out than {farthest:g} m",
            todo="draw the plan in metres, in its own or the map's frame",
        )
    return made


def check_span(span_m: float, *, where: str) -> None:
    """Refuse a plan that is too large for a building.

    Raises
    ------
    PlanError
        If it spans more than 5 km.
    """
    if not span_m <= LONGEST_BUILDING_M:
        raise PlanError(
            f"its rooms span {span_m:.0f} m",
            where=where,
            todo="export it in metres (not millimetres or feet), one building at a time; a region "
            "has its bulk or surface samples: say so with medium in site.toml, and import it with "
            "--units metres",
        )


def _refuse_open_rings(geometry: dict[str, Any]) -> None:
    drawn = geometry.get("coordinates")
    parts = {"Polygon": [drawn], "MultiPolygon": drawn}.get(str(geometry.get("type")))
    rings = [part for part in parts if isinstance(part, list)] if isinstance(parts, list) else []
    for ring in itertools.chain.from_iterable(rings):
        if isinstance(ring, list) and len(ring) > 1 and ring[0] != ring[-1]:
            raise PlanError(
                f"its ring is not closed: starts at {ring[0]}, ends at {ring[-1]}",
                todo="repeat the first corner at the end, and look whether a corner was lost",
            )


def _room(geometry: shapely.Geometry, properties: dict[str, Any], number: int) -> Room:
    if not isinstance(geometry, Polygon):
        raise PlanError(f"a room is one polygon, found {geometry.geom_type}")
    if not geometry.is_valid:
        raise PlanError(f"its outline is not sound: {shapely.is_valid_reason(geometry)}")
    if geometry.area <= 0:
        raise PlanError("its area is zero")
    identifier = (
        text_property(properties, "id") or text_property(properties, "name") or f"room-{number}"
    )
    return Room(identifier, text_property(properties, "name") or identifier, geometry)


def _lines(geometry: shapely.Geometry) -> list[LineString]:
    if isinstance(geometry, LineString):
        return [geometry]
    lines = [part for part in shapely.get_parts(geometry) if isinstance(part, LineString)]
    if not lines:
        raise PlanError(f"a wall is a line, found {geometry.geom_type}")
    return lines


def _opening(geometry: shapely.Geometry, properties: dict[str, Any], number: int) -> Opening:
    if not isinstance(geometry, LineString) or geometry.length <= 0:
        raise PlanError(f"an opening is a line as long as it is wide, found {geometry.geom_type}")
    state = text_property(properties, "state") or "open"
    if state not in STATES:
        raise PlanError(f"state {state!r} is not one of {', '.join(STATES)}")
    return Opening(text_property(properties, "id") or f"opening-{number}", geometry, state)


def text_property(properties: Mapping[str, Any], key: str) -> str:
    """Return a property as one printable line; empty where it is missing."""
    value = properties.get(key)
    return "" if value is None else " ".join(printable(str(value)).split())


def room_conflicts(rooms: list[Room]) -> list[str]:
    """Say which rooms one word could mean, and which overlap."""
    complaints: list[str] = []
    for attribute in ("name", "id"):
        seen: dict[str, int] = {}
        for room in rooms:
            key = getattr(room, attribute).casefold()
            seen[key] = seen.get(key, 0) + 1
        complaints += [
            f"{count} rooms have the {attribute} {key!r}"
            for key, count in seen.items()
            if count > 1
        ]
    by_id = {room.id.casefold(): room for room in rooms}
    complaints += [
        f"2 rooms answer to {room.name!r}, one by its name and one by its id"
        for room in rooms
        if by_id.get(room.name.casefold(), room) is not room
        and by_id[room.name.casefold()].name.casefold() != room.name.casefold()
    ]
    if len(rooms) < 2:
        return complaints
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    one, other = STRtree(polygons).query(polygons)
    boxes = shapely.bounds(polygons)
    # rooms share no more than their boxes do, and most neighbours' boxes only touch
    low = np.maximum(boxes[one, :2], boxes[other, :2])
    high = np.minimum(boxes[one, 2:], boxes[other, 2:])
    may = (one < other) & (np.prod(high - low, axis=1) > OVERLAP_ALLOWED_M2 / 2)
    one, other = one[may], other[may]
    shared = shapely.area(shapely.intersection(polygons[one], polygons[other]))
    complaints += [
        f"rooms {rooms[i].name!r} and {rooms[j].name!r} overlap by {area:.2f} m²"
        for i, j, area in zip(one.tolist(), other.tolist(), shared.tolist(), strict=True)
        if area > OVERLAP_ALLOWED_M2
    ]
    return complaints


def join_openings(openings: list[Opening], rooms: list[Room]) -> list[Opening]:
    """Find the rooms (at most the two nearest) that each opening touches.

    A room counts only where it lies beside the opening: one that begins past its end, behind the
    wall that meets the door's frame, may be as near.
    """
    polygons = np.array([room.polygon for room in rooms], dtype=object)
    lines = np.array([one.line for one in openings], dtype=object)
    middles = shapely.line_interpolate_point(lines, 0.5, normalized=True)
    near: list[list[tuple[float, str]]] = [[] for _ in openings]
    if rooms and openings:
        found = STRtree(polygons).query(middles, predicate="dwithin", distance=OPENING_REACH_M)
        shared = _shared_areas(lines, polygons, found)
        found = found[:, shared > BESIDE_M * BESIDE_SHARE * shapely.length(lines[found[0]])]
        away = shapely.distance(middles[found[0]], polygons[found[1]])
        for (which, room), distance in zip(found.T, away, strict=True):
            near[which].append((float(distance), rooms[room].id))
    return [
        replace(one, rooms=tuple(identifier for _, identifier in sorted(of_one)[:2]))
        for one, of_one in zip(openings, near, strict=True)
    ]


def _shared_areas(
    lines: NDArray[np.object_], polygons: NDArray[np.object_], pairs: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return how much (m²) of the strip beside an opening is in a room, for pairs of both."""
    one, other = pairs
    reach = OPENING_REACH_M + BESIDE_M
    found = np.zeros(len(one))
    straight = (shapely.get_num_coordinates(lines) == 2)[one]
    strips = strips_beside(lines[one[straight]], reach)
    found[straight] = strip_areas(strips, polygons[other[straight]])
    bent, beside = one[~straight], other[~straight]
    strips = shapely.buffer(lines[bent], reach, cap_style="flat")
    found[~straight] = shapely.area(shapely.intersection(strips, polygons[beside]))
    return found
