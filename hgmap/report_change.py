"""What a report says of another round: the comparison of the two, or why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from hgmap.compare import Comparison, compare_read_site
from hgmap.errors import HgmapError, SiteError
from hgmap.floor_map import MapOptions
from hgmap.map_case import MapCase
from hgmap.report.document.survey import SurveyChange
from hgmap.site.building import Floor
from hgmap.site.model import Round, Site


def check_since(site: Site, round_: Round, since: str) -> Round:
    """Return the round that one is compared with, before anything is mapped for it.

    Raises
    ------
    HgmapError
        If the site has no such round, or it is the round of the report.
    """
    found = site.round(since)
    if found is None:
        names = ", ".join(one.name for one in site.rounds) or "none"
        raise SiteError(f"no round {since!r}", where="--since", todo=f"known: {names}")
    if found.name == round_.name:
        raise SiteError(
            f"round {since!r} is the round of the report itself", where="--since",
            todo="name an earlier round, or report on a later one",
        )  # fmt: skip
    return found


def change_since(
    as_read: Site, case: MapCase, options: MapOptions, since: str, floors: Sequence[Floor]
) -> SurveyChange:
    """Compare the round of a report with another, at the level and the height of its maps.

    Only the floors of the report are compared. A comparison that cannot be made costs no report:
    it says why.
    """
    round_ = check_since(case.site, case.round, since)
    asked = replace(
        options, height_band=case.band or None, floors=tuple(one.name for one in floors)
    )  # fmt: skip
    try:
        found = compare_read_site(as_read, since, case.round.name, asked)
    except HgmapError as error:
        return SurveyChange(round_, why_none=str(error))
    return SurveyChange(
        found.before, tuple(zip(found.floors, found.sheets, strict=True)), found.failed,
        found.warnings, _notes(found), found.exit_code != 0,
    )  # fmt: skip


def _notes(found: Comparison) -> tuple[str, ...]:
    return tuple(dict.fromkeys(found.notes))
