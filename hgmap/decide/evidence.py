"""Which readings bear on a map, in which part, before anything is estimated."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import Final

import numpy as np

from hgmap.decide.model import Evidence, FloorEvidence, Role
from hgmap.errors import SiteError
from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel, Site
from hgmap.site.reading import Reading

BULK_BAND: Final = ""

TOO_CLOSE: Final = 0.5
"""A detection limit above this share of the level is too close to it to prove ground clear (common
practice, no source)."""


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
        reading.band for reading in site.readings if reading.usable and reading.round == round_name
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
    that was written, never at zero.
    """
    items = tuple(
        _judge(reading, site, band, level)
        for reading in site.readings
        if reading.floor == floor.name and reading.round == round_name
    )
    strays = tuple(
        _judge(reading, site, band, level)
        for reading in site.readings
        if reading.held and _may_belong(reading, site, floor, round_name)
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
    if reading.held or reading.concentration is None:
        why = reading.held or ("no concentration",)
        return Evidence(reading, "held", _above(reading, level), why)
    role: Role = "used"
    reasons = list(reading.cautions)
    text = describe(reading)
    above = _above(reading, level)
    if reading.qualifier == ">":
        reasons.append(f"saturated: only known to be above {text.removeprefix('>')}")
    if site.medium == "air" and reading.band != band:
        return Evidence(reading, "other height", above, (*reasons, f"taken at {reading.band}"))
    if reading.qualifier == "<" and reading.concentration > level.concentration:
        role = "cannot see the level"
        reasons.append(f"detection limit {text.removeprefix('<')} is above the level")
    elif reading.qualifier == "<" and reading.concentration > TOO_CLOSE * level.concentration:
        reasons.append(f"detection limit {text.removeprefix('<')} is above half the level")
    elif reading.qualifier == ">" and reading.concentration <= level.concentration:
        role = "cannot see the level"
        reasons.append("saturated below the level")
    return Evidence(reading, role, above, tuple(reasons))


def _finite(reading: Reading) -> Reading:
    """Hold a reading with a number that is none; no file that hgmap reads makes one."""
    if reading.concentration is not None and not math.isfinite(reading.concentration):
        held = (*reading.held, f"a concentration of {reading.concentration} is not a number")
        reading = replace(reading, concentration=None, held=held)
    x, y = reading.x, reading.y
    if x is not None and y is not None and not (math.isfinite(x) and math.isfinite(y)):
        held = (*reading.held, f"({x}, {y}) is not a place")
        reading = replace(reading, x=None, y=None, placed="", held=held)
    return reading


def _above(reading: Reading, level: ActionLevel) -> bool:
    if reading.qualifier == ">":
        return True
    return (
        reading.qualifier == ""
        and reading.concentration is not None
        and reading.concentration > level.concentration
    )


def describe(reading: Reading) -> str:
    """Return a reading as written, for a sentence.

    The number keeps its own digits: 0.41, 12, 1200.
    """
    if reading.value is None:
        return "no value"
    return f"{reading.qualifier}{reading.value:.10g} {reading.unit}".strip()
