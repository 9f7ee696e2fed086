"""What was edited and not yet saved, kept where a crash cannot reach it.

Each open site has a sub-folder of its own, with a lock that names its process and one archive with
everything that was changed. The archive is replaced in one step: whenever the process is killed,
it holds one whole state. Nothing is ever written to the user's folder.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import secrets
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from hgmap.editing.process import Owner
from hgmap.editing.site_files import SiteFiles, also_read, changed, read_site_files
from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import digest, read_bytes, write_bytes
from hgmap.site.store import plain_name

STATE: Final = "edited.zip"
LOCK: Final = "lock.json"
ABOUT: Final = "about.json"
MOST_BYTES: Final = 2**30


@dataclass(frozen=True)
class Recovered:
    """The unsaved work of a process that ended without saving it.

    Attributes
    ----------
    place : Path
        Its sub-folder.
    folder : Path
        The site that was open.
    kept_at : datetime or None
        When it was last kept (local time with zone).
    names : tuple of str
        Files that were edited.
    changed_since : tuple of str
        Files of the site that are no longer on the disk as they were when it was opened.
    trouble : str
        Why it cannot be restored; empty where it can.
    """

    place: Path
    folder: Path
    kept_at: datetime | None
    names: tuple[str, ...]
    changed_since: tuple[str, ...] = ()
    trouble: str = ""


class RecoveryFolder:
    """Keeps unsaved work below one folder.

    Parameters
    ----------
    root : Path
        A folder of the program's own, never one of the user's sites; made where it is absent.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self._token = secrets.token_hex(4)
        self._owner = Owner.this()

    def keep(self, files: SiteFiles, base: SiteFiles) -> None:
        """Keep what differs from ``base``; where nothing does, forget what was kept.

        Raises
        ------
        HgmapError
            If it cannot be written; what was kept before is left as it was.
        """
        names = changed(base, files)
        if not names:
            self.forget(base.folder)
            return
        data = _packed(files, base, names)
        try:
            place = self._own_place(base.folder)
        except OSError as error:
            raise HgmapError(
                f"unsaved work cannot be kept ({error.strerror or error})",
                where=str(self.root), todo="save often",
            ) from None  # fmt: skip
        write_bytes(place / STATE, data)

    def forget(self, folder: Path) -> None:
        """Drop what this process kept of a site: it was saved, or is no longer wanted."""
        _remove(self._place_of(folder))

    def pending(self) -> tuple[Recovered, ...]:
        """Return the unsaved work of processes that no longer run, the latest first."""
        try:
            places = sorted(one for one in self.root.iterdir() if one.is_dir())
        except OSError:
            return ()
        found = []
        for place in places:
            if place.name.startswith(".") or _owner_of(place).alive:
                continue
            if (place / STATE).is_file():
                found.append(_looked_at(place))
        found.sort(key=lambda one: one.kept_at.timestamp() if one.kept_at else 0.0, reverse=True)
        return tuple(found)

    def restore(self, recovered: Recovered) -> tuple[SiteFiles, SiteFiles]:
        """Return ``(base, files)``: the site as it was opened, and with the edits.

        Files that nobody edited are those on the disk now. Of an edited file that was changed on
        the disk since, ``base`` has the version that was opened: saving tells the conflict.

        Raises
        ------
        SiteError
            If the archive is damaged, or the site's folder is gone; nothing is dropped then.
        """
        about, old, new = _unpacked(recovered.place / STATE)
        folder = Path(about["folder"])
        try:
            now = read_site_files(folder)
        except SiteError as error:
            raise SiteError(
                error.message, where=error.where,
                todo=f"put it back; the edits lie in {recovered.place / STATE}",
            ) from None  # fmt: skip
        now = also_read(now, about["digests"])
        base = files = SiteFiles(
            folder, now.contents, {k: v for k, v in now.unread.items() if k not in {*old, *new}}
        )
        for name in about["edited"]:
            base = base.with_file(name, old[name]) if name in old else base.without(name)
            files = files.with_file(name, new[name]) if name in new else files.without(name)
        return base, files

    def drop(self, recovered: Recovered) -> None:
        """Throw unsaved work away; only below this folder."""
        if recovered.place.parent == self.root:
            _remove(recovered.place)

    def _place_of(self, folder: Path) -> Path:
        key = digest(os.fsencode(folder.absolute()))[:16]
        return self.root / f"{key}-{self._owner.pid}-{self._token}"

    def _own_place(self, folder: Path) -> Path:
        """Return the sub-folder of an open site; it appears together with its lock."""
        place = self._place_of(folder)
        if place.is_dir():
            return place
        self.root.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=".tmp-", dir=self.root))
        try:
            lock = {"pid": self._owner.pid, "start": self._owner.start}
            (made / LOCK).write_text(json.dumps(lock), "utf-8")
            made.rename(place)
        except BaseException:
            shutil.rmtree(made, ignore_errors=True)
            raise
        return place


def _remove(place: Path) -> None:
    """Take a sub-folder away: out of sight in one step, then piece by piece."""
    hidden = place.with_name(f".gone-{secrets.token_hex(4)}")
    with contextlib.suppress(OSError):
        place.rename(hidden)
        shutil.rmtree(hidden, ignore_errors=True)


def _owner_of(place: Path) -> Owner:
    """Return the process of a sub-folder; one that cannot be told is dead: its work is offered."""
    try:
        lock = json.loads((place / LOCK).read_text("utf-8"))
        return Owner(int(lock["pid"]), str(lock["start"]))
    except (OSError, ValueError, TypeError, KeyError):
        return Owner(0, "")


def _packed(files: SiteFiles, base: SiteFiles, names: tuple[str, ...]) -> bytes:
    about = {
        "folder": str(base.folder.absolute()),
        "kept_at": datetime.now().astimezone().isoformat(timespec="seconds"),
        "edited": names,
        "digests": {name: digest(data) for name, data in base.contents.items()},
    }
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr(ABOUT, json.dumps(about, indent=1))
        for top, one in (("before", base), ("after", files)):
            for name in names:
                if name in one.contents:
                    archive.writestr(f"{top}/{name}", one.contents[name])
    return stream.getvalue()


def _unpacked(path: Path) -> tuple[dict[str, Any], dict[str, bytes], dict[str, bytes]]:
    """Return what is said of a state, and the edited files before and after.

    Nothing is unpacked to the disk; names that would leave the folder are refused.
    """
    where = str(path)
    data = read_bytes(path, where=where, most_bytes=MOST_BYTES)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            about = json.loads(archive.read(ABOUT))
            edited = [plain_name(str(one), where=where) for one in about["edited"]]
            digests = {str(name): str(one) for name, one in about["digests"].items()}
            folder, kept_at = Path(str(about["folder"])), str(about["kept_at"])
            held = set(archive.namelist())
            parts = [
                {name: archive.read(f"{top}/{name}") for name in edited if f"{top}/{name}" in held}
                for top in ("before", "after")
            ]
    except (zipfile.BadZipFile, KeyError, TypeError, AttributeError, EOFError, RuntimeError,
            NotImplementedError, OSError, ValueError):  # fmt: skip
        raise SiteError("the kept work is damaged", where=where, todo="drop it") from None
    about = {"folder": folder, "kept_at": kept_at, "edited": edited, "digests": digests}
    return about, parts[0], parts[1]


def _looked_at(place: Path) -> Recovered:
    try:
        about, *_ = _unpacked(place / STATE)
    except SiteError as error:
        return Recovered(place, Path(), None, (), trouble=str(error))
    kept_at = None
    with contextlib.suppress(ValueError):
        kept_at = datetime.fromisoformat(about["kept_at"])
    found = Recovered(place, about["folder"], kept_at, tuple(about["edited"]))
    if not about["folder"].is_dir():
        return replace(found, trouble=f"{about['folder']}: the folder is gone")
    return replace(found, changed_since=tuple(_changed_since(about)))


def _changed_since(about: dict[str, Any]) -> Iterator[str]:
    """Go through files that are not as they were opened, by their digests; new ones too."""
    digests, folder = about["digests"], about["folder"]
    empty = SiteFiles(folder, {})
    now = also_read(empty, [*digests, *about["edited"]])
    for name in sorted({*digests, *about["edited"]}):
        data = now.contents.get(name)
        if (None if data is None else digest(data)) != digests.get(name):
            yield name
