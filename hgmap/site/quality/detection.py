"""Detection limits against the level in force: what a non-detect can prove, and what it cannot."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

from hgmap.site.model import ActionLevel
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.quality.places import Method, method_of
from hgmap.site.reading import Reading

HALF: Final = 0.5
"""A detection limit above this share of the level is flagged: common practice, no source."""

Ruling = Literal["low enough", "above half the level", "above the level"]


@dataclass(frozen=True, slots=True)
class DetectionLimit:
    """A limit that non-detects were written with.

    Attributes
    ----------
    concentration : float
        In the computing unit.
    method : {"direct", "laboratory"}
    instrument : str
        Empty where the readings name none.
    readings : tuple of str
        Ids of the non-detects written with it.
    """

    concentration: float
    method: Method
    instrument: str
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LimitRuling:
    """A detection limit, and what it is good for at the level in force."""

    limit: DetectionLimit
    ruling: Ruling
    text: str


def detection_limits(readings: Iterable[Reading]) -> tuple[DetectionLimit, ...]:
    """Gather the limits that usable non-detects show, by method and instrument, highest first."""
    found: dict[tuple[Method, str, float], list[str]] = {}
    for one in readings:
        if one.usable and one.qualifier == "<" and one.concentration is not None:
            key = (method_of(one), one.instrument, one.concentration)
            found.setdefault(key, []).append(one.id)
    return tuple(
        DetectionLimit(limit, method, instrument, tuple(sorted(ids)))
        for (method, instrument, limit), ids in sorted(
            found.items(), key=lambda item: (-item[0][2], item[0][0], item[0][1])
        )
    )


def limit_for(reading: Reading, limits: Iterable[DetectionLimit]) -> float | None:
    """Return the lowest limit shown by the same method and instrument, None where none is known.

    The lowest: one poor non-detect must not excuse what differs far above it. Where no non-detect
    names the reading's instrument, those that name none speak for it.
    """
    same = [one for one in limits if one.method == method_of(reading)]
    own = [one for one in same if one.instrument == reading.instrument]
    rest = own or [one for one in same if not one.instrument or not reading.instrument]
    return min((one.concentration for one in rest), default=None)


def rule_on_limits(
    limits: Iterable[DetectionLimit], level: ActionLevel, unit: str
) -> tuple[LimitRuling, ...]:
    """Say of each limit what its non-detects can show at the level.

    Parameters
    ----------
    limits : iterable of DetectionLimit
    level : ActionLevel
        Of the same medium.
    unit : str
        The computing unit, for the words.
    """
    found = []
    for one in limits:
        whose = f"{counted(len(one.readings), 'non-detect')} ({named(one.readings, 4)})"
        head = f"detection limit {figure(one.concentration)} {unit} of {whose}"
        at = f"the level of {figure(level.concentration)} {unit}"
        if one.concentration > level.concentration:
            text = (
                f"{head} is above {at}: such a reading can never support a release; measure again "
                "with a method that reaches lower"
            )
            found.append(LimitRuling(one, "above the level", text))
        elif one.concentration > HALF * level.concentration:
            text = (
                f"{head} is above half of {at} (common practice, no source): it leaves little room "
                "for error; measure again with a lower limit before a release rests on it"
            )
            found.append(LimitRuling(one, "above half the level", text))
        else:
            found.append(LimitRuling(one, "low enough", f"{head} is at most half of {at}"))
    return tuple(found)
