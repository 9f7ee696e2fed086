"""Small invented surveys: ``survey`` puts rooms, openings and readings together."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from shapely import LineString, Polygon, box

from hgmap.decide.evidence import gather_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.field.posterior import Posterior
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface
from hgmap.field.validate import Scores
from hgmap.field.variogram import Variogram
from hgmap.site.building import Floor, HeightBand, Opening, Room
from hgmap.site.model import (
    ActionLevel,
    MapSettings,
    Medium,
    Round,
    Site,
    TitleBlock,
)
from hgmap.site.reading import Reading

BANDS = (
    HeightBand("floor", 0.0, 0.3, breathing=False),
    HeightBand("child", 0.5, 1.0),
    HeightBand("adult", 1.2, 1.8),
)


def _level(concentration: float = 1.0) -> ActionLevel:
    return ActionLevel(
        name="invented",
        value=concentration,
        unit="µg/m³",
        medium="air",
        concentration=concentration,
        averaging="8 h",
        height="breathing zone",
        scenario="invented",
        kind="stated",
        uses=(),
        source="invented",
        year=2026,
    )


def _reading(
    name: str,
    room: str,
    xy: tuple[float, float] | None,
    value: float | None,
    qualifier: str = "",
    *,
    height_m: float | None = 1.5,
    held: tuple[str, ...] = (),
    round_name: str = "first",
    floor: str = "ground",
    unit: str = "µg/m³",
    concentration: float | None = None,
) -> Reading:
    band = next((b.name for b in BANDS if height_m is not None and b.holds(height_m)), "elsewhere")
    return Reading(
        id=name,
        round=round_name,
        floor=floor,
        room=room,
        x=None if xy is None else xy[0],
        y=None if xy is None else xy[1],
        height_m=height_m,
        time=None,
        value=value,
        unit=unit,
        qualifier=qualifier,  # type: ignore[arg-type]
        note="",
        concentration=value if concentration is None else concentration,
        band=band,
        placed="" if xy is None else "given",
        where=f"invented.csv, row {name}",
        held=held,
    )


def _floor(
    rooms: Sequence[Room | tuple[float, float, float, float]], joined: Sequence[Any] = ()
) -> Floor:
    """Rooms, or boxes that become rooms r0, r1, ...; ``joined`` holds pairs of room ids."""
    made = tuple(
        room if isinstance(room, Room) else Room(f"r{k}", f"Room {k}", box(*room))
        for k, room in enumerate(rooms)
    )
    openings = tuple(
        Opening(f"d{k}", LineString([(0, 0), (1, 0)]), "open", tuple(pair))
        for k, pair in enumerate(joined)
    )
    return Floor("ground", "Ground floor", made, openings=openings)


def _site(floor: Floor, readings: Sequence[Reading], *, medium: Medium = "air", **changed: Any
          ) -> Site:  # fmt: skip
    return Site(
        folder=Path(),
        name="invented",
        analyte="mercury",
        medium=medium,
        use=None,
        invented=True,
        level=None,
        floors=(floor,),
        rounds=(Round("first", "First", date(2026, 3, 2), ()),),
        height_bands=BANDS if medium == "air" else (),
        readings=tuple(readings),
        settings=MapSettings(**changed),
        title_block=TitleBlock(),
        problems=(),
    )


def _survey(
    floor: Floor, readings: Sequence[Reading], *, above: float = 1.0, band: str = "adult"
) -> FloorEvidence:
    return gather_evidence(_site(floor, readings), floor, "first", band, _level(above))


def _surface(
    floor: Floor,
    mean: Callable[[NDArray[np.float64], NDArray[np.float64]], Any],
    sd: float = 1.0,
    *,
    cell_m: float = 0.25,
    variogram: Variogram | None = None,
    xy: Any = (),
) -> Surface:
    """A surface laid down, not estimated; log scale, normal error."""
    raster = Raster.over(floor, cell_m)
    x, y = raster.points().T
    return Surface(
        raster=raster,
        mean=raster.spread(np.broadcast_to(np.asarray(mean(x, y), dtype=float), x.shape).copy()),
        sd=raster.spread(np.full(len(x), sd)),
        scale="log",
        method="idw" if variogram is None else "kriging",
        xy=np.array(xy, dtype=float).reshape(-1, 2),
        values=np.zeros(len(xy)),
        degrees_of_freedom=10**9,
        variogram=variogram,
        scores=Scores(0, 0.0, 0.0, None, None, np.empty(0)),
        posterior=_posterior(xy, variogram),
    )


def _posterior(xy: Any, variogram: Variogram | None) -> Posterior | None:
    places = np.array(xy, dtype=float).reshape(-1, 2)
    return Posterior(places, variogram) if variogram is not None and len(places) else None


@pytest.fixture(scope="session")
def make_level() -> Callable[..., ActionLevel]:
    return _level


@pytest.fixture(scope="session")
def make_reading() -> Callable[..., Reading]:
    return _reading


@pytest.fixture(scope="session")
def make_floor() -> Callable[..., Floor]:
    return _floor


@pytest.fixture(scope="session")
def make_survey_site() -> Callable[..., Site]:
    return _site


@pytest.fixture(scope="session")
def survey() -> Callable[..., FloorEvidence]:
    return _survey


@pytest.fixture(scope="session")
def lay() -> Callable[..., Surface]:
    return _surface


@pytest.fixture(scope="session")
def l_room() -> Polygon:
    return Polygon([(0, 0), (10, 0), (10, 4), (5, 4), (5, 8), (0, 8)])
