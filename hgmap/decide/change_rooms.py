"""Whole rooms between two rounds: the reduction with its interval, and what came back."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely

from hgmap.decide.change_bounds import mean_between, only_bounds, ratio_by_bounds
from hgmap.decide.change_cells import probability_fell
from hgmap.decide.change_model import (
    REBOUND_AT,
    ChangeWord,
    RoomChange,
    Visit,
    ZoneMove,
    quantile,
    ratio_interval,
    word_for,
)
from hgmap.decide.evidence import describe
from hgmap.decide.model import ZONE_NAMES, Evidence
from hgmap.decide.paired import PlacePair
from hgmap.decide.rooms import RoomRow
from hgmap.decide.whose import items_by_room


def room_changes(
    before: Visit,
    after: Visit,
    temperature_ratio: float | None = None,
    pairs: Sequence[PlacePair] = (),
) -> tuple[RoomChange, ...]:
    """Return what became of every room, in the order of the floor's rooms.

    Parameters
    ----------
    before, after : Visit
        Of one floor.
    temperature_ratio : float, optional
        What the temperatures of the two visits alone would make of the air (after over before).
    pairs : sequence of PlacePair
        Places measured in both: one that came back is not hidden by its room's mean.
    """
    first, second = items_by_room(before.evidence), items_by_room(after.evidence)
    return tuple(
        _room_change(
            before,
            after,
            k,
            (first[k], second[k]),
            temperature_ratio,
            [one for one in pairs if one.after.room == row.room.id],
        )
        for k, row in enumerate(before.rooms)
    )


def log_sd(row: RoomRow) -> float | None:
    """Return the sd of the logarithm of a room's mean concentration; None where unknown.

    The delta method, standard error over mean, or a quarter of the 95 % interval (of logarithms),
    the wider of the two: with few readings the interval has longer tails than the error says.
    """
    if row.average is None or row.standard_error is None or not row.average > 0.0:
        return None
    found = row.standard_error / row.average
    if row.low is not None and row.high is not None and row.low > 0.0:
        found = max(found, math.log(row.high / row.low) / (2.0 * quantile(None)))
    return found if math.isfinite(found) and found > 0.0 else None


def _room_change(
    before: Visit,
    after: Visit,
    index: int,
    items: tuple[Sequence[Evidence], Sequence[Evidence]],
    temperature_ratio: float | None,
    pairs: Sequence[PlacePair],
) -> RoomChange:
    old, new = before.rooms[index], after.rooms[index]
    reasons = [
        f"not read {when}" for when, row in (("before", old), ("after", new)) if not row.readings
    ]
    ratio = low = high = fell = None
    by_bounds = False
    spans = [(0.0, math.inf), (0.0, math.inf)]
    word: ChangeWord = "cannot tell"
    sds = (log_sd(old), log_sd(new))
    if not reasons and (sds[0] is None or sds[1] is None):
        reasons.append("no average with an error for the whole room")
    elif not reasons and old.average and new.average and sds[0] and sds[1]:
        # each average has its own calibration in its error already (field/rooms.py)
        log_ratio, sd = math.log(new.average / old.average), math.hypot(sds[0], sds[1])
        ratio = math.exp(log_ratio)
        low, high = ratio_interval(log_ratio, sd)
        fell = probability_fell(log_ratio, sd)
        estimated = word_for(low, high)
        spans = [
            mean_between(row.average or 0.0, own)
            for row, own in zip((old, new), items, strict=True)
        ]
        if any(low_end < high_end for low_end, high_end in spans):
            least, most = ratio_by_bounds(*spans)
            low, high = min(low, least), max(high, most)
        word = word_for(low, high)
        by_bounds = word != estimated
        if by_bounds:
            reasons.append(
                f"the estimates alone would say it {estimated}, but readings that are only bounds "
                "(non-detects, beyond the range) leave it open whether anything changed: a ratio "
                "of limits is no evidence"
            )
            fell = None
        elif low <= 0.0 and math.isinf(high):
            reasons.append("the readings are only bounds: nothing is known of the ratio")
        elif word == "cannot tell":
            reasons.append("the interval covers no change")
        elif word == "fell" and temperature_ratio is not None and high > temperature_ratio:
            reasons.append("the colder air alone could explain the fall: no evidence of cleaning")
        elif word == "rose" and temperature_ratio is not None and low < temperature_ratio:
            reasons.append("the warmer air alone could explain the rise")
        elif ratio is not None:
            reasons += _one_sided(word, items)
        if low <= 0.0 and math.isinf(high):
            ratio = low = high = fell = None
    doubtful = [one for one in items[1] if one.above and one.role == "held"]
    if doubtful and word == "fell":
        word = "cannot tell"
        one = doubtful[0]
        reasons.append(
            f"{one.reading.id} ({describe(one.reading)}) after is above the level and held: "
            "sort it out, or measure again"
        )
    rebounded = fell is not None and 1.0 - fell >= REBOUND_AT
    if rebounded:
        reasons.append(f"rebounded: it rose with probability {1.0 - (fell or 0.0):.2f}")
    if by_bounds and spans[1][0] > spans[0][1]:
        rebounded = True  # only the calibrations stand against it: it is not hidden
        reasons.append("rebounded: what the readings after prove is above all before can be")
    was, now = (_above(one) for one in items)
    if now and not was:
        rebounded = True
        names = ", ".join(f"{one.reading.id} ({describe(one.reading)})" for one in now[:3])
        reasons.append(f"rebounded: reads above the level, and did not before: {names}")
    elif back := [one for one in pairs if came_back(one, after.evidence.level.concentration)]:
        rebounded = True
        names = ", ".join(" ".join(one.after.readings) for one in back[:3])
        reasons.append(f"rebounded: above the level at a place that was not, whatever the mean: "
                       f"{names}")  # fmt: skip
    return RoomChange(
        old.room, old, new, ratio, low, high, fell, word, rebounded,
        _clear(before, old) and _clear(after, new), tuple(reasons), by_bounds,
    )  # fmt: skip


def _one_sided(word: ChangeWord, items: tuple[Sequence[Evidence], Sequence[Evidence]]) -> list[str]:
    """Say by which end of the interval alone a change is known: the other is no reading's."""
    when = [name for name, own in zip(("before", "after"), items, strict=True) if only_bounds(own)]
    if not when:
        return []
    end = "upper" if word == "fell" else "lower"
    return [f"no reading {' or '.join(when)} is a number: of the ratio only the {end} end of the "
            "interval is known"]  # fmt: skip


def came_back(pair: PlacePair, level: float) -> bool:
    """Tell whether a place is above a level (computing unit) for certain, and was not before."""
    return pair.after.low > level >= pair.before.high


def _above(items: Sequence[Evidence]) -> list[Evidence]:
    """Return the readings, at any height, that are above the level and are not held."""
    return [one for one in items if one.above and one.role in ("used", "other height")]


def _clear(visit: Visit, row: RoomRow) -> bool:
    zones = [one for one in visit.zones.zones if one.room == row.room.id]
    return bool(zones) and all(one.name == "clear" for one in zones)


def zone_moves(before: Visit, after: Visit) -> tuple[ZoneMove, ...]:
    """Return the ground of each room by its zone before and its zone after (m²).

    The areas of a room add up to it.
    """
    old, new = before.zones.by_room(), after.zones.by_room()
    found = []
    for room in before.evidence.floor.rooms:
        least = 1e-9 * room.polygon.area
        for x in ZONE_NAMES:
            was = shapely.union_all([z.geometry for z in old.get(room.id, []) if z.name == x])
            if was.is_empty:
                continue
            for y in ZONE_NAMES:
                now = [z.geometry for z in new.get(room.id, []) if z.name == y]
                area = was.intersection(shapely.union_all(now)).area
                if area > least:
                    found.append(ZoneMove(room.id, room.name, x, y, float(area)))
    return tuple(found)
