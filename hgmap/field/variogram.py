"""Placeholder replaced below in this session."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Variogram:
    """A fitted variogram model."""

    model: str
    nugget: float
    psill: float
    range_m: float
