"""What lowers the trust in every map of a site: rules laxer than ours, readings that are lost."""

from __future__ import annotations

from typing import Final

from hgmap.errors import one_line
from hgmap.site.model import MapSettings, Site

MOST_CLEAR_AT: Final = 0.2
MOST_REMEDIATE_AT: Final = 0.8
LEAST_GUARD_M: Final = 0.5
"""A site may not set its rules laxer than these: limits of ours, no source."""


def lax_rules(settings: MapSettings) -> tuple[str, ...]:
    """Say which rules of a site are laxer than the built-in ones, and what that lets through.

    Examples
    --------
    >>> lax_rules(MapSettings())
    ()
    >>> lax_rules(MapSettings(guard_m=1.0))[0].split(":")[0]
    'guard_m 1 is laxer than the built-in 1.5'
    """
    ours = MapSettings()
    texts = []
    if settings.clear_at > ours.clear_at:
        texts.append(
            f"clear_at {settings.clear_at:g} is laxer than the built-in {ours.clear_at:g}: ground "
            f"with a chance of up to {settings.clear_at:.3g} of being above the level is called "
            "clear"
        )
    if settings.remediate_at > ours.remediate_at:
        texts.append(
            f"remediate_at {settings.remediate_at:g} is laxer than the built-in "
            f"{ours.remediate_at:g}: ground that is more likely above the level than not is left "
            "to resample"
        )
    if settings.guard_m < ours.guard_m:
        texts.append(
            f"guard_m {settings.guard_m:g} is laxer than the built-in {ours.guard_m:g}: ground "
            f"{settings.guard_m:g} m from a reading in doubt may be called clear"
        )
    return tuple(texts)


def site_warnings(site: Site) -> tuple[str, ...]:
    """Return the warnings that hold for every map of a site, each as one line."""
    return tuple(
        one_line(one.message, where=one.where) for one in site.problems if one.severity == "warning"
    )


def lost_readings(site: Site, round_name: str) -> tuple[str, ...]:
    """Say which files of a round could not be read: what they hold may lie above the level."""
    return tuple(
        f"a readings file of this round could not be read "
        f"({one_line(one.message, where=one.where)}): nothing is clear until it can be"
        for one in site.problems
        if one.severity == "error" and not one.floor and one.round == round_name
    )
