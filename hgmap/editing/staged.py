"""A site filled in a folder of the meantime, and named in messages as the one it will be."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path

from hgmap.errors import HgmapError, SiteError


@contextlib.contextmanager
def named_as(folder: Path, stage: Path) -> Iterator[None]:
    """Let what is raised name the site's own folder, not the one that it was filled in."""
    try:
        yield
    except HgmapError as error:
        old, new = str(stage), str(folder)
        changed = {"where": error.where.replace(old, new), "todo": error.todo.replace(old, new)}
        if changed == {"where": error.where, "todo": error.todo}:
            raise
        kind = type(error) if type(error).__module__ == HgmapError.__module__ else SiteError
        raise kind(error.message.replace(old, new), **changed) from None
