"""Tables as CSV: zones, places to measure again. Text from the user never starts a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.rooms import RoomRow
from hgmap.report.words import published_per_computed, reading_value
from hgmap.site.files import write_text
from hgmap.site.intake.cells import guarded
from hgmap.site.model import ActionLevel
from hgmap.site.reading import Reading

Table = tuple[Sequence[str], Iterable[Sequence[str]]]
"""A header and its rows, as they stand in a CSV; user text in them is guarded."""

_ZONE_HEADER: Final = (
    "floor", "room", "room_name", "id", "zone", "x_m", "y_m", "area_m2", "tape_m",
    "added_to_tape_m2", "highest_estimate", "highest_reading", "highest_reading_number", "unit",
    "highest_probability", "level", "reasons",
)  # fmt: skip


def zones_csv(floors: Iterable[Zones]) -> str:
    """Return one row a zone; concentrations in the unit of the level as published.

    ``id`` names a piece that can be taped off, ``x_m`` and ``y_m`` (the floor's frame) are a place
    well inside it, to find it on the sheet, ``tape_m`` is the length of its edge that is not
    along a wall, ``added_to_tape_m2`` what is in it only for that. ``highest_reading`` is as it is
    printed, with its sign (``<0.05`` is a non-detect), and ``highest_reading_number`` what stands
    after the sign.
    """
    return csv_text(*zones_table(floors))


def zones_table(floors: Iterable[Zones]) -> Table:
    """Return header and rows of :func:`zones_csv`."""
    return _ZONE_HEADER, (row for zones in floors for row in _zone_rows(zones))


def nested_zones_csv(floors: Iterable[Sequence[Zones]]) -> str:
    """Return the zones of every level of every floor, the highest level first.

    Columns are those of :func:`zones_csv`, after what the level is for and its value.
    """
    return csv_text(*nested_zones_table(floors))


def nested_zones_table(floors: Iterable[Sequence[Zones]]) -> Table:
    """Return header and rows of :func:`nested_zones_csv`."""
    rows = (
        (guarded(zones.purpose), f"{zones.level.value:g}", *row)
        for levels in floors
        for zones in levels
        for row in _zone_rows(zones)
    )
    return ("level_is_for", "level_value", *_ZONE_HEADER), rows


def _zone_rows(zones: Zones) -> Iterator[tuple[str, ...]]:
    level = zones.level
    scale = published_per_computed(level)
    for zone in zones.zones:
        x, y = place_inside(zone.geometry)
        yield (
            guarded(zones.floor.name),
            guarded(zone.room),
            guarded(zone.room_name),
            guarded(zone.id),
            zone.name,
            f"{x:.2f}",
            f"{y:.2f}",
            f"{zone.area_m2:.3f}",
            "" if zone.tape_m is None else f"{zone.tape_m:.2f}",
            f"{zone.added_m2:.3f}",
            _number(zone.highest_estimate, scale),
            _written(zone.highest, level),
            _number(zone.highest_reading, scale),
            level.unit,
            "" if zone.probability is None else f"{zone.probability:.3f}",
            guarded(level.name),
            guarded("; ".join(zone.reasons)),
        )


def place_inside(geometry: BaseGeometry) -> tuple[float, float]:
    """Return a place (m) well inside the largest piece of some ground."""
    largest = max(shapely.get_parts(geometry), key=lambda one: float(one.area))
    middle = shapely.get_point(shapely.maximum_inscribed_circle(largest), 0)
    if middle is None or not largest.covers(middle):  # a sliver has no circle in it
        middle = largest.representative_point()
    return float(middle.x), float(middle.y)


def rooms_csv(floors: Iterable[tuple[FloorEvidence, Sequence[RoomRow]]]) -> str:
    """Return one row a room; concentrations in the unit of the level as published.

    The average is the mean concentration over the room with its standard error (not a median), the
    probability that of some place in it being above the level. ``highest_reading`` as in
    :func:`zones_csv`.
    """
    return csv_text(*rooms_table(floors))


def rooms_table(floors: Iterable[tuple[FloorEvidence, Sequence[RoomRow]]]) -> Table:
    """Return header and rows of :func:`rooms_csv`."""
    header = (
        "floor", "room", "room_name", "area_m2", "readings", "highest_reading",
        "highest_reading_number", "average",
        "average_standard_error", "average_low_95", "average_high_95", "unit",
        "probability_anywhere_above", "level",
    )  # fmt: skip
    rows = []
    for evidence, floor_rows in floors:
        level = evidence.level
        scale = published_per_computed(level)
        rows += [
            (
                guarded(evidence.floor.name),
                guarded(row.room.id),
                guarded(row.room.name),
                f"{row.room.area_m2:.3f}",
                str(row.readings),
                _written(row.highest, level),
                *(
                    _number(value, scale)
                    for value in (
                        row.highest_reading, row.average, row.standard_error, row.low, row.high
                    )
                ),
                level.unit,
                "" if row.probability_anywhere is None else f"{row.probability_anywhere:.3f}",
                guarded(level.name),
            )
            for row in floor_rows
        ]  # fmt: skip
    return header, rows


def resample_csv(lists: Iterable[ResampleList]) -> str:
    """Return one row a place, in the order in which to read them on each floor.

    ``expected_in_doubt_m2`` and ``_share`` (of the floor's area) are what is expected to be left in
    doubt after this place and all before it; empty where nothing says.
    """
    return csv_text(*resample_table(lists))


def resample_table(lists: Iterable[ResampleList]) -> Table:
    """Return header and rows of :func:`resample_csv`."""
    header = (
        "floor", "rank", "room", "room_name", "x_m", "y_m", "height_m", "also_at_m", "readings",
        "instrument", "expected_settled_m2", "expected_in_doubt_m2", "expected_in_doubt_share",
        "reasons", "why_repeated", "way_in",
    )  # fmt: skip
    rows = [
        (
            guarded(place.floor),
            str(place.rank),
            guarded(place.room),
            guarded(place.room_name),
            f"{place.x:.2f}",
            f"{place.y:.2f}",
            "" if place.height_m is None else f"{place.height_m:g}",
            " ".join(f"{height:g}" for height in place.also_m),
            str(place.repeats),
            guarded(place.instrument),
            f"{place.expected_m2:.2f}",
            "" if place.left_m2 is None else f"{place.left_m2:.2f}",
            _share(place.left_m2, one),
            guarded("; ".join(place.reasons)),
            guarded(place.repeats_reason),
            guarded(place.way_in),
        )
        for one in lists
        for place in one.places
    ]
    return header, rows


def _share(left_m2: float | None, resample: ResampleList) -> str:
    area = 0.0 if resample.stop is None else resample.stop.area_m2
    return "" if left_m2 is None or not area > 0 else f"{left_m2 / area:.4f}"


def write_csv(path: Path, text: str) -> None:
    """Write a CSV in one step, with a byte-order mark so that spreadsheets read its accents."""
    write_text(path, "\ufeff" + text)


def _written(reading: Reading | None, level: ActionLevel) -> str:
    return "" if reading is None else guarded(reading_value(reading, level))


def _number(value: float | None, scale: float) -> str:
    return "" if value is None else f"{value * scale:.4g}"


def csv_text(header: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table as CSV; user text in it has to be guarded before."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return out.getvalue()
