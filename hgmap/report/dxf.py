"""DXF: a floor's rooms, walls, openings, zones, contours and readings, a layer for each.

Coordinates are map coordinates where the site has a map frame, else the floor's own metres; the
unit is set to metres. Readings, places to measure again and zones are blocks with attributes.
"""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import Evidence, Zone
from hgmap.report import dxf_looks as looks
from hgmap.report.dxf_texts import Pencil, add_notes, add_plan_texts, literal
from hgmap.report.extent import extent
from hgmap.report.layers import on_map
from hgmap.report.marks import kind_of
from hgmap.report.run_facts import MappedFloor, RunFacts
from hgmap.report.tables import place_inside
from hgmap.report.words import reading_value
from hgmap.site.building import Floor
from hgmap.site.files import write_bytes

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

_VERSION: Final = "R2010"
_METRES: Final = 6
_MOMENTS: Final = re.compile(r"(  9\n\$TDU?(?:CREATE|UPDATE)\n 40\n)[^\n]*")
_IDS: Final = re.compile(r"(  9\n\$(?:VERSION|FINGERPRINT)GUID\n  2\n)[^\n]*")
_WRITTEN: Final = re.compile(r"(\d+(?:\.\d+)+\w*) @ \d{4}-\d\d-\d\dT[^\n]*")
_NO_ID: Final = "{00000000-0000-0000-0000-000000000000}"


def write_dxf(path: Path, facts: RunFacts, one: MappedFloor) -> None:
    """Write the drawing of a floor, in one step."""
    write_bytes(path, dxf_bytes(facts, one))


def dxf_bytes(facts: RunFacts, one: MappedFloor) -> bytes:
    """Return the drawing; the same map gives the same bytes: no moment of writing is in it."""
    from ezdxf.filemanagement import new

    document = new(_VERSION, units=_METRES)
    document.header["$MEASUREMENT"] = 1
    west, south, east, north = extent(one.floor)
    m_per_mm = looks.scale_for(max(east - west, north - south))
    looks.set_up(document, m_per_mm)
    space = document.modelspace()
    pen = Pencil(space, one.floor.map_frame, m_per_mm)
    _add_zones(pen, one)
    _add_building(space, one.floor)
    _add_contours(document, space, one)
    _add_readings(pen, one)
    numbers = add_plan_texts(pen, one)
    _add_places(pen, one, numbers)
    add_notes(pen, facts, one)
    _say_extents(document, space)
    document.set_modelspace_vport(
        height=pen.height_m(one.floor) * 1.5,
        center=pen.at((west + east) / 2.0, (south + north) / 2.0),
    )
    _name_classes(document)
    stream = io.StringIO()
    document.write(stream)
    text = _MOMENTS.sub(r"\g<1>2451545.0", stream.getvalue())
    text = _WRITTEN.sub(r"\g<1>", _IDS.sub(rf"\g<1>{_NO_ID}", text))
    return document.encode(text)


def _name_classes(document: Document) -> None:
    """Register what the drawing uses in the order of the alphabet; ezdxf goes through a set."""
    for name in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(name)


def _say_extents(document: Any, space: Modelspace) -> None:
    """Say where the drawing lies, for readers that look there before they show it."""
    from ezdxf.bbox import extents

    box = extents(space, fast=True)
    for end, place in (("MIN", box.extmin), ("MAX", box.extmax)):
        document.header[f"$EXT{end}"] = place
        space.dxf.set(f"ext{end.lower()}", place)


def _add_zones(pen: Pencil, one: MappedFloor) -> None:
    for zone in one.zones.zones:
        shape = on_map(zone.geometry, one.floor)
        layer = looks.ZONE_LAYERS[zone.name]
        for part in shapely.get_parts(shape):
            looks.draw_hatch(pen.space, part, zone.name, pen.m_per_mm)
            for ring, _ in looks.rings_of(part):
                pen.space.add_lwpolyline(ring, close=True, dxfattribs={"layer": layer})
        _add_zone_block(pen, zone)


def _add_zone_block(pen: Pencil, zone: Zone) -> None:
    x, y = place_inside(zone.geometry)
    told = {
        "ID": zone.id,
        "ZONE": zone.name,
        "ROOM": zone.room_name or zone.room,
        "AREA_M2": f"{zone.area_m2:.2f}",
        "TAPE_M": "" if zone.tape_m is None else f"{zone.tape_m:.2f}",
        "REASONS": "; ".join(zone.reasons),
    }
    _add_block(pen, looks.ZONE_BLOCK, pen.at(x, y), looks.ZONE_IDS, told, shown="ID")


def _add_building(space: Modelspace, floor: Floor) -> None:
    for room in floor.rooms:
        for ring, _ in looks.rings_of(on_map(room.polygon, floor)):
            space.add_lwpolyline(ring, close=True, dxfattribs={"layer": looks.ROOMS})
    for wall in floor.walls:
        _add_line(space, on_map(wall, floor), looks.WALLS)
    for opening in floor.openings:
        _add_line(space, on_map(opening.line, floor), looks.OPENING_LAYERS[opening.state])


def _add_contours(document: Any, space: Modelspace, one: MappedFloor) -> None:
    """Draw where the estimate equals the level; further levels have layers of their own."""
    for line in one.zones.contours:
        _add_line(space, on_map(line, one.floor), looks.CONTOURS)
    further = [zones for zones in one.nested if zones.level != one.zones.level]
    for zones in further:
        layer = looks.contour_layer(zones.level)
        if layer not in document.layers:
            document.layers.add(layer, color=looks.GREY, lineweight=35)
        for line in zones.contours:
            _add_line(space, on_map(line, one.floor), layer)


def _add_line(space: Modelspace, line: BaseGeometry, layer: str) -> None:
    if line.length > 0.0:
        places = [(place[0], place[1]) for place in line.coords]
        space.add_lwpolyline(places, dxfattribs={"layer": layer})


def _add_readings(pen: Pencil, one: MappedFloor) -> None:
    for item in one.evidence.items:
        reading = item.reading
        if reading.x is None or reading.y is None:
            continue
        at = pen.at(reading.x, reading.y)
        name = looks.mark_block(kind_of(item))
        _add_block(pen, name, at, looks.READINGS, _told_of(item, one))
        if item.above:
            pen.space.add_blockref(looks.ABOVE, at, dxfattribs=pen.look(looks.READINGS))


def _told_of(item: Evidence, one: MappedFloor) -> dict[str, str]:
    reading, level = item.reading, one.evidence.level
    return {
        "ID": reading.id,
        "VALUE": f"{reading_value(reading, level)} {level.unit}",
        "HEIGHT_M": "" if reading.height_m is None else f"{reading.height_m:g}",
        "TIME": "" if reading.time is None else reading.time.isoformat(timespec="minutes"),
        "ROLE": item.role,
        "VERDICT": reading.verdict,
        "REASONS": "; ".join(item.reasons),
    }


def _add_places(pen: Pencil, one: MappedFloor, numbers: dict[str, tuple[float, float]]) -> None:
    """Draw the places to measure again; those with a number stand where it found room."""
    for place in one.resample.places:
        rank = str(place.rank)
        at = numbers.get(rank, pen.at(place.x, place.y))
        told = {
            "RANK": rank,
            "ROOM": place.room_name or place.room,
            "HEIGHT_M": "" if place.height_m is None else f"{place.height_m:g}",
            "READINGS": str(place.repeats),
            "REASONS": "; ".join(place.reasons),
        }
        _add_block(pen, looks.PLACE_BLOCK, at, looks.RESAMPLE, told,
                   shown="RANK" if rank in numbers else "")  # fmt: skip


def _add_block(
    pen: Pencil, name: str, at: tuple[float, float], layer: str, told: dict[str, str],
    shown: str = "",
) -> None:  # fmt: skip
    """Put a block at a place with its attributes; only the one that is ``shown`` can be seen."""
    from ezdxf.enums import TextEntityAlignment

    block = pen.space.add_blockref(name, at, dxfattribs=pen.look(layer))
    for tag, text in told.items():
        look = pen.look(layer) | {"style": looks.STYLE, "height": looks.ATTRIBUTE_MM * pen.m_per_mm}
        one = block.add_attrib(tag, literal(text), at, look)
        one.is_invisible = tag != shown
        one.set_placement(at, align=TextEntityAlignment.MIDDLE_CENTER)
