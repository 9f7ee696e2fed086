"""Floor against breathing height: readings at two heights over one place, and what they tell.

Droplets in a floor make the air just above them many times as high as at breathing height; vapour
that came from elsewhere is mixed over the height (common practice, no source).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from hgmap.decide.model import Evidence, FloorEvidence, bounds_of
from hgmap.decide.origin_model import HeightRatio
from hgmap.decide.paired import PAIR_M
from hgmap.field.branch import READING_SD
from hgmap.site.reading import Reading

FEWEST_FOR_T: Final = 3
"""Pairs of numbers from which their own scatter makes the interval; below, the stated errors."""

NORMAL_95: Final = 1.959963984540054


def height_ratios(evidence: FloorEvidence) -> tuple[HeightRatio, ...]:
    """Pair readings at lower heights with those of the map over the same place, room by room.

    Within 0.5 m in one room, each with its nearest; places made up from a room are none. With
    three pairs of numbers or more the interval is Student's t of their logarithms, no narrower
    than the readings' stated errors make it.
    """
    rooms = {room.id: k for k, room in enumerate(evidence.floor.rooms)}
    used = [item for item in evidence.used if _placed(item.reading)]
    groups: dict[tuple[int, str], list[tuple[Evidence, Evidence]]] = {}
    for item in evidence.items:
        low = item.reading
        if item.role != "other height" or not _placed(low) or low.room not in rooms:
            continue
        near = [
            (apart, k)
            for k, other in enumerate(used)
            if other.reading.room == low.room
            and _lower(low, other.reading)
            and (apart := _apart(low, other.reading)) <= PAIR_M
        ]
        if near:
            key = rooms[low.room], low.band
            groups.setdefault(key, []).append((item, used[min(near)[1]]))
    return tuple(_ratio(room, band, pairs) for (room, band), pairs in sorted(groups.items()))


def _placed(one: Reading) -> bool:
    return one.x is not None and one.y is not None and one.placed != "room"


def _lower(one: Reading, other: Reading) -> bool:
    return one.height_m is not None and other.height_m is not None and one.height_m < other.height_m


def _apart(one: Reading, other: Reading) -> float:
    if one.x is None or one.y is None or other.x is None or other.y is None:
        return math.inf
    return math.hypot(one.x - other.x, one.y - other.y)


def _ratio(room: int, band: str, pairs: list[tuple[Evidence, Evidence]]) -> HeightRatio:
    ends = np.array([[*_logs(low.reading), *_logs(high.reading)] for low, high in pairs])
    least, most = ends[:, 0] - ends[:, 3], ends[:, 1] - ends[:, 2]
    sd = math.sqrt(sum(_variance(one.reading) for pair in pairs for one in pair)) / len(pairs)
    reach = NORMAL_95 * sd
    known = bool(np.array_equal(least, most))
    if known and len(pairs) >= FEWEST_FOR_T:
        from scipy import stats  # takes a second to import

        spread = float(least.std(ddof=1)) / math.sqrt(len(pairs))
        reach = max(reach, float(stats.t(len(pairs) - 1).ppf(0.975)) * spread)
    low, high = float(least.mean()) - reach, float(most.mean()) + reach
    ids = dict.fromkeys(one.reading.id for pair in pairs for one in pair)
    return HeightRatio(
        room,
        band,
        len(pairs),
        math.exp(float(least.mean())) if known else None,
        math.exp(low) if math.isfinite(low) else None,
        math.exp(high) if math.isfinite(high) else None,
        tuple(ids),
    )


def _logs(one: Reading) -> tuple[float, float]:
    """Return the logarithms that a reading lies between; a non-detect has no lower end."""
    low, high = bounds_of(one)
    if one.qualifier == "<":
        low = 0.0
    if one.qualifier == ">":
        high = math.inf
    return (math.log(low) if low > 0.0 else -math.inf), (
        math.log(high) if high > 0.0 else -math.inf
    )


def _variance(one: Reading) -> float:
    own = one.error / one.concentration if one.concentration else 0.0
    return READING_SD**2 + own**2
