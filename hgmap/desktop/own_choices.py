"""What was chosen on the screen, written into site.toml: pure, files to files."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from hgmap.errors import SiteError

if TYPE_CHECKING:
    from hgmap.desktop.choices import Choices
    from hgmap.editing.site_files import SiteFiles
    from hgmap.site.model import Site

KEYS = ("method", "walls", "remediate_at", "clear_at", "zones")


def anything_chosen(choices: Choices) -> bool:
    """Tell whether something is chosen that the site does not say itself."""
    own = (*(getattr(choices, key) for key in KEYS), choices.band, choices.level)
    return any(one is not None for one in own)


def make_own(files: SiteFiles, choices: Choices) -> SiteFiles:
    """Write method, walls, thresholds, zones, height band and level that were chosen.

    Raises
    ------
    HgmapError
        If the site may not say so; in one line why not.
    """
    from hgmap.editing.settings import set_level, set_map
    from hgmap.site.model import LevelRequest

    keys: dict[str, Any] = {key: getattr(choices, key) for key in KEYS}
    keys["height_band"] = choices.band
    files = set_map(files, **{key: value for key, value in keys.items() if value is not None})
    if choices.level is None:
        return files
    found = re.fullmatch(r"\s*([0-9][0-9.,]*)\s*(\D.*?)\s*", choices.level)
    if found is None:
        return set_level(files, choices.level)
    try:
        value = float(found[1].replace(",", "."))
    except ValueError:
        raise SiteError(f"level {choices.level!r} is no number and unit") from None
    return set_level(files, LevelRequest(value=value, unit=found[2]))


def chance_of(text: str) -> float | None:
    """Read a chance in per cent as typed; None where nothing is.

    Raises
    ------
    SiteError
        If it is no number.
    """
    text = text.strip().removesuffix("%").strip().replace(",", ".")
    if not text:
        return None
    try:
        return float(text) / 100.0
    except ValueError:
        raise SiteError(f"{text!r} is no number of per cent") from None


def why_refused(site: Site, remediate_at: float | None, clear_at: float | None) -> str:
    """Say in one sentence why these chances may not be used; empty where they may."""
    from hgmap.site.rules import with_rules

    for remediate, clear in ((remediate_at, None), (None, clear_at), (remediate_at, clear_at)):
        try:
            with_rules(site, remediate_at=remediate, clear_at=clear)
        except SiteError as error:
            if None in (remediate, clear) and "not below" in error.message:
                continue  # both together may be
            return f"{error.message}: {error.todo}."
    return ""
