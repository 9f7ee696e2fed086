"""The levels of a run beyond its first: which they are, and the site as it is judged by each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hgmap.errors import LevelError
from hgmap.floor_ruling import LevelCase
from hgmap.site.level_in_force import level_in_force
from hgmap.site.levels import only_background
from hgmap.site.model import ActionLevel, Site
from hgmap.site.quality.quality import not_fit, quality_report
from hgmap.site.trust import judged_site

_SAME: Final = 1e-9
_MOST_PURPOSE: Final = 60
MOST_LEVELS: Final = 4


def purpose_and_level(text: str) -> tuple[str, str]:
    """Split ``PURPOSE=LEVEL``; a level alone has no purpose.

    Examples
    --------
    >>> purpose_and_level("isolate = 10 ug/m3"), purpose_and_level("10 ug/m3")
    (('isolate', '10 ug/m3'), ('', '10 ug/m3'))
    """
    purpose, equals, level = text.partition("=")
    return (purpose.strip()[:_MOST_PURPOSE], level.strip()) if equals else ("", text)


def first_level(site: Site, asked: str | None) -> tuple[ActionLevel, tuple[str, ...], str]:
    """Return the level that a run goes by, the cautions with it, and what it is for."""
    if asked is None:
        level, cautions = level_in_force(site, None)
        return level, cautions, (site.level.purpose if site.level else None) or ""
    purpose, text = purpose_and_level(asked)
    return *level_in_force(site, text), purpose


def further_levels(
    site: Site, first: ActionLevel, asked: str | None, further: Sequence[str], round_name: str
) -> tuple[tuple[LevelCase, ...], tuple[str, ...]]:
    """Return the other levels that zones are made for, and the cautions that go with them.

    Parameters
    ----------
    site : Site
        As it was read; not judged.
    first : ActionLevel
        The level that the run goes by.
    asked : str or None
        What the user asked that to be: then ``further`` holds, else what the site says.
    further : sequence of str
        ``LEVEL`` or ``PURPOSE=LEVEL``.
    round_name : str
        Whose readings have to be fit.

    Raises
    ------
    LevelError
        If one is no level of this site, or two are equal or for the same.
    """
    wanted = [("--level", *purpose_and_level(text)) for text in further]
    if asked is None and not further:
        wanted = [
            (f"site.toml, [[nested_levels]] {one.name!r}", one.name, one.level)
            for one in site.nested_levels
        ]
    if len(wanted) >= MOST_LEVELS:
        raise LevelError(
            f"{len(wanted) + 1} levels", where=wanted[0][0].split(" '")[0],
            todo=f"give at most {MOST_LEVELS} in all: a sheet shows no more of them apart",
        )  # fmt: skip
    purposes = [purpose_and_level(asked)[0] if asked else "", *(one for _, one, _ in wanted)]
    twice = [one for k, one in enumerate(purposes) if one and one in purposes[:k]]
    if twice:
        raise LevelError(
            f"two levels are for {twice[0]!r}", where=wanted[0][0].split(" '")[0],
            todo="nobody could tell their zones apart; name one of them otherwise",
        )  # fmt: skip
    known = [("the level of the run", first)]
    cases, cautions = [], list[str]()
    for where, purpose, text in wanted:
        try:
            level, of_level = level_in_force(site, text)
        except LevelError as error:
            raise LevelError(error.message, where=where, todo=error.todo) from None
        for other, one in known:
            if abs(one.concentration - level.concentration) <= _SAME * level.concentration:
                raise LevelError(
                    f"{text!r} equals {other} ({one.value:g} {one.unit})", where=where,
                    todo="zones of two levels need two different levels",
                )  # fmt: skip
        known.append((repr(text), level))
        judged = judged_site(site, level)
        cases.append(
            LevelCase(judged, level, not_fit(quality_report(judged, level, round_name)), purpose)
        )
        said = f"{purpose or level.name}: "
        cautions += [said + one for one in of_level if not only_background(one)]
    return tuple(cases), tuple(cautions)
