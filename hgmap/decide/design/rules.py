"""The rules of a sampling design (design_rules.toml), checked when they are read."""

from __future__ import annotations

import math
from functools import cache
from importlib import resources
from typing import Final, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

from hgmap.errors import SiteError
from hgmap.site.model import Use
from hgmap.site.rule_file import parse_rule_file

FILE: Final = "design_rules.toml"


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)


class WallRule(_Record):
    """How far from a wall a place lies (m)."""

    margin_m: float = Field(ge=0, allow_inf_nan=False)
    source: str


class MinimumRule(_Record):
    """One place for each so many square metres of a room, in buildings of these uses."""

    uses: tuple[Use, ...] = Field(min_length=1)
    area_for_a_place_m2: float = Field(gt=0, allow_inf_nan=False)
    source: str


class HeightRule(_Record):
    """A height (m above the floor) to read at, at every place or once a room."""

    name: str
    kind: Literal["reading", "source search"]
    height_m: float = Field(ge=0, allow_inf_nan=False)
    every: Literal["place", "room"]
    uses: tuple[Use, ...] = Field(min_length=1)
    source: str


class BackgroundRule(_Record):
    """When outdoor readings are taken."""

    starts: tuple[Literal["start", "end"], ...]
    source: str


class BlankRule(_Record):
    """How many field blanks go with a set of samples."""

    count: int = Field(ge=0)
    source: str


class DuplicateRule(_Record):
    """One reading in so many is taken twice."""

    one_in: int = Field(ge=1)
    source: str


class DesignRules(_Record):
    """All rules of a design; each says who says so in ``source``."""

    walls: WallRule
    minimum: tuple[MinimumRule, ...] = Field(min_length=1)
    height: tuple[HeightRule, ...] = Field(min_length=1)
    background: BackgroundRule
    field_blank: BlankRule
    duplicate: DuplicateRule

    def places_in(self, area_m2: float, use: Use | None) -> tuple[int, MinimumRule]:
        """Return the fewest places of a room of this area (m²), and the rule that asks for them.

        Where the use is not known, the rule that asks for most.
        """
        own = [one for one in self.minimum if use is None or use in one.uses]
        rule = min(own, key=lambda one: one.area_for_a_place_m2)
        return max(1, math.ceil(area_m2 / rule.area_for_a_place_m2 - 1e-9)), rule

    def heights_for(self, use: Use | None) -> tuple[HeightRule, ...]:
        """Return the heights to read at in a building of this use; all where it is not known."""
        return tuple(one for one in self.height if use is None or use in one.uses)


@cache
def load_design_rules() -> DesignRules:
    """Return the rules that come with hgmap."""
    text = resources.files("hgmap.decide.design").joinpath(FILE).read_text(encoding="utf-8")
    return parse_design_rules(text, where=FILE)


def parse_design_rules(text: str, *, where: str) -> DesignRules:
    """Read a file of rules.

    Raises
    ------
    SiteError
        If the text is not TOML, a record lacks a key or has one too many, a number is out of its
        range, a use has no minimum or two, no height to breathe at, or a height stands twice.
    """
    rules = parse_rule_file(text, DesignRules, where=where)
    names = [one.name for one in rules.height]
    if len(set(names)) < len(names):
        raise SiteError("a height stands twice", where=where, todo="keep one")
    for use in get_args(Use):
        count = sum(use in one.uses for one in rules.minimum)
        if count != 1:
            raise SiteError(
                f"{count} minimums hold for {use!r}", where=where, todo="give each use one"
            )
        if not any(
            use in one.uses and one.kind == "reading" and one.every == "place"
            for one in rules.height
        ):
            raise SiteError(
                f"no height of a reading at every place for {use!r}", where=where, todo="give one"
            )
    return rules
