"""What a person chose to look at: which floor, round, height, level; how it is estimated."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Choices:
    """None, or an empty text: what the site says, else what is built in."""

    floor: str = ""
    round: str = ""
    band: str | None = None
    level: str | None = None
    method: Literal["kriging", "idw"] | None = None
    walls: bool | None = None
    remediate_at: float | None = None
    clear_at: float | None = None
    zones: Literal["taped", "whole rooms"] | None = None
    views: frozenset[str] = frozenset({"readings", "zones", "estimate", "next places"})
