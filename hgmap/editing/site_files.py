"""The files of a site as they stand in memory; an edit makes new ones, undo is the ones before."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from types import MappingProxyType
from typing import Any, Final

from hgmap.errors import SiteError
from hgmap.site.files import inside_folder, read_bytes
from hgmap.site.folder import SITE_FILE, site_from
from hgmap.site.model import Site
from hgmap.site.records import LOG_FILE, OVERRULES_FILE
from hgmap.site.store import FolderStore, MemoryStore, Unread, plain_name

PICTURES: Final = (".png", ".jpg", ".jpeg")
MOST_PICTURE_BYTES: Final = 64 * 2**20
MOST_PICTURES: Final = 100
MISSING: Final = "no such file"


@dataclass(frozen=True)
class SiteFiles:
    """Every file that a site is read from, at one moment.

    Attributes
    ----------
    folder : Path
        Where they belong; nothing is written there but by :func:`hgmap.editing.save.save`.
    contents : mapping of names to bytes
        Names are relative to the folder, with slashes, as
        :func:`hgmap.site.store.plain_name` writes them.
    unread : mapping of names to Unread
        Files that the site names and that could not be read, and why.
    """

    folder: Path
    contents: Mapping[str, bytes]
    unread: Mapping[str, Unread] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Keep copies that nobody can change."""
        object.__setattr__(self, "contents", MappingProxyType(dict(self.contents)))
        object.__setattr__(self, "unread", MappingProxyType(dict(self.unread)))

    def text(self, name: str) -> str:
        """Return a file as UTF-8 text, without a byte-order mark.

        Raises
        ------
        SiteError
            If there is no such file, or it is no UTF-8 text.
        """
        data = self.data(name)
        try:
            return data.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise SiteError(
                "is not UTF-8 text", where=self.place(name), todo="save it as UTF-8"
            ) from None

    def data(self, name: str) -> bytes:
        """Return a file's bytes.

        Raises
        ------
        SiteError
            If there is no such file, or it could not be read.
        """
        return MemoryStore(self.contents, self.unread).read(name, where=name)

    def place(self, name: str) -> str:
        """Return how messages name a file: site.toml with its folder, the others as they are."""
        return str(self.folder / SITE_FILE) if name == SITE_FILE else name

    def with_file(self, name: str, data: bytes) -> SiteFiles:
        """Return the files with one more, or with another content of one.

        Raises
        ------
        SiteError
            If the name lies outside the folder, or a file that could not be read stands there.
        """
        key = plain_name(name, where=name)
        why = self.unread.get(key)
        if why is not None and why.there:
            raise SiteError(
                f"is not written over, for it could not be read: {why.message}", where=name,
                todo="mend it, or choose another name",
            )  # fmt: skip
        if self.contents.get(key) == data:
            return self
        return replace(self, contents={**self.contents, key: data})

    def without(self, name: str) -> SiteFiles:
        """Return the files without one of them; one that is not there is no mistake."""
        key = plain_name(name, where=name)
        if key not in self.contents:
            return self
        return replace(self, contents={k: v for k, v in self.contents.items() if k != key})


def read_site_files(folder: Path | str) -> SiteFiles:
    """Read every file of a site into memory: all that :func:`hgmap.site.folder.read_site` reads.

    And the pictures (PNG, JPEG) beside the plans, of up to 64 MiB each, a hundred of them. A
    site.toml that cannot be understood is read all the same, so that it can be mended.

    Raises
    ------
    SiteError
        If there is no such folder, or its site.toml cannot be read.
    """
    folder = Path(folder)
    if not folder.is_dir():
        raise SiteError("no such folder", where=str(folder), todo="give the folder of a site")
    data = read_bytes(folder / SITE_FILE, where=str(folder / SITE_FILE))
    files = SiteFiles(folder, {SITE_FILE: data})
    files = also_read(files, [*named_files(files), LOG_FILE, OVERRULES_FILE])
    pictures = [name for name in _pictures_beside_plans(files) if name not in files.contents]
    return also_read(files, pictures[:MOST_PICTURES])


def also_read(files: SiteFiles, names: Iterable[str]) -> SiteFiles:
    """Return the files with others of the same folder, read now; those that are there stay.

    For a site.toml that was mended and now names files that nobody has read: read them into what
    was opened and into what is being edited alike.
    """
    store = FolderStore(files.folder)
    contents, unread = dict(files.contents), dict(files.unread)
    for name in names:
        try:
            key = plain_name(name, where=name)
        except SiteError:
            continue  # whoever reads the site is told the same again
        if key in contents:
            continue
        unread.pop(key, None)
        try:
            path = inside_folder(files.folder, name, where=name)
        except SiteError as error:
            unread[key] = Unread(error.message, error.todo, outside=True)
            continue
        try:
            most = MOST_PICTURE_BYTES if path.suffix.casefold() in PICTURES else 512 * 2**20
            contents[key] = read_bytes(path, where=name, most_bytes=most)
        except SiteError as error:
            if error.message == MISSING:
                continue
            unread[key] = Unread(error.message, error.todo, there=_there(store, name))
    return SiteFiles(files.folder, contents, unread)


def _there(store: FolderStore, name: str) -> bool:
    try:
        return store.exists(name, where=name)
    except SiteError:
        return True


def site_of(files: SiteFiles) -> Site:
    """Read the site from memory, by the parser that reads a folder.

    Raises
    ------
    SiteError
        If site.toml cannot be used.
    """
    return site_from(MemoryStore(files.contents, files.unread), files.folder)


def changed(before: SiteFiles, after: SiteFiles) -> tuple[str, ...]:
    """Return the names of files that differ, are new or are gone, in order."""
    names = {*before.contents, *after.contents}
    return tuple(
        sorted(name for name in names if before.contents.get(name) != after.contents.get(name))
    )


def named_files(files: SiteFiles) -> tuple[str, ...]:
    """Return the files that site.toml names, as far as it can be understood."""
    try:
        raw = tomllib.loads(files.contents[SITE_FILE].decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return ()
    found = [raw.get("sampling_plan")]
    for floor in _tables(raw.get("floors")):
        picture = floor.get("picture")
        found += [floor.get("plan"), picture.get("file") if isinstance(picture, dict) else None]
    for one in _tables(raw.get("rounds")):
        readings = one.get("readings")
        found += readings if isinstance(readings, list) else []
    return tuple(dict.fromkeys(name for name in found if isinstance(name, str)))


def _tables(value: Any) -> Iterator[dict[str, Any]]:
    yield from (one for one in value if isinstance(one, dict)) if isinstance(value, list) else ()


def _pictures_beside_plans(files: SiteFiles) -> list[str]:
    """Return pictures in the folders of the plans; not those of the folder itself."""
    plans = [name for name in files.contents if name.casefold().endswith(".geojson")]
    folders = sorted({str(PurePosixPath(name).parent) for name in plans} - {"."})
    found: list[str] = []
    for one in folders:
        try:
            inside = sorted((files.folder / one).iterdir())
        except OSError:
            continue
        found += [f"{one}/{path.name}" for path in inside if path.suffix.casefold() in PICTURES]
    return found
