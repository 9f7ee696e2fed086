"""The table of published action levels (levels.toml), checked when it is read."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib import resources
from typing import Final, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from hgmap.errors import LevelError, SiteError
from hgmap.site.model import ActionLevel, Medium, Use
from hgmap.site.units import COMPUTING_UNIT, parse_unit

Kind = Literal[
    "occupancy", "isolation", "health reference", "occupational", "emergency", "belongings"
]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
"""Kinds of published level, in the order in which they are listed."""


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)


class _LevelRecord(_Record):
    name: str = Field(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$")
    analyte: str
    value: float = Field(gt=0, allow_inf_nan=False)
    unit: str
    averaging: str
    height: str
    scenario: str
    kind: Kind
    uses: tuple[Use, ...] = Field(min_length=1)
    source: str
    year: int | None = Field(default=None, ge=1900, le=2100)
    from_memory: bool = False


class _DisagreementRecord(_Record):
    title: str
    levels: tuple[str, ...] = Field(min_length=2)
    note: str


class _LevelFile(_Record):
    level: tuple[_LevelRecord, ...]
    disagreement: tuple[_DisagreementRecord, ...] = ()


@dataclass(frozen=True, slots=True)
class Disagreement:
    """How far published levels for the same people lie apart.

    Attributes
    ----------
    lowest, highest : float
        In ``unit``.
    ratio : float
        Highest over lowest.
    lowest_by, highest_by : tuple of str
        Names of the levels that say so.
    from_memory : tuple of str
        Names of those in the group whose number is from memory.
    """

    title: str
    lowest: float
    highest: float
    unit: str
    ratio: float
    lowest_by: tuple[str, ...]
    highest_by: tuple[str, ...]
    levels: tuple[str, ...]
    from_memory: tuple[str, ...]
    note: str


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One line of the list of levels, ready to print."""

    kind: str
    name: str
    analyte: str
    value: str
    computed: str
    averaging: str
    height: str
    scenario: str
    uses: str
    source: str
    year: str
    remark: str


def levels() -> tuple[ActionLevel, ...]:
    """Return every published level of the table, in the order of the file."""
    return _table()[0]


def disagreements() -> tuple[Disagreement, ...]:
    """Return the groups in which agencies disagree, with the spread of each."""
    return _table()[1]


def levels_table(
    *, medium: Medium | None = None, analyte: str | None = None, use: Use | None = None
) -> tuple[LevelRow, ...]:
    """Return the levels as rows of text, by kind and then from low to high.

    Parameters
    ----------
    medium, analyte, use : str, optional
        Keep only the levels for these.
    """
    kept = [
        level
        for level in levels()
        if (medium is None or level.medium == medium)
        and (analyte is None or same_analyte(level.analyte, analyte))
        and (use is None or use in level.uses)
    ]
    kept.sort(key=lambda level: (KINDS.index(level.kind), level.analyte, level.concentration))
    return tuple(
        LevelRow(
            kind=level.kind,
            name=level.name,
            analyte=level.analyte,
            value=f"{level.value:.6g} {level.unit}",
            computed=computed(level.concentration, level.medium),
            averaging=level.averaging,
            height=level.height,
            scenario=level.scenario,
            uses=", ".join(level.uses),
            source=level.source,
            year="" if level.year is None else str(level.year),
            remark="from memory" if level.from_memory else "",
        )
        for level in kept
    )


def computed(concentration: float, medium: Medium) -> str:
    """Return a concentration with its computing unit, as text."""
    return f"{concentration:.6g} {COMPUTING_UNIT[medium]}"


def same_analyte(one: str, other: str) -> bool:
    """Tell whether two spellings name the same thing.

    Whatever says mercury, and not compounds, is mercury vapour: a site that writes it in its own
    way must still be held to the levels for it.
    """
    return _analyte(one) == _analyte(other)


@lru_cache(maxsize=1024)
def _analyte(name: str) -> str:
    plain = " ".join(name.casefold().split())
    if "compound" not in plain and re.search(r"mercury|\bhg\b|\bhg0\b", plain):
        return "elemental mercury vapour"
    return plain


@cache
def _table() -> tuple[tuple[ActionLevel, ...], tuple[Disagreement, ...]]:
    text = resources.files("hgmap.site").joinpath("levels.toml").read_text(encoding="utf-8")
    return parse_level_table(text, where="levels.toml")


def parse_level_table(
    text: str, *, where: str
) -> tuple[tuple[ActionLevel, ...], tuple[Disagreement, ...]]:
    """Read a table of levels and of their disagreements.

    Raises
    ------
    LevelError
        If the text is not TOML, a record lacks a key or has one too many, a name stands twice,
        a unit is unknown, or a disagreement names a level that is not there or mixes media.
    """
    try:
        raw = _LevelFile.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise LevelError(f"TOML syntax: {error}", where=where, todo="mend that line") from None
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part + 1 if isinstance(part, int) else part) for part in first["loc"])
        raise LevelError(f"{place}: {first['msg']}", where=where) from None
    known: dict[str, ActionLevel] = {}
    for record in raw.level:
        if record.name in known:
            raise LevelError(f"level {record.name!r} stands twice", where=where, todo="keep one")
        known[record.name] = _level(record, where=where)
    groups = []
    for group in raw.disagreement:
        missing = [name for name in group.levels if name not in known]
        if missing:
            raise LevelError(
                f"disagreement {group.title!r} names {missing[0]!r}, which is not in the table",
                where=where,
            )
        members = [known[name] for name in group.levels]
        if len({(one.medium, one.analyte) for one in members}) > 1:
            raise LevelError(f"disagreement {group.title!r} mixes things measured", where=where)
        groups.append(_disagreement(group, members))
    return tuple(known.values()), tuple(groups)


def _level(record: _LevelRecord, *, where: str) -> ActionLevel:
    try:
        unit = parse_unit(record.unit)
    except SiteError as error:
        raise LevelError(error.message, where=f"{where}, {record.name}", todo=error.todo) from None
    if unit.factor is None:
        raise LevelError(
            f"{unit.symbol} depends on the temperature", where=f"{where}, {record.name}"
        )
    return ActionLevel(
        name=record.name,
        value=record.value,
        unit=unit.symbol,
        medium=unit.medium,
        concentration=record.value * unit.factor,
        averaging=record.averaging,
        height=record.height,
        scenario=record.scenario,
        kind=record.kind,
        uses=record.uses,
        source=record.source,
        year=record.year,
        from_memory=record.from_memory,
        analyte=record.analyte,
    )


def _disagreement(record: _DisagreementRecord, group: list[ActionLevel]) -> Disagreement:
    low = min(level.concentration for level in group)
    high = max(level.concentration for level in group)
    return Disagreement(
        title=record.title,
        lowest=low,
        highest=high,
        unit=COMPUTING_UNIT[group[0].medium],
        ratio=high / low,
        lowest_by=tuple(level.name for level in group if level.concentration == low),
        highest_by=tuple(level.name for level in group if level.concentration == high),
        levels=tuple(level.name for level in group),
        from_memory=tuple(level.name for level in group if level.from_memory),
        note=record.note,
    )
