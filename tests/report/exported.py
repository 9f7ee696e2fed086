"""Small floors, mapped, with the facts of their run: what the tests of every format write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

from hgmap.batch import MapOptions
from hgmap.floor_map import FloorMap, map_floor
from hgmap.map_case import map_case
from hgmap.report.run_facts import RunFacts
from hgmap.site.folder import read_site
from hgmap.site.model import Site

EAST, NORTH = 600_000.0, 5_700_000.0
FRAME = f'[map_frame]\ncrs = "EPSG:25832"\norigin_x_m = {EAST}\norigin_y_m = {NORTH}\n'


class Mapped(NamedTuple):
    """A run without its files."""

    site: Site
    facts: RunFacts
    floors: tuple[FloorMap, ...]

    @property
    def one(self) -> FloorMap:
        """The first floor."""
        return self.floors[0]


def mapped(make: Callable[..., Path], folder: Path, options: Any = None, **what: Any) -> Mapped:
    """Write a site with ``make`` and map each of its floors."""
    chosen = MapOptions(cell_m=0.5, **(options or {}))
    case = map_case(read_site(make(folder, **what)), chosen)
    floors = tuple(
        map_floor(case.site, floor, case.round, case.band, case.level, chosen,
                  unfit=case.unfit, purpose=case.purpose, further=case.further)
        for floor in case.site.floors
    )  # fmt: skip
    facts = RunFacts(case.site, case.round, case.level, case.band, ("a caution of the level",),
                     case.warnings, "0.0-test")  # fmt: skip
    return Mapped(case.site, facts, floors)
