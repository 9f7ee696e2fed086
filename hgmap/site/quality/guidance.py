"""The table of guidances for clearance (guidance.toml), checked when it is read."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from hgmap.errors import SiteError

ConditionKey = Literal[
    "temperature_c", "hours_closed", "hours_heated", "ventilation", "windows", "occupied"
]

NAMES: Final[dict[ConditionKey, str]] = {
    "temperature_c": "temperature",
    "hours_closed": "hours closed",
    "hours_heated": "hours heated",
    "ventilation": "ventilation",
    "windows": "windows",
    "occupied": "occupied",
}
UNITS: Final[dict[ConditionKey, str]] = {
    "temperature_c": " °C", "hours_closed": " h", "hours_heated": " h",
}  # fmt: skip


class Condition(BaseModel):
    """One condition, with who says so; exactly one of the four ways to ask is used."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)

    key: ConditionKey
    at_least: float | None = Field(default=None, allow_inf_nan=False)
    at_least_occupied: Literal[True] | None = None
    is_: str | bool | None = Field(default=None, alias="is")
    stated: Literal[True] | None = None
    source: str

    @model_validator(mode="after")
    def _one_way(self) -> Condition:
        ways = (self.at_least, self.at_least_occupied, self.is_, self.stated)
        if sum(one is not None for one in ways) != 1:
            raise ValueError("one of at_least, at_least_occupied, is, stated")
        return self

    @property
    def words(self) -> str:
        """What it asks for."""
        if self.at_least is not None:
            return f"at least {self.at_least:g}{UNITS.get(self.key, '')}"
        if self.at_least_occupied:
            return "at least that of the occupied building"
        if self.stated:
            return "written down, whatever it is"
        if isinstance(self.is_, bool):
            return "yes" if self.is_ else "no"
        return str(self.is_)


class Guidance(BaseModel):
    """A named set of conditions."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_min_length=1)

    name: str = Field(pattern=r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$")
    title: str
    note: str | None = None
    condition: tuple[Condition, ...] = Field(min_length=1)


class _GuidanceFile(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    guidance: tuple[Guidance, ...]


@cache
def guidances() -> tuple[Guidance, ...]:
    """Return the guidances that a site can choose from.

    Raises
    ------
    SiteError
        If guidance.toml is not as it has to be.
    """
    text = resources.files("hgmap.site").joinpath("guidance.toml").read_text("utf-8")
    try:
        return _GuidanceFile.model_validate(tomllib.loads(text)).guidance
    except (tomllib.TOMLDecodeError, ValidationError) as error:
        raise SiteError(str(error), where="guidance.toml") from None


@cache
def disagreements() -> tuple[str, ...]:
    """Say where the guidances ask for different things.

    Examples
    --------
    >>> any(text.startswith("ventilation:") for text in disagreements())
    True
    """
    texts = []
    for key, name in NAMES.items():
        asked: dict[str, list[str]] = {}
        for one in guidances():
            for condition in one.condition:
                if condition.key == key:
                    asked.setdefault(condition.words, []).append(one.name)
        if len(asked) > 1:
            parts = (f"{words} ({', '.join(names)})" for words, names in asked.items())
            texts.append(f"{name}: {' against '.join(parts)}")
    return tuple(texts)
