"""Where the surveyor of the story stood, in which order, and what the instrument showed.

From the cleanest floor to the spill, so that the instrument carries nothing into a clean room.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from story_air import Field
from story_plan import Storey

ADULT_M: Final = 1.5
CHILD_M: Final = 0.3
SEARCH_M: Final = 0.05
LEAST_FROM_WALL_M: Final = 0.5

READING_COLUMNS: Final = (
    "id", "floor", "room", "x", "y", "height", "time", "value", "unit", "qualifier", "kind",
    "duplicate_of", "round", "note",
)  # fmt: skip
LOG_COLUMNS: Final = (
    "instrument", "principle", "serial", "certificate", "check", "start", "end", "values",
    "spacing_s", "reference", "unit", "result", "temperature_c", "note",
)  # fmt: skip
SPACING_S: Final = 15

# The other checks are passed by their values.
_RESULT: Final = {"regeneration": "done", "warm-up": "done", "saturation": "saturated"}

Row = dict[str, str]


@dataclass(frozen=True)
class Meter:
    """What the invented instrument adds to the air (see ``make_demo.py``)."""

    relative_sd: float
    additive_sd_ug_m3: float
    detection_limit_ug_m3: float
    top_of_scale_ug_m3: float
    minutes_a_reading: float
    name: str
    principle: str
    serial: str
    certificate: str


@dataclass(frozen=True)
class Spread:
    """``count`` readings spread over a room; the first ``child`` places also at child height."""

    room: str
    count: int
    child: int = 0
    note: str = ""


@dataclass(frozen=True)
class Spot:
    """One reading at a chosen place.

    ``typed_x`` and ``typed_unit`` are slips of the pen; ``event`` multiplies what the air held
    at that moment; ``shown`` keeps a zero as the display showed it; the noise of a ``late`` one is
    drawn apart, so that no other reading changes with it.
    """

    room: str
    x: float
    y: float
    height_m: float = ADULT_M
    note: str = ""
    typed_x: float | None = None
    typed_unit: str | None = None
    event: float = 1.0
    shown: bool = False
    kind: str = ""
    late: bool = False


@dataclass(frozen=True)
class InRoom:
    """One reading of which only the room was written down."""

    room: str
    note: str = ""


@dataclass(frozen=True)
class Elsewhere:
    """One reading of what is no air of the building: outdoors, or inside a closed bag."""

    kind: str
    holds_ug_m3: float
    room: str = ""
    note: str = ""


@dataclass(frozen=True)
class Check:
    """One line of the instrument log."""

    kind: str
    minutes: float
    note: str = ""


Step = Spread | Spot | InRoom | Elsewhere | Check


@dataclass(frozen=True)
class Visit:
    """One round: its steps in the order of the day."""

    round: str
    prefix: str
    begins: datetime
    temperature_c: float
    span_reference_ug_m3: float
    steps: tuple[Step, ...]


def walk(
    visit: Visit,
    storeys: tuple[Storey, ...],
    field: Field,
    meter: Meter,
    noise: np.random.Generator,
    places: np.random.Generator,
    apart: np.random.Generator,
) -> tuple[list[Row], list[Row]]:
    """Walk one round; return the rows of the readings and of the instrument log."""
    home = {key: (one.name, shape) for one in storeys for key, (_, shape) in one.rooms.items()}
    clock = visit.begins
    readings: list[Row] = []
    late: list[Row] = []
    log: list[Row] = []
    for step in visit.steps:
        if isinstance(step, Check):
            log.append(_check(step, visit, clock, meter, noise))
            clock += timedelta(minutes=step.minutes)
            continue
        if isinstance(step, Elsewhere):
            value, qualifier = _show(step.holds_ug_m3, meter, apart)
            row = dict.fromkeys(READING_COLUMNS, "") | {
                "floor": home[step.room][0] if step.room else "",
                "room": step.room,
                "time": clock.isoformat(timespec="minutes"),
                "value": value,
                "unit": "ug/m3",
                "qualifier": qualifier,
                "kind": step.kind,
                "round": visit.round,
                "note": step.note,
            }
            late.append(row)
            clock += timedelta(minutes=meter.minutes_a_reading)
            continue
        floor, shape = home[step.room]
        for spot, written in _spots(step, shape, places):
            held = field.at(floor, spot.x, spot.y, spot.height_m) * spot.event
            own = apart if spot.late else noise
            value, qualifier = _show(held, meter, own, shown=spot.shown)
            typed = spot.x if spot.typed_x is None else spot.typed_x
            row = {
                "id": "",
                "floor": floor,
                "room": step.room,
                "x": f"{typed:.1f}" if written else "",
                "y": f"{spot.y:.1f}" if written else "",
                "height": f"{spot.height_m:g}",
                "time": clock.isoformat(timespec="minutes"),
                "value": value,
                "unit": spot.typed_unit or "ug/m3",
                "qualifier": qualifier,
                "kind": spot.kind,
                "duplicate_of": "",
                "round": visit.round,
                "note": spot.note,
            }
            if spot.late:
                late.append(row)
            else:
                row["id"] = f"{visit.prefix}{len(readings) + 1:03d}"
                if spot.kind == "duplicate":
                    row["duplicate_of"] = readings[-1]["id"]
                readings.append(row)
            clock += timedelta(minutes=meter.minutes_a_reading)
    for number, row in enumerate(late, start=len(readings) + 1):
        row["id"] = f"{visit.prefix}{number:03d}"
    return [*readings, *late], log


def _spots(
    step: Spread | Spot | InRoom, shape: Polygon, places: np.random.Generator
) -> Iterable[tuple[Spot, bool]]:
    """Yield each place, and whether its coordinates are written down."""
    if isinstance(step, Spot):
        yield step, True
    elif isinstance(step, InRoom):
        centre = shape.representative_point()
        yield Spot(step.room, centre.x, centre.y, note=step.note), False
    else:
        for index, (x, y) in enumerate(spread(shape, step.count, places)):
            note = step.note if index == 0 else ""
            yield Spot(step.room, x, y, note=note), True
            if index < step.child:
                yield Spot(step.room, x, y, CHILD_M), True


def spread(shape: Polygon, count: int, places: np.random.Generator) -> list[tuple[float, float]]:
    """Spread places over a room: the centres of ``count`` even parts, to 0.1 m.

    A few rounds of Lloyd's relaxation over random points of the room; a centre that falls out of
    a bent room goes to the nearest of those points.
    """
    inside = shape.buffer(-LEAST_FROM_WALL_M)
    west, south, east, north = inside.bounds
    points = places.uniform((west, south), (east, north), size=(600, 2))
    points = points[shapely.contains_xy(inside, points[:, 0], points[:, 1])]
    centres = points[:count]
    for _ in range(12):
        part = _nearest(points, centres)
        means = np.array([points[part == index].mean(axis=0) for index in range(count)])
        centres = points[_nearest(means, points)]
    order = np.lexsort((centres[:, 1], np.round(centres[:, 0])))
    return [(round(float(x), 1), round(float(y), 1)) for x, y in centres[order]]


def _nearest(these: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.int64]:
    apart = np.linalg.norm(these[:, None, :] - others[None, :, :], axis=2)
    nearest: NDArray[np.int64] = apart.argmin(axis=1)
    return nearest


def _show(
    held: float, meter: Meter, noise: np.random.Generator, *, shown: bool = False
) -> tuple[str, str]:
    """Return the value and qualifier that are written for what the air held (µg/m³)."""
    relative, additive = noise.standard_normal(2)
    seen = held * (1 + meter.relative_sd * relative) + meter.additive_sd_ug_m3 * additive
    if seen > meter.top_of_scale_ug_m3:
        return f"{meter.top_of_scale_ug_m3:.2f}", ">"
    if seen < meter.detection_limit_ug_m3:
        return ("0.00", "") if shown else (f"{meter.detection_limit_ug_m3:.2f}", "<")
    return f"{seen:.2f}", ""


def _check(
    step: Check, visit: Visit, clock: datetime, meter: Meter, noise: np.random.Generator
) -> Row:
    values, reference = "", ""
    if step.kind == "zero-air":
        # what the film still holds goes with each sample
        first = 0.02 + abs(noise.normal(0.0, meter.additive_sd_ug_m3 / 2, 5)[0])
        values = " ".join(f"{first * share:.2f}" for share in (1.0, 0.4, 0.15, 0.05, 0.0))
        reference = "0.00"
    elif step.kind in ("span", "end-of-day"):
        sd = meter.relative_sd / 2
        shown = visit.span_reference_ug_m3 * (1 + noise.normal(0.0, sd, 3))
        values = " ".join(f"{value:.2f}" for value in shown)
        reference = f"{visit.span_reference_ug_m3:.2f}"
    end = clock + timedelta(minutes=step.minutes)
    return {
        "instrument": meter.name,
        "principle": meter.principle,
        "serial": meter.serial,
        "certificate": meter.certificate,
        "check": step.kind,
        "start": clock.isoformat(timespec="minutes"),
        "end": end.isoformat(timespec="minutes"),
        "values": values,
        "spacing_s": str(SPACING_S) if values else "",
        "reference": reference,
        "unit": "ug/m3" if values else "",
        "result": _RESULT.get(step.kind, "pass"),
        "temperature_c": f"{visit.temperature_c:.1f}",
        "note": step.note,
    }
