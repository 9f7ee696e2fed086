"""What has to confirm a room besides its own readings: the laboratory, and other rounds.

A laboratory sample is an average over hours and a later round is another day: either that is not
below the level takes a ``meets`` back whatever the rule. A rule may ask for them (``laboratory``,
``again_after_h``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from hgmap.decide.clearance.gather import RoomReadings, raised
from hgmap.decide.clearance.outcome import HoldBack
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.evidence import TOO_CLOSE, describe
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.quality.figures import counted, figure, named
from hgmap.site.reading import Reading

MOST_IDS: Final = 4
HOURS_A_DAY: Final = 24.0


@dataclass(frozen=True, slots=True)
class OtherRound:
    """Another round on the same floor.

    Attributes
    ----------
    round : Round
    rooms : dict
        Room id to its readings there.
    hours_after : float or None
        Hours from the end of the judged round to the start of this one, below zero where it was
        before; None where neither times nor dates say.
    later : bool
        Whether it was later, or at the same time; where nothing says, as it stands in site.toml.
    held_back : tuple of HoldBack
        What stands against this round itself.
    """

    round: Round
    rooms: dict[str, RoomReadings]
    hours_after: float | None
    later: bool
    held_back: tuple[HoldBack, ...]


def hours_between(site: Site, first: Round, second: Round) -> float | None:
    """Return the hours from the end of one round to the start of the next, below zero if before.

    By the times of their readings; where one has none, by the dates of the rounds. Rounds whose
    times overlap are 0 h apart; None where nothing says.
    """
    (a, b), (c, d) = _span(site, first), _span(site, second)
    if a and b and c and d:
        if c >= b:
            return (c - b).total_seconds() / 3600.0
        return min((d - a).total_seconds() / 3600.0, 0.0)
    if first.date is None or second.date is None:
        return None
    return (second.date - first.date).days * HOURS_A_DAY


def _span(site: Site, round_: Round) -> tuple[datetime | None, datetime | None]:
    times = [one.time for one in site.readings if one.round == round_.name and one.time is not None]
    return min(times, default=None), max(times, default=None)


def of_samples(room: RoomReadings, level: ActionLevel) -> Iterator[HoldBack]:
    """Hold back a room with a laboratory sample that is not below the level."""
    high = [one for one in room.samples if _not_below(one, level)]
    if high:
        yield HoldBack(
            f"{counted(len(high), 'laboratory sample')} not below the level, {_named(high)}: a "
            "sample is the average of its hours",
            "the room cleaned, and sampled again",
        )


def of_background(room: RoomReadings) -> Iterator[HoldBack]:
    """Hold back a room where what was called background is above the level."""
    if room.background:
        yield HoldBack(
            f"{counted(len(room.background), 'background reading')} above the level in this room, "
            f"{_named(room.background)}",
            "what that reading was, written down: background is read outdoors or in a room that "
            "never had mercury",
        )


def of_later(room_id: str, others: Sequence[OtherRound], level: ActionLevel) -> Iterator[HoldBack]:
    """Hold back a room that was not below the level in a later round, or one of the same time."""
    for other in others:
        room = other.rooms.get(room_id)
        if room is None or not other.later:
            continue
        # a held reading clears nothing, and is doubt enough here
        read = [*room.counted, *room.beside, *room.held]
        high = [one for one in read if _not_below(one, level)]
        if high:
            yield HoldBack(
                f"not below the level in the round {other.round.title or other.round.name}, which "
                f"was not before this one: {_named(high)}",
                "where that mercury came from, and a round after it",
            )


def of_rule(
    rule: ClearanceRule,
    site: Site,
    room: RoomReadings,
    bands: Sequence[str],
    others: Sequence[OtherRound],
    level: ActionLevel,
) -> Iterator[HoldBack]:
    """Return what a rule asks for besides the readings of this round."""
    if rule.laboratory is not None:
        yield from _laboratory(site, room, level)
    if rule.again_after_h is not None:
        yield from _again(rule, rule.again_after_h, site, room, bands, others, level)


def _laboratory(site: Site, room: RoomReadings, level: ActionLevel) -> Iterator[HoldBack]:
    seeing = [one for one in room.samples if can_see(one, site, level)]
    if seeing:
        return
    half = f"{figure(TOO_CLOSE * level.value)} {level.unit}"
    if not room.samples:
        yield HoldBack(
            "no laboratory sample in the breathing zone of this room, which the rule asks for",
            f"a laboratory sample in the breathing zone that can see {half}",
        )
        return
    best = min(room.samples, key=lambda one: raised(one, site).concentration or 0.0)
    times = (raised(best, site).concentration or 0.0) / (TOO_CLOSE * level.concentration)
    more = math.ceil(10.0 * times) / 10.0
    yield HoldBack(
        f"the laboratory sample {best.id} ({describe(best)}) cannot see half of the level",
        f"a laboratory sample that can see {half}: at least {more:g} times the air by the same "
        "method, or another method",
    )


def can_see(sample: Reading, site: Site, level: ActionLevel) -> bool:
    """Tell whether a sample would have shown half of the level: a detect, or a low limit."""
    limit = raised(sample, site).concentration
    if sample.qualifier != "<":
        return True
    return limit is not None and limit <= TOO_CLOSE * level.concentration


def _again(
    rule: ClearanceRule,
    hours: float,
    site: Site,
    room: RoomReadings,
    bands: Sequence[str],
    others: Sequence[OtherRound],
    level: ActionLevel,
) -> Iterator[HoldBack]:
    """Hold back a room without a second clearance round below the level, long enough apart."""
    why = "there is no other clearance round"
    for other in others:
        if other.round.purpose != "clearance":
            continue
        name = other.round.title or other.round.name
        here = other.rooms.get(room.room.id)
        apart = other.hours_after
        if apart is None or abs(apart) < hours:
            known = "nothing says how long" if apart is None else f"{figure(abs(apart))} h"
            why = f"{name} is {known} apart"
        elif other.held_back:
            why = f"{name} clears nothing itself: {other.held_back[0].reason}"
        elif here is None or here.held:
            why = f"{name} has held readings of this room"
        elif any(len(here.by_band[band]) < rule.least for band in bands):
            why = f"{name} has fewer than {counted(rule.least, 'reading')} of this room"
        elif any(
            _not_below(raised(one, site), level, strict=True)
            for one in (*here.counted, *here.beside)
        ):
            why = f"{name} was not below the level here"
        else:
            return
    yield HoldBack(
        f"not read again, which the rule asks for: {why}",
        f"a clearance round {figure(hours)} h or more apart from this one, below the level too",
    )


def of_places(rule: ClearanceRule, readings: Sequence[Reading]) -> Iterator[HoldBack]:
    """Hold back readings that name only their room: they may be repeats of one place.

    A limit that is worked out from scatter needs places; counts need as many as the rule asks for,
    and all that say no place are sure to be one.
    """
    nowhere = [one for one in readings if one.placed == "room"]
    if len(nowhere) < 2:
        return
    if rule.test in ("ucl", "utl") or len(readings) - len(nowhere) + 1 < rule.least:
        yield HoldBack(
            f"{len(nowhere)} readings name only the room: nothing shows that they are "
            f"{len(nowhere)} places and not repeats of one",
            "the place of each reading: x and y, a grid, or offsets from two walls",
        )


def _not_below(reading: Reading, level: ActionLevel, *, strict: bool = False) -> bool:
    """Tell whether a reading is not known to be below a level.

    A saturated one never is. ``strict`` asks the same of a non-detect whose limit is above half of
    the level; elsewhere it shows nothing that is not said already.
    """
    number = reading.concentration
    if number is None:
        return False
    if reading.qualifier == ">":
        return True
    if reading.qualifier == "<":
        return strict and number > TOO_CLOSE * level.concentration
    return number >= level.concentration * (1.0 - 1e-12)


def _named(readings: Sequence[Reading]) -> str:
    return named([f"{one.id} ({describe(one)})" for one in readings], MOST_IDS)
