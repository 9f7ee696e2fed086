"""Action levels: the table of published ones, and whether a chosen one fits the building.

There is no default level, and nothing here picks one: a level is named or stated by the user.
"""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Final

from hgmap.errors import LevelError, SiteError
from hgmap.site.level_table import (
    KINDS,
    Disagreement,
    LevelRow,
    computed,
    disagreements,
    levels,
    levels_table,
    same_analyte,
)
from hgmap.site.model import ActionLevel, Medium, Site, Use
from hgmap.site.units import COMPUTING_UNIT, parse_quantity

if TYPE_CHECKING:
    from collections.abc import Sequence

__all__ = [
    "BUILDING",
    "KINDS",
    "NOT_STATED",
    "Disagreement",
    "LevelRow",
    "check_level_fits_use",
    "choose_level",
    "disagreements",
    "levels",
    "levels_table",
    "only_background",
]

NOT_STATED: Final = "not stated"

PROTECTED: Final[frozenset[Use]] = frozenset({"dwelling", "school", "child care", "health care"})
"""Uses with children, patients or people at home: never judged by a limit for workers."""

BUILDING: Final[dict[Use, str]] = {
    "dwelling": "a dwelling",
    "school": "a school",
    "child care": "a child care building",
    "health care": "a health care building",
    "commercial": "a commercial building",
    "industrial": "an industrial building",
}

_SPREAD: Final = "published occupancy levels for"

_SAME: Final = 1e-9
"""Relative difference below which two concentrations are the same number, converted twice."""


def choose_level(text: str | None, *, medium: Medium, use: Use | None, analyte: str) -> ActionLevel:
    """Return the level that the user named or stated, if it may be used for this building.

    Call :func:`check_level_fits_use` for the cautions that go with it.

    Parameters
    ----------
    text : str or None
        A name from the table, in full, or a value with its unit (``"1 ug/m3"``).
    medium : {"air", "surface", "bulk"}
        What was measured.
    use : str or None
        What the building is used for.
    analyte : str
        What was measured, as the site says it.

    Raises
    ------
    LevelError
        If there is no level, no unit, no such name; or if it does not fit the medium, the
        analyte or the use.
    """
    shown = (text or "").strip()
    if not shown:
        raise LevelError(
            "no action level; there is no default",
            todo="choose one for this building: `hgmap levels` lists them",
        )
    by_name = {level.name: level for level in levels()}
    level = by_name.get(shown.casefold())
    if level is None and _looks_like_a_number(shown):
        level = _stated(shown, medium, analyte)
    if level is None:
        near = difflib.get_close_matches(shown.casefold(), by_name, n=1, cutoff=0.4)
        hint = f"did you mean {near[0]!r}? " if near else ""
        raise LevelError(f"no level named {shown!r}", todo=f"{hint}`hgmap levels` lists them")
    if level.medium != medium:
        raise LevelError(
            f"level {level.name!r} is for {level.medium} ({level.unit}), not for {medium}",
            todo="choose a level for what was measured",
        )
    if not same_analyte(level.analyte, analyte):
        raise LevelError(
            f"level {level.name!r} is for {level.analyte}, the site is about {analyte}",
            todo="choose a level for what was measured",
        )
    check_level_fits_use(level, use)
    return level


def check_level_fits_use(level: ActionLevel, use: Use | None) -> tuple[str, ...]:
    """Return what a reader should know about this level in this building.

    Raises
    ------
    LevelError
        If the building's use is not stated; if the level is for the headspace over belongings;
        or if it is, by name or by height, a limit for workers or emergencies and the building is
        a dwelling, a school, a child care or a health care building.
    """
    if use is None:
        raise LevelError(
            "what the building is used for is not stated",
            where="site.toml",
            todo=f"write use = one of: {', '.join(BUILDING)}",
        )
    _refuse_the_wrong_kind(level, use)
    peers = [one for one in levels() if _comparable(one, level)]
    _refuse_at_or_above_occupational(level, use, peers)
    cautions = list(_cautions_about_itself(level, use))
    cautions.extend(_cautions_from_peers(level, use, peers))
    return tuple(cautions)


def levels_for(site: Site) -> tuple[ActionLevel, ...]:
    """Return the published levels that a site may go by, the lowest first."""
    found = []
    for one in levels():
        if one.medium != site.medium or not same_analyte(one.analyte, site.analyte):
            continue
        try:
            check_level_fits_use(one, site.use)
        except LevelError:
            continue
        found.append(one)
    return tuple(sorted(found, key=lambda one: one.concentration))


def only_background(caution: str) -> bool:
    """Tell whether a caution only says how far agencies lie apart."""
    return caution.startswith(_SPREAD)


def _refuse_the_wrong_kind(level: ActionLevel, use: Use) -> None:
    if level.kind == "belongings":
        raise LevelError(
            f"level {level.name!r} is for the headspace over bagged belongings, not for room air",
            todo="choose a level for the air that people breathe",
        )
    if level.kind in ("occupational", "emergency") and use in PROTECTED:
        people = "workers" if level.kind == "occupational" else "emergencies"
        raise LevelError(
            f"level {level.name!r} is a limit for {people}; {BUILDING[use]} is never cleared by it",
            todo="choose an occupancy level: `hgmap levels` lists them",
        )


def _refuse_at_or_above_occupational(
    level: ActionLevel, use: Use, peers: Sequence[ActionLevel]
) -> None:
    occupational = [one for one in peers if one.kind == "occupational"]
    if use not in PROTECTED or not occupational:
        return
    lowest = min(occupational, key=lambda one: (one.concentration, one.from_memory))
    if level.concentration >= lowest.concentration * (1 - _SAME):
        raise LevelError(
            f"{level.value:.6g} {level.unit} is at or above the lowest limit for workers in the "
            f"table ({lowest.name}, {computed(lowest.concentration, lowest.medium)}): for "
            f"{BUILDING[use]} it would be an occupational limit by another name",
            todo="choose an occupancy level: `hgmap levels` lists them",
        )


def _cautions_about_itself(level: ActionLevel, use: Use) -> list[str]:
    cautions = []
    if level.from_memory:
        cautions.append(
            f"the value of {level.name} is from memory: check {level.source} before relying on it"
        )
    missing = [
        name for name in ("averaging", "height", "scenario") if getattr(level, name) == NOT_STATED
    ]
    if level.kind == "stated" and missing:
        cautions.append(
            f"the level was stated without its {' and '.join(missing)}: say in the report why "
            "it was chosen"
        )
    if level.kind == "isolation":
        cautions.append(
            f"{level.name} says when to leave a building; below it nobody has cleared the "
            "building for occupancy"
        )
    if level.kind != "stated" and use not in level.uses:
        cautions.append(
            f"{level.name} was not written for {BUILDING[use]} but for: {', '.join(level.uses)}"
        )
    return cautions


def _cautions_from_peers(level: ActionLevel, use: Use, peers: Sequence[ActionLevel]) -> list[str]:
    """Compare with the occupancy levels for this use; for a dwelling where it has none."""
    cautions = []
    occupancy = [one for one in peers if one.kind == "occupancy" and use in one.uses]
    compared: Use = use
    if not occupancy:
        cautions.append(f"no published occupancy level for {BUILDING[use]} is in the table")
        if use not in PROTECTED:
            return cautions
        compared = "dwelling"
        occupancy = [one for one in peers if one.kind == "occupancy" and compared in one.uses]
        if not occupancy:
            return cautions
    lowest = min(occupancy, key=lambda one: one.concentration)
    highest = max(occupancy, key=lambda one: one.concentration)
    if level.concentration > highest.concentration * (1 + _SAME):
        cautions.append(
            f"{level.value:.6g} {level.unit} is above the highest published occupancy level for "
            f"{BUILDING[compared]} ({highest.name}, "
            f"{computed(highest.concentration, highest.medium)})"
        )
    if highest.concentration > lowest.concentration * (1 + _SAME):
        cautions.append(
            f"{_SPREAD} {BUILDING[compared]} run from "
            f"{lowest.concentration:.3g} to {computed(highest.concentration, highest.medium)} "
            f"({lowest.name}, {highest.name})"
        )
    return cautions


def _comparable(one: ActionLevel, level: ActionLevel) -> bool:
    """Tell whether a published level is about the same thing.

    On a surface, a floor and a window trough have levels of their own; one that the user states
    is compared with them all.
    """
    return (
        one.medium == level.medium
        and same_analyte(one.analyte, level.analyte)
        and (one.medium != "surface" or level.kind == "stated" or one.height == level.height)
    )


def _looks_like_a_number(text: str) -> bool:
    return text[0] in "+-.0123456789" or text.casefold().startswith(("nan", "inf"))


def _stated(text: str, medium: Medium, analyte: str) -> ActionLevel:
    try:
        value, unit = parse_quantity(text)
    except SiteError as error:
        raise LevelError(f"action level: {error.message}", todo=error.todo) from None
    if unit.factor is None:
        raise LevelError(
            f"action level {text!r} depends on the temperature of the air",
            todo="state it in µg/m³",
        )
    if unit.medium != medium:
        raise LevelError(
            f"action level {text!r} is for {unit.medium}, not for {medium}",
            todo=f"state it in {COMPUTING_UNIT[medium]}",
        )
    return ActionLevel(
        name=f"{value:.6g} {unit.symbol}",
        value=value,
        unit=unit.symbol,
        medium=medium,
        concentration=value * unit.factor,
        averaging=NOT_STATED,
        height=NOT_STATED,
        scenario=NOT_STATED,
        kind="stated",
        uses=(),
        source="stated by the user on the command line or in site.toml",
        year=None,
        analyte=analyte,
    )
