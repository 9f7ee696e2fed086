"""The table of named clearance rules (clearance_rules.toml), checked when it is read."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from hgmap.errors import SiteError
from hgmap.site.rule_file import parse_rule_file

Test = Literal["every reading", "mean", "ucl", "utl", "map"]


class Guard(BaseModel):
    """The Chebyshev limit that has to be below as well, because it asks for no distribution.

    Attributes
    ----------
    few : int
        Readings below which ``few_confidence`` counts, else ``confidence``.
    confidence, few_confidence : float
    least_scatter : float
        Share of the mean that the sd of one reading is taken at if it is lower: few readings that
        agree do not show that a room is even.
    source : str
    """

    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)

    few: int = Field(ge=1)
    confidence: float = Field(ge=0.95, lt=1.0)
    few_confidence: float = Field(ge=0.95, lt=1.0)
    least_scatter: float = Field(ge=0.0, le=10.0)
    source: str

    @model_validator(mode="after")
    def _few_are_trusted_less(self) -> Guard:
        if self.few_confidence < self.confidence:
            raise ValueError("few_confidence is below confidence: fewer readings would do more")
        return self

    def confidence_of(self, n: int) -> float:
        """Return the confidence that so many readings have to hold."""
        return self.few_confidence if n < self.few else self.confidence


class ClearanceRule(BaseModel):
    """One named rule.

    Attributes
    ----------
    name, title : str
    test : {"every reading", "mean", "ucl", "utl", "map"}
        What is held against the level.
    least : int
        Readings below which it says nothing; ``least_source`` says who asks for them.
    single_factor : float or None
        How many times the level a single reading may be (``mean`` only).
    probability : float or None
        That nowhere is above (``map`` only).
    guard : Guard or None
        What the limit of a mean has to hold besides the method that its distribution asks for
        (``ucl`` only).
    fails_from : int or None
        Readings from which an estimate above the level does not meet; None: ``least``.
    laboratory : {"room"} or None
        Whether a laboratory sample below the level has to stand in every room.
    again_after_h : float or None
        Hours between this round and another clearance round that has to be below as well.
    laboratory_source, again_source : str or None
        Who asks for them.
    source : str
    from_memory : bool
    cannot_see : str
        What a room may hide while the rule is met.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)

    name: str = Field(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$")
    title: str
    test: Test
    least: int = Field(ge=1)
    least_source: str
    single_factor: float | None = Field(default=None, ge=1.0, allow_inf_nan=False)
    probability: float | None = Field(default=None, gt=0.5, lt=1.0)
    guard: Guard | None = None
    fails_from: int | None = Field(default=None, ge=1)
    laboratory: Literal["room"] | None = None
    laboratory_source: str | None = None
    again_after_h: float | None = Field(default=None, gt=0.0, allow_inf_nan=False)
    again_source: str | None = None
    source: str
    from_memory: bool
    cannot_see: str

    @model_validator(mode="after")
    def _has_what_its_test_needs(self) -> ClearanceRule:
        if (self.single_factor is not None) != (self.test == "mean"):
            raise ValueError("single_factor belongs to the test 'mean', and it needs one")
        if (self.probability is not None) != (self.test == "map"):
            raise ValueError("probability belongs to the test 'map', and it needs one")
        if (self.guard is not None) != (self.test == "ucl"):
            raise ValueError("guard belongs to the test 'ucl', and it needs one")
        if self.fails_from is not None and self.fails_from > self.least:
            raise ValueError("fails_from is more than least: a room could meet before it can fail")
        for key in ("laboratory", "again_after_h"):
            source = f"{key.removesuffix('_after_h')}_source"
            if (getattr(self, key) is None) != (getattr(self, source) is None):
                raise ValueError(f"{key} needs its {source}, and the other way round")
        return self


class _RuleFile(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    rule: tuple[ClearanceRule, ...] = Field(min_length=1)


def parse_rules(text: str, *, where: str) -> tuple[ClearanceRule, ...]:
    """Read a table of rules.

    Raises
    ------
    SiteError
        If the text is not TOML, a rule lacks a key or has one too many, or a name stands twice.
    """
    rules = parse_rule_file(text, _RuleFile, where=where).rule
    seen: set[str] = set()
    for rule in rules:
        if rule.name in seen:
            raise SiteError(f"rule {rule.name!r} stands twice", where=where, todo="keep one")
        seen.add(rule.name)
    return rules


@cache
def clearance_rules() -> tuple[ClearanceRule, ...]:
    """Return the rules that come with the tool, in the order of their file."""
    name = "clearance_rules.toml"
    text = resources.files("hgmap.decide.clearance").joinpath(name).read_text(encoding="utf-8")
    return parse_rules(text, where=name)


def find_rule(name: str) -> ClearanceRule:
    """Return the rule of that name.

    Raises
    ------
    SiteError
        If there is none; the names are listed.
    """
    for rule in clearance_rules():
        if rule.name == name:
            return rule
    names = ", ".join(rule.name for rule in clearance_rules())
    raise SiteError(f"no clearance rule {name!r}", todo=f"take one of {names}")
