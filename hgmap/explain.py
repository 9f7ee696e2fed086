"""From a site folder to the explanation of one place on one floor's map."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS, FloorMap, MapOptions, map_floor
from hgmap.batch_choice import choose_floors
from hgmap.decide.explain import Explanation, explain_place
from hgmap.errors import EstimateError
from hgmap.map_case import map_case
from hgmap.site.folder import read_site
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.warnings import lost_readings, site_warnings


@dataclass(frozen=True)
class ExplainedPlace:
    """One place explained, with the map that it is of."""

    site: Site
    round: Round
    band: str
    level: ActionLevel
    floor_map: FloorMap
    explanation: Explanation
    notes: tuple[str, ...]
    warnings: tuple[str, ...]


def explain_site(
    folder: Path | str, floor: str, x: float, y: float, options: MapOptions | None = None
) -> ExplainedPlace:
    """Map one floor and explain one place of it; writes nothing.

    Parameters
    ----------
    folder : path
        The site folder.
    floor : str
        Name or title.
    x, y : float
        Place (m, the floor's frame).
    options : MapOptions, optional
        As for the map; its floors are not looked at.

    Raises
    ------
    HgmapError
        If there is no such floor, round or level, no surface, or the place is in no room.
    """
    options = options or MapOptions()
    case = map_case(read_site(folder), options)
    floors, failed = choose_floors(case.site, (floor,))
    if not floors:
        lost = failed[0]
        raise EstimateError(lost.message, where=lost.where, todo=lost.todo)
    with threadpool_limits(THREADS):
        made = map_floor(
            case.site, floors[0], case.round, case.band, case.level, options, unfit=case.unfit,
            purpose=case.purpose, further=case.further,
        )  # fmt: skip
    if made.surface is None:
        raise EstimateError(
            f"no surface to explain: {made.no_surface}", where=floors[0].title,
            todo="`hgmap map` says what the readings allow",
        )  # fmt: skip
    return ExplainedPlace(
        case.site,
        case.round,
        case.band,
        case.level,
        made,
        explain_place(made.evidence, made.surface, made.zones, x, y),
        (*case.notes, *case.cautions),
        (
            *lost_readings(case.site, case.round.name),
            *site_warnings(case.site),
            *case.unusual,
        ),
    )
