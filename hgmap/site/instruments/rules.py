"""The rules for analysers (instrument_rules.toml), checked when they are read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field

from hgmap.errors import SiteError
from hgmap.site.instruments.model import Principle
from hgmap.site.reading import Finding
from hgmap.site.rule_file import parse_rule_file

FILE: Final = "instrument_rules.toml"

_NUMBERS: Final[dict[str, frozenset[str]]] = {
    "regeneration-before-use": frozenset(),
    "regeneration-at-end": frozenset({"minutes_to_closing"}),
    "regeneration-length": frozenset({"minutes", "tolerance_minutes"}),
    "regeneration-failed": frozenset({"least_minutes"}),
    "zero-after-regeneration": frozenset({"samples", "spacing_s", "zeros", "rise_ug_m3"}),
    "warm-up": frozenset({"minutes"}),
    "saturation": frozenset(),
    "zero-before-use": frozenset({"of_level", "without_level_ug_m3"}),
    "memory": frozenset({"of_level", "without_level_ug_m3"}),
    "zero-offset": frozenset({"of_level", "without_level_ug_m3"}),
    "zero-drift": frozenset({"of_level", "without_level_ug_m3"}),
    "span-error": frozenset({"relative"}),
    "span-drift": frozenset({"relative"}),
    "no-span-check": frozenset(),
    "closing-check": frozenset(),
    "bracket": frozenset(),
    "certificate": frozenset({"months"}),
    "battery": frozenset(),
    "control-point": frozenset(),
    "during-check": frozenset(),
}
"""Every rule that the code knows, with the numbers it needs."""

_OPTIONAL: Final[dict[str, frozenset[str]]] = {"warm-up": frozenset({"below_level_ug_m3"})}

EVERY_PRINCIPLE: Final = (
    "zero-offset",
    "zero-drift",
    "span-error",
    "span-drift",
    "no-span-check",
    "closing-check",
    "bracket",
    "certificate",
    "battery",
    "control-point",
    "during-check",
)
"""Rules that no principle may go without."""

_OF_ONE: Final[dict[Principle, tuple[str, ...]]] = {
    "gold film": (
        "regeneration-before-use",
        "regeneration-at-end",
        "regeneration-length",
        "regeneration-failed",
        "zero-after-regeneration",
        "warm-up",
        "saturation",
    ),
    "atomic absorption": ("warm-up", "zero-before-use", "memory"),
    "atomic fluorescence": ("warm-up", "zero-before-use", "memory"),
}


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)


class _RuleRecord(_Record):
    key: str
    principles: tuple[Principle, ...] = Field(min_length=1)
    then: Literal["hold", "caution"]
    says: str
    source: str
    numbers: dict[str, float] = Field(default_factory=dict)


class _RuleFile(_Record):
    rule: tuple[_RuleRecord, ...]


@dataclass(frozen=True, slots=True)
class Rule:
    """What is asked of an analyser.

    Attributes
    ----------
    key : str
        To count by.
    then : {"hold", "caution"}
        What it does to the readings that it touches.
    says, source : str
        What it asks for, and who says so.
    numbers : mapping
        Minutes, seconds, µg/m³ or fractions, by name.
    """

    key: str
    then: Literal["hold", "caution"]
    says: str
    source: str
    numbers: Mapping[str, float]

    def finding(self, message: str, rows: tuple[str, ...] = ()) -> Finding:
        """Return what this rule says against a reading."""
        return Finding(self.then, self.key, message, rows)


@dataclass(frozen=True, slots=True)
class InstrumentRules:
    """The rules of each principle, by key."""

    by_principle: Mapping[Principle, Mapping[str, Rule]]

    def of(self, principle: Principle) -> Mapping[str, Rule]:
        """Return the rules of one principle, by key."""
        return self.by_principle[principle]


@cache
def load_rules() -> InstrumentRules:
    """Return the rules that come with hgmap."""
    text = resources.files("hgmap.site").joinpath(FILE).read_text(encoding="utf-8")
    return parse_rules(text, where=FILE)


def parse_rules(text: str, *, where: str) -> InstrumentRules:
    """Read a file of rules.

    Raises
    ------
    SiteError
        If the text is not TOML, a record lacks a key or has one too many, a rule is unknown or
        stands twice for a principle, a number is missing, unknown, negative or not finite, or a
        principle lacks a rule.
    """
    raw = parse_rule_file(text, _RuleFile, where=where)
    found: dict[Principle, dict[str, Rule]] = {one: {} for one in _OF_ONE}
    for record in raw.rule:
        _check_numbers(record, where=where)
        rule = Rule(
            record.key,
            record.then,
            record.says,
            record.source,
            MappingProxyType(dict(record.numbers)),
        )
        for principle in record.principles:
            if record.key in found[principle]:
                raise SiteError(
                    f"rule {record.key!r} stands twice for {principle}",
                    where=where,
                    todo="keep one",
                )
            found[principle][record.key] = rule
    for principle, own in _OF_ONE.items():
        missing = [key for key in (*own, *EVERY_PRINCIPLE) if key not in found[principle]]
        if missing:
            raise SiteError(f"{principle} lacks the rule {missing[0]!r}", where=where)
        extra = [key for key in found[principle] if key not in (*own, *EVERY_PRINCIPLE)]
        if extra:
            raise SiteError(f"rule {extra[0]!r} does not apply to {principle}", where=where)
    return InstrumentRules(
        MappingProxyType({one: MappingProxyType(rules) for one, rules in found.items()})
    )


def _check_numbers(record: _RuleRecord, *, where: str) -> None:
    where = f"{where}, {record.key}"
    if record.key not in _NUMBERS:
        raise SiteError("no such rule", where=where, todo=f"known rules: {', '.join(_NUMBERS)}")
    needed = _NUMBERS[record.key]
    missing = sorted(needed - record.numbers.keys())
    if missing:
        raise SiteError(f"needs the number {missing[0]!r}", where=where)
    extra = sorted(record.numbers.keys() - needed - _OPTIONAL.get(record.key, frozenset()))
    if extra:
        raise SiteError(f"number {extra[0]!r} is not read", where=where)
    for name, number in record.numbers.items():
        if not 0 <= number < float("inf"):
            raise SiteError(f"{name} = {number:g} cannot be", where=where)
