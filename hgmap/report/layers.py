"""Rooms, readings, contours, zones and places to measure again as layers of a map.

What the GeoPackage and GeoJSON hold: the same rows and columns, whichever file they go into.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from shapely import MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence, ResampleList, Zones, error_of
from hgmap.report.words import published_per_computed, reading_value
from hgmap.site.building import Floor

Rows = dict[str, list[dict[str, Any]]]
"""Of each layer, a row for each thing on it; ``geometry`` is its place, None where nobody knows."""

# A plan with no place on the map: metres of its own, so that no reader takes them for degrees.
PLAN_CRS: Final = (
    'ENGCRS["Floor plan, metres",EDATUM["Floor plan"],CS[Cartesian,2],'
    'AXIS["x",east],AXIS["y",north],LENGTHUNIT["metre",1]]'
)

LAYERS: Final = ("rooms", "readings", "contours", "zones", "resample")

NESTED: Final = "nested_zones"
"""One more layer, where a run has more than one level."""

_ZONE_COLUMNS: Final = (
    "floor", "room", "name", "id", "zone", "area_m2", "tape_m", "added_m2", "highest_estimate",
    "highest_reading", "highest_reading_number", "unit", "probability", "reasons",
)  # fmt: skip

# A layer keeps its columns even where a run has no row for it.
COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "rooms": ("floor", "room", "name", "area_m2"),
    "readings": (
        "floor", "id", "room", "height_m", "band", "time", "value", "unit", "qualifier",
        "concentration", "low", "error", "kind", "instrument", "duplicate_of", "verdict", "role",
        "above_level", "reasons", "findings", "note",
    ),
    "contours": ("floor", "level", "value", "unit"),
    "zones": _ZONE_COLUMNS,
    NESTED: ("level_is_for", "level", "level_value", *_ZONE_COLUMNS),
    "resample": ("floor", "rank", "room", "name", "height_m", "expected_m2", "reasons"),
}  # fmt: skip

_NUMBERS: Final = frozenset(
    {
        "area_m2", "height_m", "value", "concentration", "low", "error", "highest_estimate",
        "highest_reading_number", "probability", "expected_m2", "tape_m", "added_m2",
        "level_value",
    }
)  # fmt: skip


def kind_of_column(column: str) -> str:
    """Return the kind of a column, which must not change where a run has no value for it."""
    if column in _NUMBERS:
        return "float64"
    return {"rank": "int64", "above_level": "bool"}.get(column, "str")


GEOMETRY_TYPE: Final = {
    "rooms": "Polygon",
    "readings": "Point",
    "contours": "LineString",
    "zones": "MultiPolygon",
    NESTED: "MultiPolygon",
    "resample": "Point",
}


def layer_rows(
    floors: Sequence[tuple[FloorEvidence, Zones, ResampleList]], nested: Sequence[Zones] = ()
) -> Rows:
    """Gather the rows of every layer.

    ``nested`` are the zones of every level of every floor, where there is more than one level.
    Coordinates are map coordinates where the site has a map frame, else the floors' own metres.
    Concentrations are in the unit of the level as published.
    """
    rows: Rows = {layer: [] for layer in ((*LAYERS, NESTED) if nested else LAYERS)}
    for evidence, zones, resample in floors:
        _collect(rows, evidence, zones, resample)
    for one in nested:
        of_level = {
            "level_is_for": one.purpose, "level": one.level.name, "level_value": one.level.value
        }  # fmt: skip
        rows[NESTED] += [of_level | row for row in _zone_rows(one)]
    return rows


def _collect(
    rows: dict[str, list[dict[str, Any]]],
    evidence: FloorEvidence,
    zones: Zones,
    resample: ResampleList,
) -> None:
    floor, level = evidence.floor, evidence.level
    scale = published_per_computed(level)

    def published(value: float | None) -> float | None:
        return None if value is None else value * scale

    for room in floor.rooms:
        rows["rooms"].append(
            {
                "geometry": on_map(room.polygon, floor),
                "floor": floor.name,
                "room": room.id,
                "name": room.name,
                "area_m2": room.area_m2,
            }
        )
    for item in evidence.items:
        reading = item.reading
        placed = reading.x is not None and reading.y is not None
        rows["readings"].append(
            {
                "geometry": on_map(Point(reading.x, reading.y), floor) if placed else None,
                "floor": floor.name,
                "id": reading.id,
                "room": reading.room,
                "height_m": reading.height_m,
                "band": reading.band,
                "time": reading.time.isoformat() if reading.time else None,
                "value": reading.value,
                "unit": reading.unit,
                "qualifier": reading.qualifier,
                "concentration": published(reading.concentration),
                "low": published(reading.concentration_low),
                "error": published(error_of(reading)),
                "kind": reading.kind,
                "instrument": reading.instrument,
                "duplicate_of": reading.duplicate_of,
                "verdict": reading.verdict,
                "role": item.role,
                "above_level": item.above,
                "reasons": "; ".join(item.reasons),
                "findings": "; ".join(finding.text for finding in reading.findings),
                "note": reading.note,
            }
        )
    for line in zones.contours:
        rows["contours"].append(
            {
                "geometry": on_map(line, floor),
                "floor": floor.name,
                "level": level.name,
                "value": level.value,
                "unit": level.unit,
            }
        )
    rows["zones"] += _zone_rows(zones)
    for place in resample.places:
        rows["resample"].append(
            {
                "geometry": on_map(Point(place.x, place.y), floor),
                "floor": floor.name,
                "rank": place.rank,
                "room": place.room,
                "name": place.room_name,
                "height_m": place.height_m,
                "expected_m2": place.expected_m2,
                "reasons": "; ".join(place.reasons),
            }
        )


def _zone_rows(zones: Zones) -> Iterator[dict[str, Any]]:
    level, scale = zones.level, published_per_computed(zones.level)
    for zone in zones.zones:
        estimate, reading = zone.highest_estimate, zone.highest_reading
        yield {
            "geometry": _multi(on_map(zone.geometry, zones.floor)),
            "floor": zones.floor.name,
            "room": zone.room,
            "name": zone.room_name,
            "id": zone.id,
            "zone": zone.name,
            "area_m2": zone.area_m2,
            "tape_m": zone.tape_m,
            "added_m2": zone.added_m2,
            "highest_estimate": None if estimate is None else estimate * scale,
            "highest_reading": None if zone.highest is None else reading_value(zone.highest, level),
            "highest_reading_number": None if reading is None else reading * scale,
            "unit": level.unit,
            "probability": zone.probability,
            "reasons": "; ".join(zone.reasons),
        }


def on_map(geometry: BaseGeometry, floor: Floor) -> BaseGeometry:
    """Move a geometry from the floor's metres to the map, where the site has a map frame."""
    return geometry if floor.map_frame is None else floor.map_frame.place(geometry)


def _multi(geometry: BaseGeometry) -> BaseGeometry:
    return MultiPolygon([geometry]) if isinstance(geometry, Polygon) else geometry
