"""The one action level that a run goes by: asked for, or the site's own."""

from __future__ import annotations

from typing import Final

from hgmap.errors import HgmapError, LevelError
from hgmap.site.levels import check_level_fits_use, choose_level
from hgmap.site.model import ActionLevel, LevelRequest, Site
from hgmap.site.units import parse_unit, to_computing

RECORD_KEYS: Final = ("value", "unit", "averaging", "height", "scenario", "source")


def level_in_force(site: Site, asked: str | None) -> tuple[ActionLevel, tuple[str, ...]]:
    """Return the level of a run, and the cautions that go with it.

    Parameters
    ----------
    site : Site
    asked : str or None
        What the user asked for: a name from the table or a value with its unit. Where None, the
        site's own.

    Raises
    ------
    LevelError
        If there is none, or it does not fit what was measured or what the building is used for.
    """
    if asked is None and site.level is not None:
        _refuse_name_beside_record(site.level)
    if asked is None and site.level is not None and site.level.name is None:
        level = _from_record(site.level, site)
    else:
        text = asked if asked is not None else (site.level.name if site.level else None)
        level = choose_level(text, medium=site.medium, use=site.use, analyte=site.analyte)
    return level, check_level_fits_use(level, site.use)


def _refuse_name_beside_record(request: LevelRequest) -> None:
    beside = [key for key in (*RECORD_KEYS, "year") if getattr(request, key) is not None]
    if request.name is not None and beside:
        raise LevelError(
            f"a name from the table ({request.name!r}) and a record of its own "
            f"({', '.join(beside)}) stand side by side",
            where="site.toml, [level]",
            todo="keep one of them",
        )


def _from_record(request: LevelRequest, site: Site) -> ActionLevel:
    where = "site.toml, [level]"
    missing = [key for key in RECORD_KEYS if not getattr(request, key)]
    if missing or request.value is None or request.unit is None:
        raise LevelError(
            f"an action level is never a bare number; {', '.join(missing)} missing",
            where=where,
            todo="give the whole record, or a name that `hgmap levels` lists",
        )
    try:
        unit = parse_unit(request.unit)
        concentration = to_computing(request.value, request.unit, site.medium)
    except HgmapError as error:
        raise LevelError(error.message, where=where, todo=error.todo) from None
    return ActionLevel(
        name=f"{request.value:g} {unit.symbol}",
        value=request.value,
        unit=unit.symbol,
        medium=site.medium,
        concentration=concentration,
        averaging=request.averaging or "",
        height=request.height or "",
        scenario=request.scenario or "",
        kind="stated",
        uses=(site.use,) if site.use else (),
        source=request.source or "",
        year=request.year,
        analyte=site.analyte,
    )
