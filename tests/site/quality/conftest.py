"""Readings and sites made in one line, for the tests of the quality record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import shapely

from hgmap.site.building import Floor, HeightBand, Room
from hgmap.site.levels import choose_level
from hgmap.site.model import ActionLevel, MapSettings, Round, Site, TitleBlock
from hgmap.site.reading import Reading

PLAIN = Reading(
    id="R1", round="first", floor="ground", room="A", x=1.0, y=1.0, height_m=1.5,
    time=datetime(2026, 3, 2, 9, 0), value=1.0, unit="µg/m³", qualifier="", note="",
    concentration=1.0, band="adult breathing", placed="given", where="readings/first.csv, row 2",
)  # fmt: skip


def _reading(identifier: str = "R1", value: float | None = 1.0, **other: Any) -> Reading:
    return PLAIN._replace(**{"id": identifier, "value": value, "concentration": value} | other)


@pytest.fixture(scope="session")
def reading() -> Callable[..., Reading]:
    """Return a function from an id, a value (µg/m³) and fields to a reading in room A."""
    return _reading


@pytest.fixture(scope="session")
def site() -> Callable[..., Site]:
    """Return a function from readings and fields to a site: one floor, rooms A and B, a round."""

    def make(*readings: Reading, **other: Any) -> Site:
        rooms = (
            Room("A", "Hall", shapely.box(0, 0, 6, 5)),
            Room("B", "Store", shapely.box(6, 0, 12, 5)),
        )
        plain = Site(
            folder=Path("nowhere"), name="Test building (invented)",
            analyte="elemental mercury vapour", medium="air", use="commercial", invented=True,
            level=None, floors=(Floor("ground", "Ground floor", rooms),),
            rounds=(Round("first", "First", None, ()),),
            height_bands=(HeightBand("source search", 0.0, 0.1, breathing=False),
                          HeightBand("adult breathing", 0.9, 1.8)),
            readings=readings, settings=MapSettings(), title_block=TitleBlock(), problems=(),
        )  # fmt: skip
        return replace(plain, **other)

    return make


@pytest.fixture(scope="session")
def level() -> ActionLevel:
    """Return a published level of 3 µg/m³."""
    return choose_level(
        "atsdr-commercial-occupancy", medium="air", use="commercial",
        analyte="elemental mercury vapour",
    )  # fmt: skip
