"""The rulings of every room of a floor, and of the floor as its worst room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Final

from hgmap.decide.clearance import confirm
from hgmap.decide.clearance.confirm import OtherRound
from hgmap.decide.clearance.gather import RoomReadings, bands_asked, raised
from hgmap.decide.clearance.judge import NEAR_LIMIT, Ruling, judge, withhold
from hgmap.decide.clearance.outcome import (
    BandFigures,
    FloorClearance,
    HoldBack,
    RoomClearance,
    RuleOutcome,
    worst,
)
from hgmap.decide.clearance.rules import ClearanceRule
from hgmap.decide.clearance.statistics import RoomStatistics, as_written, room_statistics
from hgmap.decide.clearance.withheld import held_for_a_check, of_room, vouched_first
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.figures import counted, named
from hgmap.site.reading import Reading

NO_MAP: Final = HoldBack(
    "no map was asked for", "the map's probability: run again with --with-map"
)  # fmt: skip
DIGITS: Final = 12
"""Of a concentration in another unit: beyond them is only the rounding of the conversion."""

Nowhere = Mapping[tuple[str, str], float | None]
"""By room id and height: the map's probability that nowhere is above the level."""


def clear_floor(
    site: Site,
    floor: Floor,
    rooms: Sequence[RoomReadings],
    names: Sequence[str],
    level: ActionLevel,
    rules: Sequence[ClearanceRule],
    held_back: Sequence[HoldBack],
    nowhere: Nowhere | None,
    map_held_back: Mapping[str, Sequence[HoldBack]],
    others: Sequence[OtherRound] = (),
) -> FloorClearance:
    """Rule on every room of a floor.

    Parameters
    ----------
    rooms : sequence of RoomReadings
        Of every room of the floor.
    names : sequence of str
        The breathing heights of the site.
    held_back : sequence of HoldBack
        What holds for the whole floor.
    nowhere : mapping or None
        None where no map was asked for.
    map_held_back : mapping
        Height to what the map itself holds against being believed.
    others : sequence of OtherRound
        The other rounds on this floor.
    """
    cleared = tuple(
        _room(site, one, bands_asked(one, site, names), level, rules, held_back, nowhere,
              map_held_back, others)
        for one in rooms
    )  # fmt: skip
    asked = [name for name in names if any(b.band == name for r in cleared for b in r.bands)]
    pooled = tuple(
        BandFigures(
            name,
            _statistics(floor.title, [one for room in rooms for one in room.by_band[name]], level),
            tuple(one.id for room in rooms for one in room.by_band[name]),
        )
        for name in asked
    )
    outcomes = tuple(_of_floor(rule, cleared, pooled) for rule in rules)
    return FloorClearance(floor, cleared, pooled, outcomes)


def _of_floor(
    rule: ClearanceRule, rooms: Sequence[RoomClearance], pooled: Sequence[BandFigures]
) -> RuleOutcome:
    """Return a floor as its worst room: rooms are not averaged with each other."""
    found = [(room, next(o for o in room.outcomes if o.rule is rule)) for room in rooms]
    outcome = worst(one.ruling.outcome for _, one in found)
    here = [(room, one) for room, one in found if one.ruling.outcome == outcome]
    reason = (
        f"{counted(len(here), 'room')} of {len(rooms)}: "
        f"{named([room.room.name for room, _ in here], 6)}"
    )
    missing = ("every room of the floor ruled on",) if outcome == "cannot tell yet" else ()
    bands = [one.band for _, one in here]
    band = max((one.band for one in pooled), key=bands.count)
    return RuleOutcome(rule, Ruling(outcome, (reason,), missing), band)


def _room(
    site: Site,
    room: RoomReadings,
    asked: Sequence[str],
    level: ActionLevel,
    rules: Sequence[ClearanceRule],
    held_back: Sequence[HoldBack],
    nowhere: Nowhere | None,
    map_held_back: Mapping[str, Sequence[HoldBack]],
    others: Sequence[OtherRound],
) -> RoomClearance:
    figures = []
    high: dict[str, RoomStatistics] = {}
    for name in asked:
        used = room.by_band[name]
        at_others = [one for band, some in room.by_band.items() if band != name for one in some]
        elsewhere = [*at_others, *room.beside]
        figures.append(
            BandFigures(
                name,
                _statistics(room.room.name, used, level, elsewhere),
                tuple(one.id for one in used),
                (nowhere or {}).get((room.room.id, name)),
            )
        )
        high[name] = _statistics(
            room.room.name, [raised(one, site) for one in used], level,
            [raised(one, site) for one in room.beside],
        )  # fmt: skip
    own = [
        *of_room(room, site.trust.occupied_temperature_c),
        *confirm.of_samples(room, level),
        *confirm.of_background(room),
        *confirm.of_later(room.room.id, others, level),
    ]
    against = [*held_back, *own]
    # the other breathing heights are shown beside each other, and each is judged by the rule itself
    beside = _highest(room.beside, level)
    outcomes = []
    for rule in rules:
        by_band = []
        for one in figures:
            # a room without a usable reading stands at the usual height, wherever it was read
            heights = room.by_band if len(asked) == 1 and not room.counted else [one.band]
            waiting = max(held_for_a_check(room, name) for name in heights)
            ruling = _at_height(rule, one, high[one.band], level, beside, waiting)
            ruling = _held_back(ruling, [*confirm.of_places(rule, room.by_band[one.band])])
            if rule.test == "map":
                ruling = _held_back(ruling, map_held_back.get(one.band, ()))
            if rule.test == "map" and nowhere is None:
                ruling = _without(ruling, _MAP_TEXTS)
            by_band.append((one.band, ruling))
        no_map = [NO_MAP] if rule.test == "map" and nowhere is None else []
        asks = confirm.of_rule(rule, site, room, asked, others, level)
        outcomes.append(_worst_height(rule, by_band, [*against, *no_map, *asks], figures))
    return RoomClearance(room.room, tuple(figures), tuple(outcomes), tuple(own))


_MAP_TEXTS: Final = ("there is no map of this room", "a map's probability that nowhere is above")


def _without(ruling: Ruling, texts: Sequence[str]) -> Ruling:
    return replace(
        ruling,
        reasons=tuple(one for one in ruling.reasons if one not in texts),
        missing=tuple(one for one in ruling.missing if one not in texts),
    )


def _held_back(ruling: Ruling, against: Sequence[HoldBack]) -> Ruling:
    return withhold(ruling, [one.reason for one in against], [one.missing for one in against])


def _at_height(
    rule: ClearanceRule,
    figures: BandFigures,
    high: RoomStatistics,
    level: ActionLevel,
    beside: float | None,
    held: int,
) -> Ruling:
    """Rule on one height; it meets only where it would with every reading as high as it may be.

    ``held``: see :func:`judge`.
    """
    value = _tidy(level.value)
    ruling = judge(
        rule, replace(figures.statistics, highest_elsewhere=beside), value, figures.nowhere,
        held=held,
    )  # fmt: skip
    if ruling.outcome != "meets":
        return ruling
    limit = high.highest_limit
    if limit is not None and limit > NEAR_LIMIT * value:
        ruling = withhold(
            ruling,
            [f"a detection limit of {limit:.4g} (with its error) is more than half of the level"],
            [f"an instrument or a laboratory method that can see {NEAR_LIMIT * value:.4g}"],
        )
    if judge(rule, high, value, figures.nowhere).outcome != "meets":
        ruling = withhold(
            ruling,
            ["within the measured error of the readings, and with nothing taken off them, it may "
             "not meet"],
            ["readings by an instrument whose checks show a smaller error, or more distance from "
             "the level"],
        )  # fmt: skip
    return ruling


def _worst_height(
    rule: ClearanceRule,
    by_band: Sequence[tuple[str, Ruling]],
    against: Sequence[HoldBack],
    figures: Sequence[BandFigures],
) -> RuleOutcome:
    """Join the heights of a room: the worst counts, and says what each of its kind lacks."""
    outcome = worst(ruling.outcome for _, ruling in by_band)
    here = [(band, ruling) for band, ruling in by_band if ruling.outcome == outcome]
    one_height = len(by_band) == 1

    def said(band: str, text: str) -> str:
        return text if one_height else f"{band}: {text}"

    ruling = Ruling(
        outcome,
        tuple(said(band, text) for band, one in here for text in one.reasons),
        tuple(said(band, text) for band, one in here for text in one.missing),
    )
    readings = {one.band: one.statistics.n for one in figures}
    band = max((band for band, _ in here), key=lambda name: readings[name])
    ruling = _held_back(ruling, against)
    return RuleOutcome(rule, replace(ruling, missing=vouched_first(ruling.missing)), band)


def _statistics(
    name: str,
    readings: Sequence[Reading],
    level: ActionLevel,
    elsewhere: Sequence[Reading] = (),
) -> RoomStatistics:
    """Work out the figures of some readings in the unit that the level is published in."""
    scale = level.value / level.concentration
    found = as_written(readings)
    return room_statistics(
        name,
        [_tidy(one * scale) for one in found.values],
        found.is_detect,
        _tidy(level.value),
        is_saturated=found.is_saturated,
        highest_elsewhere=_highest(elsewhere, level),
        saturated_elsewhere=_highest((one for one in elsewhere if one.qualifier == ">"), level),
    )


def _highest(readings: Iterable[Reading], level: ActionLevel) -> float | None:
    """Return the highest number of some readings, in the unit that the level is published in."""
    scale = level.value / level.concentration
    return max(
        (
            _tidy(one.concentration * scale)
            for one in readings
            if one.qualifier != "<" and one.concentration is not None
        ),
        default=None,
    )


def _tidy(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")
