"""What a run is about: which round, which floors, what cell size, and where its results go."""

from __future__ import annotations

import math
from pathlib import Path

from hgmap.errors import SiteError
from hgmap.site.building import Floor
from hgmap.site.files import slug
from hgmap.site.folder import RESULTS_FOLDER
from hgmap.site.model import Problem, Round, Site
from hgmap.site.schema import FINEST_CELL_M


def choose_round(site: Site, asked: str | None) -> tuple[Round, tuple[str, ...]]:
    """Return the round asked for, else the latest one, which is said.

    Raises
    ------
    SiteError
        If there is no round, or none of this name.
    """
    if not site.rounds:
        raise SiteError(
            "the site has no round", where="site.toml", todo="add [[rounds]] with a readings file"
        )
    if asked is not None:
        found = site.round(asked)
        if found is None:
            names = ", ".join(one.name for one in site.rounds)
            raise SiteError(f"no round {asked!r}", where="--round", todo=f"known: {names}")
        return found, ()
    if len(site.rounds) == 1:
        return site.rounds[0], ()
    dated = [(one.date, one) for one in site.rounds if one.date is not None]
    if len(dated) == len(site.rounds):
        latest = max(dated, key=lambda pair: pair[0])[1]
        return latest, (f"round not stated: {latest.name!r} is the latest",)
    last = site.rounds[-1]
    return last, (f"round not stated and not all are dated: {last.name!r} is the last listed",)


def choose_floors(site: Site, asked: tuple[str, ...]) -> tuple[list[Floor], list[Problem]]:
    """Return the floors asked for, by name or title, else all; and those of them that are lost.

    Raises
    ------
    SiteError
        If there is no floor, or none of a name asked for.
    """
    failed = [one for one in site.problems if one.severity == "error" and one.floor]
    if not asked:
        if not site.floors and not failed:
            raise SiteError(
                "the site has no floor",
                where="site.toml",
                todo="`hgmap import plan FILE --into SITE --floor NAME` adds one",
            )
        return list(site.floors), failed
    lost = {one.floor for one in failed}
    floors = []
    for name in dict.fromkeys(asked):
        floor = next((f for f in site.floors if name in (f.name, f.title)), None)
        if floor is not None:
            if floor not in floors:
                floors.append(floor)
        elif name not in lost:
            names = ", ".join(one.name for one in site.floors)
            raise SiteError(f"no floor {name!r}", where="--floor", todo=f"known: {names}")
    return floors, [one for one in failed if one.floor in asked]


def check_cell(cell_m: float | None) -> None:
    """Refuse a cell size (m) that cannot be."""
    if cell_m is not None and not (math.isfinite(cell_m) and cell_m >= FINEST_CELL_M):
        raise SiteError(
            f"a cell of {cell_m:g} m cannot be used",
            where="--cell",
            todo=f"give {FINEST_CELL_M:g} m or more",
        )


def results_folder(site: Site, round_: Round, only: list[Floor]) -> Path:
    """Return the folder of a run; one of a few floors never writes over that of the whole site."""
    names = [slug(round_.name), *(slug(floor.name) for floor in only)]
    return site.folder / RESULTS_FOLDER / "-".join(names)[:200]
