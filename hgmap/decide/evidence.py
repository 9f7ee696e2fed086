"""Which readings bear on a map, in which part, before anything is estimated."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from hgmap.decide.model import Evidence, FloorEvidence, Role, bounds_of
from hgmap.errors import SiteError
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Site
from hgmap.site.reading import Reading
from hgmap.site.units import to_computing

BULK_BAND: Final = ""

TOO_CLOSE: Final = 0.5
"""A detection limit above this share of the level is too close to it to prove ground clear (common
practice, no source)."""

SAMPLED: Final = "a laboratory sample: an average over its sampling time"

MOST_NAMED: Final = 3
"""Readings that a note names; it counts the others."""


def choose_band(site: Site, round_name: str, asked: str | None) -> tuple[str, tuple[str, ...]]:
    """Return the height band that a map is made for, and what to say about the choice.

    ``asked``, then site.toml; else the breathing band with the most usable readings, which is
    said. A medium without heights has one band, the empty name.

    Raises
    ------
    SiteError
        If the band asked for is not one of the site's.
    """
    if site.medium != "air":
        return BULK_BAND, ()
    names = [band.name for band in site.height_bands]
    wanted = asked or site.settings.height_band
    if wanted:
        if wanted not in names:
            raise SiteError(
                f"no height band {wanted!r}", where="height band", todo=f"known: {', '.join(names)}"
            )
        return wanted, ()
    breathing = [band.name for band in site.height_bands if band.breathing] or names
    counts = Counter(
        reading.band
        for reading in site.readings
        if reading.usable and reading.on_map and reading.round == round_name
    )
    best = max(breathing, key=lambda name: counts[name])
    return best, (
        f"height band not stated: {best!r} has the most usable readings ({counts[best]})",
    )


def gather_evidence(
    site: Site, floor: Floor, round_name: str, band: str, level: ActionLevel
) -> FloorEvidence:
    """Judge every reading of a floor and round against one level.

    A non-detect bears on the surface only where its detection limit is not above the level. A
    saturated reading counts as above the level whatever value it is known to exceed. Both are
    intervals (``FloorEvidence.bounds``); a method that knows numbers only takes them at the value
    that was written, never at zero. A range counts as above the level where its upper end is, and
    is taken there by such a method.
    """
    items = tuple(
        _judge(reading, site, band, level)
        for reading in site.readings
        if reading.floor == floor.name and reading.round == round_name
    )
    strays = tuple(
        _judge(reading, site, band, level)
        for reading in site.readings
        if reading.held and reading.on_map and _may_belong(reading, site, floor, round_name)
    )
    used = [item.reading for item in items if item.role == "used"]
    return FloorEvidence(
        floor=floor,
        round=round_name,
        band=band,
        level=level,
        items=items,
        xy=np.array([(one.x, one.y) for one in used], dtype=np.float64).reshape(-1, 2),
        concentration=np.array([one.concentration for one in used], dtype=np.float64),
        notes=evidence_notes(items, level),
        strays=strays,
    )


def _may_belong(reading: Reading, site: Site, floor: Floor, round_name: str) -> bool:
    """Tell whether nobody knows that a reading is of another floor or round than this one."""
    if (reading.floor, reading.round) == (floor.name, round_name):
        return False  # it is of this one
    elsewhere = {one.name for one in site.floors} - {floor.name}
    other_floor = reading.floor in elsewhere or reading.floor.casefold() in site.lost_floors
    other_round = reading.round in {one.name for one in site.rounds} - {round_name}
    return not other_floor and not other_round


def _judge(reading: Reading, site: Site, band: str, level: ActionLevel) -> Evidence:
    reading = _finite(reading)
    plain = as_written(reading, site)
    above = _above(plain, level)
    if not reading.on_map:
        return Evidence(reading, "off the map", above, _why_off(reading))
    if reading.held or reading.concentration is None:
        why = reading.held or ("no concentration",)
        return Evidence(reading, "held", above, why)
    role: Role = "used"
    reasons = list(reading.cautions)
    text = describe(reading)
    if reading.qualifier == ">":
        reasons.append(f"saturated: only known to be above {text.removeprefix('>')}")
    if reading.kind == "laboratory":
        reasons.append(SAMPLED)
    if site.medium == "air" and reading.band != band:
        return Evidence(reading, "other height", above, (*reasons, f"taken at {reading.band}"))
    limit, doubt = limit_of(reading), " with its error" if reading.error else ""
    if reading.qualifier == "<" and limit > level.concentration:
        role = "cannot see the level"
        reasons.append(f"detection limit {text.removeprefix('<')}{doubt} is above the level")
    elif reading.qualifier == "<" and limit > TOO_CLOSE * level.concentration:
        reasons.append(f"detection limit {text.removeprefix('<')}{doubt} is above half the level")
    elif reading.qualifier == ">" and reading.concentration <= level.concentration:
        role = "cannot see the level"
        reasons.append("saturated below the level")
    whole = None if plain is reading else plain.concentration
    return Evidence(reading, role, above, tuple(dict.fromkeys(reasons)), whole)


def as_written(reading: Reading, site: Site) -> Reading:
    """Return a reading without what a background or a blank took off it; itself where none did.

    Parts per billion without a temperature are taken at 0 °C: denser than any room.
    """
    number = reading.concentration
    if site.trust.subtract == "nothing" or reading.value is None or number is None:
        return reading
    if reading.qualifier not in ("", "~") or reading.medium:
        return reading
    warmth = 0.0 if reading.temperature_c is None else reading.temperature_c
    try:
        whole = to_computing(reading.value, reading.unit, site.medium, temperature_c=warmth)
    except SiteError:
        return reading
    return reading._replace(concentration=whole) if whole > number * (1.0 + 1e-6) else reading


def limit_of(reading: Reading) -> float:
    """Return the detection limit of a non-detect, up to which its own error may reach.

    Two standard deviations: a limit that may itself lie above the level proves nothing below it.
    """
    return bounds_of(reading)[1]


def _why_off(reading: Reading) -> tuple[str, ...]:
    return (f"{reading.kind}: says nothing about the air at a place of this floor", *reading.held,
            *reading.cautions)  # fmt: skip


def evidence_notes(items: Sequence[Evidence], level: ActionLevel) -> tuple[str, ...]:
    """Say what a reader of the map has to know of the readings, beside what is held."""
    notes = []
    bags = bags_above(items)
    if bags:
        notes.append(f"bag headspace above the level, an item gives off vapour: {_names(bags)}")
    off = Counter(item.reading.kind for item in items if item.role == "off the map")
    if off:
        kinds = ", ".join(f"{number} {kind}" for kind, number in sorted(off.items()))
        held = sum(bool(item.reading.held) for item in items if item.role == "off the map")
        notes.append(f"reported and not mapped: {kinds}" + (f" ({held} held)" if held else ""))
    blind = [
        item
        for item in items
        if item.reading.qualifier == "<" and item.role == "cannot see the level"
    ]
    close = [
        item
        for item in items
        if item.reading.qualifier == "<"
        and item.role == "used"
        and limit_of(item.reading) > TOO_CLOSE * level.concentration
    ]
    decided = [item for item in items if item.role == "used" and _overruled(item.reading)]
    if decided:
        who = f"{decided[0].reading.id} by {_overruled(decided[0].reading)}"
        more = f", with {_names(decided[1:])}" if len(decided) > 1 else ""
        notes.append(
            f"held by the instrument log and used because a person overruled it: {who}{more}"
        )
    less = sum(item.as_written is not None for item in items)
    if less:
        notes.append(
            f"{less} reading{'s' if less > 1 else ''} with a background or a blank taken off, "
            "which clears no ground that is in doubt as written"
        )
    lowered = [
        item
        for item in items
        if item.role == "used"
        and item.above
        and item.reading.qualifier in ("", "~")
        and (item.reading.concentration or 0.0) <= level.concentration
    ]
    if lowered:
        notes.append(
            "above the level as written, and below it only by what was taken off, which clears no "
            f"ground: {_names(lowered)}"
        )
    for group, where, so in (
        (blind, "the level", "supports no release"),
        (close, "half the level", "does not show its ground to be clear"),
    ):
        if group:
            notes.append(f"detection limit above {where}, which {so}: {_names(group)}")
    return tuple(notes)


def _overruled(reading: Reading) -> str:
    """Return initials and reason of the person who lifted what held a reading; empty: nobody."""
    return next((one.overruled for one in reading.findings if one.overruled), "")


def bags_above(items: Sequence[Evidence]) -> list[Evidence]:
    """Return the bags whose headspace is above the level."""
    return [
        item
        for item in items
        if item.role == "off the map" and item.above and item.reading.kind == "headspace"
    ]


def _names(items: Sequence[Evidence]) -> str:
    more = f" and {len(items) - MOST_NAMED} more" if len(items) > MOST_NAMED else ""
    return ", ".join(item.reading.id for item in items[:MOST_NAMED]) + more


def _finite(reading: Reading) -> Reading:
    """Hold a reading with a number that is none; no file that hgmap reads makes one."""
    if reading.concentration is not None and not math.isfinite(reading.concentration):
        held = (*reading.held, f"a concentration of {reading.concentration} is not a number")
        reading = reading._replace(concentration=None, held=held)
    x, y = reading.x, reading.y
    if x is not None and y is not None and not (math.isfinite(x) and math.isfinite(y)):
        held = (*reading.held, f"({x}, {y}) is not a place")
        reading = reading._replace(x=None, y=None, placed="", held=held)
    return reading


def _above(reading: Reading, level: ActionLevel) -> bool:
    if reading.qualifier == ">":
        return True
    return (
        reading.qualifier != "<"
        and reading.concentration is not None
        and reading.concentration > level.concentration
    )


def over_words(reading: Reading, level: float) -> str:
    """Say that a reading is above a level (computing unit), or that it reaches above it."""
    if reading.qualifier == "to" and bounds_of(reading)[0] <= level:
        return "which reaches above the level"
    return "above the level"


def describe(reading: Reading) -> str:
    """Return a reading as written, for a sentence.

    The number keeps its own digits: 0.41, 12, 1200; a range has both ends, ``100 to 5000``.
    """
    if reading.value is None:
        return "no value"
    before = {"to": "", "up to": "up to "}.get(reading.qualifier, reading.qualifier)
    if reading.qualifier == "to":
        before = "up to " if reading.low is None else f"{reading.low:.10g} to "
    return f"{before}{reading.value:.10g} {reading.unit}".strip()
