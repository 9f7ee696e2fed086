"""Tables of one floor: its estimate, its readings, its zones, its places to measure again."""

from __future__ import annotations

import numpy as np

from hgmap.decide.model import ZONE_NAMES, FloorEvidence, ResampleList, Zones
from hgmap.decide.stop import stop_sentence
from hgmap.field.surface import Surface
from hgmap.floor_map import FloorMap
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.words import chance, level_line, level_value, number, published_per_computed
from hgmap.showing.markup import Markup, Notes, Table, page, swatch
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

_SIGNS = {"<": "<", ">": ">", "~": "~", "up to": "up to "}


def surface(one: Surface) -> str:
    """Show what made an estimate and how far it reaches."""
    held = one.concentration()[np.isfinite(one.mean)]
    span = f"{number(float(held.min()))} to {number(float(held.max()))}" if held.size else "none"
    return page(
        f"Estimate by {one.method}", (),
        Table(("", ""), [
            ("places that made it", len(one.xy)),
            ("cells", f"{held.size} of {one.raster.cell_m:g} m"),
            ("estimate, unit of computing (µg/m³ of air)", span),
            ("scale", "logarithm of the concentration" if one.scale == "log" else "concentration"),
            ("contradicted", one.contradicted or "no"),
        ]),
        Notes("To be known", one.notes),
    )  # fmt: skip


def evidence(one: FloorEvidence) -> str:
    """Show the readings of a floor and the part that each plays."""
    rows = [
        (item.reading.id, item.reading.room, written(item.reading),
         "" if item.reading.height_m is None else f"{item.reading.height_m:g}",
         item.role + (", above the level" if item.above else ""),
         "; ".join((*item.reasons, *item.reading.held)))
        for item in sorted(one.items, key=lambda two: -(two.reading.concentration or 0.0))
    ]  # fmt: skip
    return page(
        f"{one.floor.title or one.floor.name}, {one.round}: {len(one.used)} readings make the map, "
        f"{len(one.set_aside)} do not",
        (level_words(one.level),),
        Table(("reading", "room", "as written", "height, m", "part", "why"), rows, numbers=(2, 3)),
        Notes("To be known", one.notes),
    )


def zones(one: Zones) -> str:
    """Show zones with their areas and reasons."""
    factor = published_per_computed(one.level)
    rows = [
        (named(zone.name), zone.id, zone.room_name, f"{zone.area_m2:.1f}",
         "–" if zone.probability is None else chance(zone.probability),
         "–" if zone.highest_estimate is None else number(zone.highest_estimate * factor),
         "; ".join(zone.reasons))
        for zone in sorted(one.zones, key=lambda two: ZONE_NAMES.index(two.name))
    ]  # fmt: skip
    return page(
        f"{one.floor.title or one.floor.name}: zones", (level_words(one.level), _areas(one)),
        Table(("zone", "piece", "room", "m²", "chance above", f"estimate up to, {one.level.unit}",
               "why"), rows, numbers=(3, 4, 5), more="zones.csv has all"),
    )  # fmt: skip


def resample(one: ResampleList) -> str:
    """Show where to measure again, and when to stop."""
    rows = [
        (place.rank, place.room_name, f"{place.x:.1f}", f"{place.y:.1f}",
         "–" if place.height_m is None else f"{place.height_m:g}", place.repeats,
         f"{place.expected_m2:.1f}", "; ".join(place.reasons))
        for place in one.places
    ]  # fmt: skip
    return page(
        f"{len(one.places)} places to measure again",
        (stop_sentence(one.stop) if one.stop is not None else "",),
        Table(("turn", "room", "x, m", "y, m", "height, m", "readings", "expected to settle, m²",
               "why"), rows, numbers=(0, 2, 3, 4, 5, 6), more="resample.csv has all"),
    )  # fmt: skip


def floor_map(one: FloorMap) -> str:
    """Show a floor's map: areas, rooms, and what a reader of it has to know."""
    level = one.evidence.level
    factor = published_per_computed(level)
    rows = [
        (row.room.name or row.room.id, row.readings,
         "–" if row.highest is None else written(row.highest),
         "–" if row.average is None else number(row.average * factor),
         "–" if row.low is None or row.high is None
         else f"{number(row.low * factor)} to {number(row.high * factor)}",
         "–" if row.probability_anywhere is None else chance(row.probability_anywhere))
        for row in one.rooms
    ]  # fmt: skip
    stop = one.resample.stop
    return page(
        f"{one.floor.title or one.floor.name}, {one.evidence.round}",
        (level_words(level), _areas(one.zones), stop_sentence(stop) if stop is not None else ""),
        Table(("room", "readings", "highest, as written", f"mean, {level.unit}", "95 % interval",
               "chance of any place above"), rows, numbers=(1, 2, 3, 4, 5),
              more="rooms.csv has all"),
        Notes("To be known", one.warnings),
    )  # fmt: skip


def level_words(level: ActionLevel) -> str:
    """Say a level with its source."""
    memory = "; value from memory" if level.from_memory else ""
    return f"Action level {level_value(level)}: {level_line(level)}{memory}"


def named(zone: str) -> Markup:
    """Return the name of a zone with a spot of its colour."""
    return swatch(next(look.pen.colour for name, look in ZONE_LOOKS.items() if name == zone), zone)


def written(reading: Reading) -> str:
    """Return a reading as it was written."""
    if reading.value is None:
        return "–"
    low = f"{reading.low:g} to " if reading.qualifier == "to" and reading.low is not None else ""
    return f"{_SIGNS.get(reading.qualifier, low)}{reading.value:g} {reading.unit}"


def _areas(one: Zones) -> str:
    return ", ".join(f"{name} {one.area_m2(name):.1f} m²" for name in ZONE_NAMES)
