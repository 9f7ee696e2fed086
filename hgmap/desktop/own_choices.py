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
    """Write method, walls, thresholds, zones, height band and a named level that were chosen.

    Raises
    ------
    HgmapError
        If the site may not say so; in one line why not.
    """
    from hgmap.editing.settings import set_level, set_map

    keys: dict[str, Any] = {key: getattr(choices, key) for key in KEYS}
    keys["height_band"] = choices.band
    files = set_map(files, **{key: value for key, value in keys.items() if value is not None})
    return set_level(files, choices.level) if level_is_named(choices) else files


def level_is_named(choices: Choices) -> bool:
    """Tell whether the chosen level is one of the table; a bare number is never a site's own."""
    return choices.level is not None and re.match(r"\s*[0-9]", choices.level) is None


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

    try:
        with_rules(site, remediate_at=remediate_at, clear_at=clear_at)
    except SiteError as error:
        return f"{error.message}: {error.todo}."
    return ""
