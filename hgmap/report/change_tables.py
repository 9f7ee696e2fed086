"""The tables of a comparison: rooms, zones that moved, places measured twice; and its summary."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import Any

from hgmap.decide.change_model import CONFIDENCE, REBOUND_AT, FloorChange, RoomChange
from hgmap.decide.paired import PAIR_M, Place
from hgmap.report.change_notes import visit_notes
from hgmap.report.tables import csv_text
from hgmap.report.words import published_per_computed
from hgmap.site.cautions import screening
from hgmap.site.intake.cells import guarded
from hgmap.site.model import ActionLevel, Problem, Round, Site


def change_rooms_csv(floors: Iterable[FloorChange]) -> str:
    """Return one row a room: its averages (unit of the level) and their ratio with its interval."""
    header = (
        "floor", "room", "room_name", "area_m2", "readings_before", "readings_after",
        "average_before", "average_after", "unit", "ratio_after_to_before", "ratio_low_95",
        "ratio_high_95", "reduction_percent", "probability_fell", "outcome", "rebounded",
        "clear_in_both", "reasons",
    )  # fmt: skip
    rows = []
    for one in floors:
        level = one.after.evidence.level
        scale = published_per_computed(level)
        rows += [
            (
                guarded(one.after.evidence.floor.name),
                guarded(room.room.id),
                guarded(room.room.name),
                f"{room.room.area_m2:.3f}",
                str(room.before.readings),
                str(room.after.readings),
                _number(room.before.average, scale),
                _number(room.after.average, scale),
                level.unit,
                *(_number(value) for value in (room.ratio, room.low, room.high)),
                "" if room.ratio is None else f"{100.0 * (1.0 - room.ratio):.1f}",
                "" if room.probability_fell is None else f"{room.probability_fell:.3f}",
                room.word,
                "yes" if room.rebounded else "no",
                "yes" if room.stayed_clear else "no",
                guarded("; ".join(room.reasons)),
            )
            for room in one.rooms
        ]
    return csv_text(header, rows)


def change_moves_csv(floors: Iterable[FloorChange]) -> str:
    """Return one row for each zone before, zone after and room; the areas add up to the floor."""
    header = ("floor", "room", "room_name", "zone_before", "zone_after", "area_m2")
    rows = [
        (
            guarded(one.after.evidence.floor.name), guarded(move.room), guarded(move.room_name),
            move.before, move.after, f"{move.area_m2:.3f}",
        )
        for one in floors
        for move in one.moves
    ]  # fmt: skip
    return csv_text(header, rows)


def change_places_csv(floors: Iterable[FloorChange]) -> str:
    """Return one row for each place measured in both rounds.

    A concentration that is only known within bounds is written ``<high``, ``>low`` or
    ``low to high``, and its pair has no ratio.
    """
    header = (
        "floor", "room", "room_name", "x_m", "y_m", "apart_m", "readings_before", "before",
        "readings_after", "after", "unit", "ratio_after_to_before", "direction",
    )  # fmt: skip
    rows = []
    for one in floors:
        level = one.after.evidence.level
        rows += [
            (
                guarded(one.after.evidence.floor.name),
                guarded(pair.after.room),
                guarded(pair.after.room_name),
                f"{pair.after.x:.2f}",
                f"{pair.after.y:.2f}",
                f"{pair.apart_m:.2f}",
                guarded(" ".join(pair.before.readings)),
                guarded(place_value(pair.before, level)),
                guarded(" ".join(pair.after.readings)),
                guarded(place_value(pair.after, level)),
                level.unit,
                _number(pair.ratio),
                {-1: "fell", 0: "undecided", 1: "rose"}[pair.way()],
            )
            for pair in one.pairs
        ]
    return csv_text(header, rows)


def place_value(place: Place, level: ActionLevel) -> str:
    """Write what is known of a place, in the unit of the level."""
    scale = published_per_computed(level)
    low, high = place.low * scale, place.high * scale
    if low == high:
        return f"{low:.4g}"
    if low <= 0.0:
        return f"<{high:.4g}"
    return f">{low:.4g}" if high == float("inf") else f"{low:.4g} to {high:.4g}"


def change_summary(
    site: Site,
    rounds: tuple[Round, Round],
    level: ActionLevel,
    band: str,
    floors: Sequence[FloorChange],
    failed: Sequence[Problem],
    *,
    notes: tuple[str, ...],
    warnings: tuple[str, ...],
    temperature: tuple[str, ...],
    version: str,
) -> dict[str, Any]:
    """Return everything that a comparison says, ready for JSON; areas in m²."""
    return {
        "program": f"hgmap {version}",
        "site": site.name,
        "invented": site.invented,
        "from": rounds[0].name,
        "to": rounds[1].name,
        "height_band": band,
        "level": {"name": level.name, "value": level.value, "unit": level.unit,
                  "source": level.source, "from_memory": level.from_memory},
        "rules": {"confidence": CONFIDENCE, "rebound_probability": REBOUND_AT,
                  "pair_within_m": PAIR_M},
        "method": METHOD,
        "floors": [_floor(one, rounds) for one in floors],
        "failed": [{"floor": one.floor, "where": one.where, "message": one.message,
                    "todo": one.todo} for one in failed],
        "temperature": temperature,
        "warnings": warnings,
        "notes": notes,
        "input_digests": site.digests,
        "caution": screening(site.medium),
    }  # fmt: skip


METHOD = (
    "ratios are after over before; the errors of the two visits are independent; the stated "
    "relative error of one reading is added once for each visit, and what the instrument checks "
    "show once more: a common calibration is not taken to cancel"
)


def _floor(one: FloorChange, rounds: tuple[Round, Round]) -> dict[str, Any]:
    floor, grounds = one.after.evidence.floor, one.grounds
    return {
        "floor": floor.name,
        "area_m2": sum(room.area_m2 for room in floor.rooms),
        "area_fell_m2": grounds.fell.area,
        "area_rose_m2": grounds.rose.area,
        "area_cannot_tell_m2": grounds.doubtful.area,
        "area_not_known_in_both_m2": grounds.unknown.area,
        "rooms": [_room(room) for room in one.rooms],
        "zones": [asdict(move) for move in one.moves],
        "places": asdict(one.paired),
        # a sheet without room for all of its notes says that the rest is here
        "notes": [*visit_notes(rounds[0], one.before), *visit_notes(rounds[1], one.after)],
    }


def _room(room: RoomChange) -> dict[str, Any]:
    return {
        "room": room.room.id, "name": room.room.name, "ratio": room.ratio, "low": room.low,
        "high": None if room.high is None or math.isinf(room.high) else room.high,
        "probability_fell": room.probability_fell, "outcome": room.word,
        "rebounded": room.rebounded, "clear_in_both": room.stayed_clear, "reasons": room.reasons,
    }  # fmt: skip


def counted_rooms(rooms: Iterable[RoomChange]) -> str:
    """Say in one line how many rooms fell, rose, rebounded and cannot be told.

    Examples
    --------
    >>> counted_rooms([])
    '0 rooms fell, 0 rose, 0 cannot tell'
    """
    rooms = tuple(rooms)
    words = Counter(one.word for one in rooms)
    fell = words["fell"]
    text = (
        f"{fell} {'room' if fell == 1 else 'rooms'} fell, {words['rose']} rose, "
        f"{words['cannot tell']} cannot tell"
    )
    calm = sum(one.word == "cannot tell" and one.stayed_clear for one in rooms)
    if calm:
        text += f" ({calm} of them clear both times)"
    back = sum(one.rebounded for one in rooms)
    return f"{text}; {back} rebounded" if back else text


def _number(value: float | None, scale: float = 1.0) -> str:
    return "" if value is None or math.isinf(value) else f"{value * scale:.4g}"
