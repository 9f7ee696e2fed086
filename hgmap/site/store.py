"""Where a site's files come from: a folder on the disk, or memory while somebody edits them.

One parser reads both (:func:`hgmap.site.folder.site_from`), so that what the window shows is what
the command line will read.
"""

from __future__ import annotations

import posixpath
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, Protocol

from hgmap.errors import SiteError
from hgmap.site.files import inside_folder, read_bytes

SITE_FILE: Final = "site.toml"

ELSEWHERE: Final = "copy the file into the folder and name it relative to that"


class FileStore(Protocol):
    """Gives the files of a site by their names, as site.toml writes them."""

    def read(self, name: str, *, where: str) -> bytes:
        """Return a whole file.

        Parameters
        ----------
        name : str
            Path relative to the site folder.
        where : str
            Who names the file, for the complaint that it lies outside the folder; every other
            complaint names the file.

        Raises
        ------
        SiteError
            If there is no such file, it cannot be read, or it lies outside the folder.
        """

    def exists(self, name: str, *, where: str) -> bool:
        """Tell whether anything stands at that name; raises as :meth:`read` does."""


@dataclass(frozen=True)
class FolderStore:
    """The files of a folder on the disk."""

    folder: Path

    def path(self, name: str, *, where: str) -> Path:
        """Return where a file lies; site.toml itself may be a link, for no file names it."""
        if name == SITE_FILE:
            return self.folder / SITE_FILE
        return inside_folder(self.folder, name, where=where)

    def read(self, name: str, *, where: str) -> bytes:
        """Return a whole file."""
        return read_bytes(self.path(name, where=where), where=name)

    def exists(self, name: str, *, where: str) -> bool:
        """Tell whether anything stands at that name."""
        try:
            return self.path(name, where=where).exists()
        except OSError as error:  # a folder on the way may not be entered
            raise SiteError(f"cannot be read ({error.strerror})", where=name) from None


@dataclass(frozen=True, slots=True)
class Unread:
    """Why a file was not read.

    ``outside``: it lies outside the folder; ``there``: something stands at its name.
    """

    message: str
    todo: str = ""
    outside: bool = False
    there: bool = True


@dataclass(frozen=True)
class MemoryStore:
    """Files in memory.

    Parameters
    ----------
    contents : mapping of names to bytes
        Names as :func:`plain_name` writes them.
    unread : mapping of names to Unread
        Files that stand on the disk and could not be read.
    """

    contents: Mapping[str, bytes]
    unread: Mapping[str, Unread] = field(default_factory=dict)

    def read(self, name: str, *, where: str) -> bytes:
        """Return a whole file."""
        key = plain_name(name, where=where)
        why = self.unread.get(key)
        if why is not None:
            raise SiteError(why.message, where=where if why.outside else name, todo=why.todo)
        if key not in self.contents:
            raise SiteError("no such file", where=name, todo="check the name or put the file there")
        return self.contents[key]

    def exists(self, name: str, *, where: str) -> bool:
        """Tell whether anything stands at that name."""
        key = plain_name(name, where=where)
        why = self.unread.get(key)
        if why is not None and why.outside:
            raise SiteError(why.message, where=where, todo=why.todo)
        return key in self.contents or (why is not None and why.there)


def plain_name(name: str, *, where: str) -> str:
    """Return the one way in which a file of the site is named, whoever names it.

    Raises
    ------
    SiteError
        If the name is absolute or climbs out of the folder.

    Examples
    --------
    >>> plain_name("./plans//old/../ground.geojson", where="floor 'ground'")
    'plans/ground.geojson'
    """
    if "\0" in name:
        raise SiteError(f"{name!r} is not a path", where=where, todo="mend it")
    path = Path(name)
    plain = posixpath.normpath(path.as_posix())
    if path.is_absolute() or path.drive or plain.split("/", 1)[0] == "..":
        raise SiteError(f"{name!r} lies outside the site folder", where=where, todo=ELSEWHERE)
    return plain
