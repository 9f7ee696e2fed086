"""Saving a site: only what was changed, all of it or nothing, and never over somebody else's work.

Everything is written beside its place and flushed to the disk first; then the files are put in
place one after another, site.toml last, so that it never names a file that is not there. Where one
cannot be put in place, those before it are put back.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from hgmap.editing.site_files import SiteFiles, also_read, changed, named_files
from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import in_one_line, read_bytes
from hgmap.site.store import SITE_FILE, FolderStore

FRESH_MODE: Final = 0o644


class ChangedOnDisk(SiteError):  # noqa: N818 - it is no mistake of anybody's
    """Files were changed on the disk since the site was opened.

    Attributes
    ----------
    names : tuple of str
        Which ones.
    """

    def __init__(self, folder: Path, names: tuple[str, ...]) -> None:
        self.names = names
        some = ", ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
        super().__init__(
            f"changed on the disk since the site was opened: {some}",
            where=str(folder),
            todo="nothing was written; take over what is on the disk, or write over it",
        )


def changed_on_disk(base: SiteFiles) -> tuple[str, ...]:
    """Return the names of files that are not as they were when they were read, in order.

    A file that cannot be read now, or is gone, counts as changed; so does one that could be
    neither read nor found before and can be now.
    """
    store = FolderStore(base.folder)
    differ = [name for name, data in base.contents.items() if _on_disk(store, name) != data]
    differ += [
        name
        for name, why in base.unread.items()
        if not why.outside and _on_disk(store, name) is not None
    ]
    return tuple(sorted(differ))


def meet_disk(files: SiteFiles, base: SiteFiles) -> tuple[SiteFiles, SiteFiles, tuple[str, ...]]:
    """Take over from the disk what nobody edited here.

    Returns
    -------
    files, base : SiteFiles
        With the disk's version of every file that was changed there and not here.
    conflicts : tuple of str
        Files that were changed on both sides; ``base`` keeps the old version of them, so that
        saving still refuses. To write over them, save with :func:`over_disk` as base.
    """
    store = FolderStore(base.folder)
    edited = set(changed(base, files))
    conflicts = []
    for name in changed_on_disk(base):
        if name in edited:
            conflicts.append(name)
            continue
        data = _on_disk(store, name)
        files, base = (_with(one, name, data) for one in (files, base))
    # a site.toml from the disk may name files that nobody has read yet
    fresh = also_read(SiteFiles(base.folder, {}), [
        name for name in named_files(files)
        if name not in files.contents and name not in base.contents
    ])  # fmt: skip
    for name, data in fresh.contents.items():
        files, base = (_with(one, name, data) for one in (files, base))
    return files, base, tuple(conflicts)


def over_disk(files: SiteFiles, base: SiteFiles) -> SiteFiles:
    """Return a base with which saving writes ``files`` over what is on the disk.

    It knows only files that this window has or had: one that another program brought stays.
    """
    store = FolderStore(base.folder)
    names = dict.fromkeys((*files.contents, *base.contents))
    found = {name: _on_disk(store, name) for name in names}
    contents = {name: data for name, data in found.items() if data is not None}
    unread = {name: why for name, why in base.unread.items() if name not in contents}
    return SiteFiles(base.folder, contents, unread)


def _with(files: SiteFiles, name: str, data: bytes | None) -> SiteFiles:
    unread = {key: why for key, why in files.unread.items() if key != name}
    files = SiteFiles(files.folder, files.contents, unread)
    return files.without(name) if data is None else files.with_file(name, data)


def _on_disk(store: FolderStore, name: str) -> bytes | None:
    try:
        return read_bytes(store.path(name, where=name), where=name)
    except SiteError:
        return None


@dataclass
class _Step:
    """One file on its way: what is ready to be put in place, and what can be put back."""

    path: Path
    ready: Path | None
    kept: Path | None = None
    done: bool = False


@dataclass
class _Work:
    steps: list[_Step] = field(default_factory=list)
    made_folders: list[Path] = field(default_factory=list)


def save(files: SiteFiles, base: SiteFiles) -> SiteFiles:
    """Write what differs from ``base``; all of it, or nothing.

    Parameters
    ----------
    files : SiteFiles
        What is to stand on the disk.
    base : SiteFiles
        What stood there when the site was opened or last saved.

    Returns
    -------
    SiteFiles
        The base from now on: ``files``.

    Raises
    ------
    ChangedOnDisk
        If a file is no longer as ``base`` has it.
    HgmapError
        If something cannot be written. The disk is as it was, and ``files`` can be saved again.
    """
    if files.folder != base.folder:
        raise SiteError("is not the folder that was opened", where=str(files.folder))
    names = changed(base, files)
    if not names:
        return files
    folder = files.folder
    if not folder.is_dir():
        raise SiteError(
            "the folder is gone", where=str(folder), todo="put it back, or save elsewhere"
        )
    _refuse_changed(base, (*changed_on_disk(base), *_appeared(names, base)))
    work = _Work()
    try:
        with _one_line(folder):
            for name in _in_order(names, files):
                _prepare(work, FolderStore(folder).path(name, where=name), files.contents.get(name))
        # it may have taken a while to write: look again at what will be replaced
        touched = SiteFiles(folder, {k: v for k, v in base.contents.items() if k in names})
        _refuse_changed(base, (*changed_on_disk(touched), *_appeared(names, base)))
        with _one_line(folder):
            for step in work.steps:
                _put_in_place(step)
    except BaseException:
        _put_back(work)
        raise
    finally:
        _sweep(work)
    _flush_folders({step.path.parent for step in work.steps})
    return files


def _refuse_changed(base: SiteFiles, names: tuple[str, ...]) -> None:
    if names:
        raise ChangedOnDisk(base.folder, tuple(sorted(set(names))))


def _appeared(names: tuple[str, ...], base: SiteFiles) -> tuple[str, ...]:
    """Return files that are to be made and stand on the disk already."""
    store = FolderStore(base.folder)
    return tuple(
        name
        for name in names
        if name not in base.contents and os.path.lexists(store.path(name, where=name))
    )


def _in_order(names: tuple[str, ...], files: SiteFiles) -> Iterator[str]:
    """First what is written, then site.toml, then what is taken away."""
    yield from (one for one in names if one in files.contents and one != SITE_FILE)
    yield from (one for one in names if one == SITE_FILE)
    yield from (one for one in names if one not in files.contents and one != SITE_FILE)


def _one_line(folder: Path) -> AbstractContextManager[None]:
    """Turn what the system says into one line."""
    return in_one_line(
        "cannot be saved", where=str(folder),
        todo="nothing was written; check the folder's rights and the space left on the disk",
    )  # fmt: skip


def _prepare(work: _Work, path: Path, data: bytes | None) -> None:
    """Write a file beside its place, flushed to the disk, and keep what stands there."""
    path = path.resolve()  # a link stays a link, what it leads to is replaced
    for one in reversed([above for above in path.parents if not above.exists()]):
        one.mkdir()
        work.made_folders.append(one)
    there = path.exists()
    step = _Step(path, None)
    work.steps.append(step)
    if data is not None:
        mode = path.stat().st_mode & 0o7777 if there else FRESH_MODE
        step.ready = _written_beside(path, data, mode)
    if there:
        step.kept = _kept_beside(path)


def _written_beside(path: Path, data: bytes, mode: int) -> Path:
    handle, name = tempfile.mkstemp(prefix=".tmp-", suffix=path.suffix, dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(mode)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return Path(name)


def _kept_beside(path: Path) -> Path:
    """Give a file a second name, under which it is put back; a copy where names cannot be given."""
    handle, name = tempfile.mkstemp(prefix=".tmp-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    kept = Path(name)
    kept.unlink()
    try:
        os.link(path, kept)
    except OSError:  # a file system without hard links
        return _written_beside(path, path.read_bytes(), path.stat().st_mode & 0o7777)
    return kept


def _put_in_place(step: _Step) -> None:
    if step.ready is None:
        step.path.unlink(missing_ok=True)
    else:
        os.replace(step.ready, step.path)
        step.ready = None
    step.done = True


def _put_back(work: _Work) -> None:
    lost = []
    for step in reversed(work.steps):
        if not step.done:
            continue
        step.done = False
        kept, step.kept = step.kept, None  # whatever happens, it is not swept away
        try:
            if kept is not None:
                os.replace(kept, step.path)
            else:
                step.path.unlink(missing_ok=True)
        except OSError:
            lost.append(f"{step.path}" + (f" (it lies in {kept.name})" if kept else ""))
    if lost:
        raise HgmapError(
            f"was not saved, and not everything could be put back: {', '.join(lost)}",
            where=str(work.steps[0].path.parent), todo="rename these files by hand",
        )  # fmt: skip


def _sweep(work: _Work) -> None:
    """Take away what is left over; folders that were made stay only if something was put there."""
    for step in work.steps:
        for left in (step.ready, step.kept):
            if left is not None:
                with contextlib.suppress(OSError):
                    left.unlink()
    for folder in reversed(work.made_folders):
        with contextlib.suppress(OSError):  # not empty: it is in use
            folder.rmdir()


def _flush_folders(folders: set[Path]) -> None:
    """Flush the folders' lists of names, where the system can; the files themselves are there."""
    for folder in folders:
        with contextlib.suppress(OSError):
            handle = os.open(folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)
