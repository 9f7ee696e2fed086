"""From a site folder to the explanation of one place on one floor's map."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from threadpoolctl import threadpool_limits

from hgmap.batch import THREADS, FloorMap, MapOptions, choose_round, map_floor
from hgmap.batch_choice import check_cell, choose_floors
from hgmap.decide.evidence import choose_band
from hgmap.decide.explain import Explanation, explain_place
from hgmap.errors import EstimateError
from hgmap.level_cases import first_level, further_levels
from hgmap.site.folder import read_site
from hgmap.site.model import ActionLevel, Round, Site
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.rules import unusual_rules, with_rules
from hgmap.site.trust import judged_site
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
    as_read = with_rules(
        read_site(folder), remediate_at=options.remediate_at, clear_at=options.clear_at,
        whole_rooms=options.whole_rooms,
    )  # fmt: skip
    level, cautions, purpose = first_level(as_read, options.level)
    site = judged_site(as_read, level)
    chosen, notes = choose_round(site, options.round)
    # the zones of the map lie inside those of its other levels: so does the one explained
    further, _ = further_levels(as_read, level, options.level, options.further_levels, chosen.name)
    band, band_notes = choose_band(site, chosen.name, options.height_band)
    floors, failed = choose_floors(site, (floor,))
    check_cell(options.cell_m)
    if not floors:
        lost = failed[0]
        raise EstimateError(lost.message, where=lost.where, todo=lost.todo)
    unfit = not_fit(quality_report(site, level, chosen.name))
    with threadpool_limits(THREADS):
        made = map_floor(
            site, floors[0], chosen, band, level, options, unfit=unfit, purpose=purpose,
            further=further,
        )  # fmt: skip
    if made.surface is None:
        raise EstimateError(
            f"no surface to explain: {made.no_surface}", where=floors[0].title,
            todo="`hgmap map` says what the readings allow",
        )  # fmt: skip
    return ExplainedPlace(
        site,
        chosen,
        band,
        level,
        made,
        explain_place(made.evidence, made.surface, made.zones, x, y),
        (*notes, *band_notes, *cautions),
        (
            *lost_readings(site, chosen.name),
            *site_warnings(site),
            *unusual_rules(site.settings),
        ),
    )
