"""A run's files appear together or not at all."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from hgmap.errors import HgmapError


@contextmanager
def staged(out: Path, beside: Path | None = None) -> Iterator[Path]:
    """Give a folder to write into; its files move into ``out`` once everything is written.

    Whatever is raised meanwhile, a cancelled run too, takes the folder away and leaves ``out`` as
    it was. It lies in ``out``, or in ``beside``, a folder on the same disk.

    Raises
    ------
    HgmapError
        If a folder cannot be written.
    """
    beside = beside or next(one for one in (out, *out.absolute().parents) if one.is_dir())
    try:
        stage = Path(tempfile.mkdtemp(prefix=".tmp-", dir=beside))
    except OSError as error:
        raise _unwritable(out, error) from None
    try:
        with _named_as_they_will_be(stage, out):
            yield stage
        for file in sorted(one for one in stage.rglob("*") if one.is_file()):
            target = out / file.relative_to(stage)
            try:
                target.parent.mkdir(parents=True, exist_ok=True)
                file.replace(target)
            except OSError as error:
                raise _unwritable(target, error) from None
    finally:
        shutil.rmtree(stage, ignore_errors=True)


@contextmanager
def _named_as_they_will_be(stage: Path, out: Path) -> Iterator[None]:
    """Let no complaint name the folder of the meantime, which is gone when it is read."""
    try:
        yield
    except HgmapError as error:
        named = named_as_it_will_be(error, stage, out)
        if named is error:
            raise
        raise named from None


def named_as_it_will_be(error: Exception, stage: Path, out: Path) -> Exception:
    """Return a complaint that names a file where it would have been, not in the stage.

    Any other error comes back as it is.
    """
    if not isinstance(error, HgmapError):
        return error
    path = Path(error.where)
    if not path.is_relative_to(stage):
        return error
    where = str(out / path.relative_to(stage))
    return type(error)(error.message, where=where, todo=error.todo)


def _unwritable(path: Path, error: OSError) -> HgmapError:
    return HgmapError(
        f"cannot be written ({error.strerror or error})",
        where=str(path),
        todo="check the folder's rights and the space left on the disk",
    )


def put_out_of_date(folder: Path, names: tuple[str, ...]) -> None:
    """Rename the files of an earlier run, so that no old map lies beside new tables."""
    for name in names:
        try:
            (folder / name).replace(folder / f"out-of-date-{name}")
        except OSError:
            continue  # there was none
