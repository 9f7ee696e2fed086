"""The rules that zones are made by: the site's own, or those asked for on the command line."""

from __future__ import annotations

import math
from dataclasses import replace

from hgmap.errors import SiteError
from hgmap.site.model import MapSettings, Problem, Site
from hgmap.site.warnings import MOST_CLEAR_AT, MOST_REMEDIATE_AT, lax_rules


def with_rules(
    site: Site,
    *,
    remediate_at: float | None = None,
    clear_at: float | None = None,
    whole_rooms: bool = False,
) -> Site:
    """Return the site with other rules in place of its own; None leaves a rule as it is.

    Parameters
    ----------
    site : Site
    remediate_at, clear_at : float, optional
        Probabilities of being above the level.
    whole_rooms : bool
        Give each room its worst zone.

    Raises
    ------
    SiteError
        If they contradict each other or are laxer than a site may set them.
    """
    if remediate_at is None and clear_at is None and not whole_rooms:
        return site
    settings = site.settings
    for option, value, most in (
        ("--remediate-at", remediate_at, MOST_REMEDIATE_AT),
        ("--clear-at", clear_at, MOST_CLEAR_AT),
    ):
        if value is not None and not (math.isfinite(value) and 0.0 < value <= most):
            raise SiteError(
                f"{value:g} cannot be used", where=option,
                todo=f"give a probability above 0 and at most {most:g}",
            )  # fmt: skip
    asked = replace(
        settings,
        remediate_at=settings.remediate_at if remediate_at is None else remediate_at,
        clear_at=settings.clear_at if clear_at is None else clear_at,
        zones="whole rooms" if whole_rooms else settings.zones,
    )
    if asked.clear_at >= asked.remediate_at:
        raise SiteError(
            f"clear_at {asked.clear_at:g} is not below remediate_at {asked.remediate_at:g}",
            where="--clear-at" if clear_at is not None else "--remediate-at",
            todo="ground cannot be clear and to remediate at once",
        )
    known = set(lax_rules(settings))
    lax = [
        Problem("warning", "command line", text) for text in lax_rules(asked) if text not in known
    ]
    # what the file asks for and the command line takes back is no longer so
    gone = known - set(lax_rules(asked))
    kept = [one for one in site.problems if one.message not in gone]
    return replace(site, settings=asked, problems=(*kept, *lax))


def unusual_rules(settings: MapSettings) -> tuple[str, ...]:
    """Say which rules are other than the built-in ones and no laxer, for whoever reads a sheet.

    Those that are laxer are warnings (:func:`hgmap.site.warnings.lax_rules`).

    Examples
    --------
    >>> unusual_rules(MapSettings())
    ()
    >>> unusual_rules(MapSettings(clear_at=0.01))
    ('clear below a probability of 0.01 of being above the level, not the usual 0.05',)
    """
    usual = MapSettings()
    texts = []
    if settings.remediate_at < usual.remediate_at:
        texts.append(
            f"remediate from a probability of {settings.remediate_at:g} of being above the level, "
            f"not the usual {usual.remediate_at:g}"
        )
    if settings.clear_at < usual.clear_at:
        texts.append(
            f"clear below a probability of {settings.clear_at:g} of being above the level, not the "
            f"usual {usual.clear_at:g}"
        )
    if settings.zones == "whole rooms":
        texts.append("whole rooms: each room goes by the worst ground in it")
    elif (settings.tape_width_m, settings.tape_area_m2) != (usual.tape_width_m, usual.tape_area_m2):
        texts.append(
            f"zones are at least {settings.tape_width_m:g} m wide and clear ones "
            f"{settings.tape_area_m2:g} m², not the usual {usual.tape_width_m:g} m and "
            f"{usual.tape_area_m2:g} m²"
        )
    return tuple(texts)


def how_zones_are_cut(settings: MapSettings) -> str:
    """Say in one line how the zones of a sheet came to their edges, and where they are listed.

    Examples
    --------
    >>> how_zones_are_cut(MapSettings(tape_width_m=0.8))
    'zones are cut to be taped off: 0.8 m wide and 1 m² at least; each with its id in zones.csv'
    """
    if settings.zones == "whole rooms":
        return "each room is one zone, listed with its id in zones.csv"
    return (
        f"zones are cut to be taped off: {settings.tape_width_m:g} m wide and "
        f"{settings.tape_area_m2:g} m² at least; each with its id in zones.csv"
    )
