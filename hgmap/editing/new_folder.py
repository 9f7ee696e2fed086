"""What stands where a new site is to go."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from hgmap.site.store import SITE_FILE

Standing = Literal["free", "a site", "not empty", "a file", "not writable", "not named"]

WHY: dict[Standing, str] = {
    "free": "",
    "a site": "This folder is a site already.",
    "not empty": "This folder is not empty; choose a new name.",
    "a file": "A file of this name is there; choose another name.",
    "not writable": "Nothing can be written there; choose a folder of your own.",
    "not named": "Say where the site goes.",
}
"""Sentences for a person; empty where nothing stands in the way."""


@dataclass(frozen=True, slots=True)
class FolderState:
    """How a folder stands, and in a sentence why it cannot be used; empty where it can."""

    standing: Standing
    why: str


def look_at(folder: Path | None) -> FolderState:
    """Look at the place of a new site; nothing is written, not even to try."""
    standing = "not named" if folder is None else _standing(folder)
    return FolderState(standing, WHY[standing])


def _standing(folder: Path) -> Standing:
    try:
        if folder.is_dir():
            if (folder / SITE_FILE).exists():
                return "a site"
            if any(folder.iterdir()):
                return "not empty"
            return "free" if os.access(folder, os.W_OK | os.X_OK) else "not writable"
        if os.path.lexists(folder):
            return "a file"
        above = next(one for one in folder.absolute().parents if os.path.lexists(one))
        if not above.is_dir() or not os.access(above, os.W_OK | os.X_OK):
            return "not writable"
    except (OSError, ValueError, StopIteration):  # a name that is too long; a NUL
        return "not writable"
    return "free"


def free_name(below: Path, name: str) -> Path:
    """Return a folder of this name that is not there yet: ``name``, else ``name 2`` and so on."""
    path = below / name
    number = 2
    while look_at(path).standing not in ("free", "not writable"):
        path = below / f"{name} {number}"
        number += 1
    return path
