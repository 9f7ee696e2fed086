"""What is kept of a run: floors that are done, and what finished results were made from.

Finished floors of a run that is under way lie in a hidden folder inside the results' folder, one
parcel each, written in one step; nothing lies under its final name before all of it is there. When
a run is done, a small file beside the results says what they were made from and what they were.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

from hgmap.__about__ import __version__
from hgmap.editing.process import Owner
from hgmap.errors import HgmapError
from hgmap.many.floor import unpack
from hgmap.many.task import Run, Task
from hgmap.map_case import MapCase
from hgmap.site.files import digest, in_one_line, read_bytes, slug, write_bytes, write_text
from hgmap.site.store import plain_name

WORK: Final = ".unfinished-{kind}"
STAMP: Final = "{kind}-made-from.json"
ENDING: Final = ".floor"
LOCK: Final = "lock.json"
_RIGHTS: Final = "check the folder's rights and the space left on the disk"


def run_digest(case: MapCase, task: Task[Run]) -> str:
    """Return the digest of all that a site's results depend on: files, task, version.

    Where the results go does not count, nor do files of the folder that the site does not name.
    """
    parts = {
        "version": __version__,
        "task": [task.kind, task.told()],
        "files": dict(sorted(case.site.digests.items())),
        # a file that could not be read has no digest, and is told by what is said of it
        "problems": [asdict(one) for one in case.site.problems],
    }
    return digest(json.dumps(parts, sort_keys=True, default=str).encode())


# --- finished results


@dataclass(frozen=True)
class Stamp:
    """What finished results were made from: ``files`` by name with their digests.

    ``lost`` says, in a line each, which floors could not be made of these inputs.
    """

    digest: str
    exit_code: int
    floors: int
    files: dict[str, str]
    lost: tuple[str, ...] = ()


def stamp_file(out: Path, kind: str) -> Path:
    """Return the file that says what results of a kind of task were made from."""
    return out / STAMP.format(kind=kind)


def write_stamp(path: Path, stamp: Stamp) -> None:
    """Say beside the results what they were made from; after everything else."""
    about = {"made_by": f"hgmap {__version__}", **asdict(stamp)}
    write_text(path, json.dumps(about, indent=1, ensure_ascii=False) + "\n")


def up_to_date(path: Path, digest_now: str) -> Stamp | None:
    """Return the stamp where all results are there, as they were made, and of these inputs."""
    out, where = path.parent, path.name
    try:
        about = json.loads(path.read_text("utf-8"))
        stamp = Stamp(
            str(about["digest"]), int(about["exit_code"]), int(about["floors"]),
            {plain_name(str(name), where=where): str(one) for name, one in about["files"].items()},
            tuple(map(str, about.get("lost", ()))),
        )  # fmt: skip
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
    if stamp.digest != digest_now or not stamp.files:
        return None
    return stamp if digests_of(out, stamp.files) == stamp.files else None


def digests_of(folder: Path, names: Iterable[str]) -> dict[str, str]:
    """Return the digest of each file; one that cannot be read is left out."""
    found: dict[str, str] = {}
    for name in names:
        try:
            found[name] = digest(read_bytes(folder / name, where=name))
        except HgmapError:
            continue
    return found


# --- a run under way


class Unfinished:
    """The hidden folder of a run under way.

    Parameters
    ----------
    out : Path
        The folder of the results; made where it is absent.
    kind : str
        Of task: two of them may be under way in one folder.
    digest_now : str
        Of this run; see :func:`run_digest`.
    resume : bool
        Whether floors that an earlier run has finished from the same inputs are taken over.

    Raises
    ------
    HgmapError
        If the folder cannot be written, or another run is writing into it.
    """

    def __init__(self, out: Path, kind: str, digest_now: str, *, resume: bool) -> None:
        self.out, self.folder, self.digest = out, out / WORK.format(kind=kind), digest_now
        # made by us and still empty at the end: taken away again
        self._made = [one for one in (out, *out.absolute().parents) if not one.exists()]
        with in_one_line("cannot be written", where=str(out), todo=_RIGHTS):
            self.folder.mkdir(parents=True, exist_ok=True)
        try:
            with self._named_by_the_results():
                self._lock()
        except HgmapError:
            with contextlib.suppress(OSError):
                self.folder.rmdir()
                self._take_away_what_was_made()
            raise
        self._clear(keep=resume, also=LOCK)

    def _clear(self, *, keep: bool, also: str = "") -> None:
        """Take away what lies in the folder; ``keep`` leaves the floors that are done."""
        for one in self.folder.glob("*"):
            if one.name == also or (keep and one.suffix == ENDING and one.name[0] != "."):
                continue
            if one.is_dir():
                shutil.rmtree(one, ignore_errors=True)
            else:
                with contextlib.suppress(OSError):
                    one.unlink()

    def _lock(self) -> None:
        lock = self.folder / LOCK
        if self._locked_first(lock):
            return
        try:
            about = json.loads(lock.read_text("utf-8"))
            owner = Owner(int(about["pid"]), str(about["start"]))
        except (OSError, ValueError, TypeError, KeyError):
            owner = Owner(0, "")
        if owner.alive and owner != Owner.this():
            raise HgmapError(
                f"another run (process {owner.pid}) is writing here", where=str(self.out),
                todo="wait for it, or give another --out",
            )  # fmt: skip
        write_text(lock, json.dumps(Owner.this()._asdict()))

    def _locked_first(self, lock: Path) -> bool:
        """Take the lock where nobody has it: of two runs begun at once, one gets it."""
        mine = self.folder / f".lock-{os.getpid()}"
        write_text(mine, json.dumps(Owner.this()._asdict()))
        try:
            os.link(mine, lock)
        except OSError:  # there is one; or this disk knows no links, and the lock is only looked at
            return False
        finally:
            mine.unlink(missing_ok=True)
        return True

    def _place(self, floor: str) -> Path:
        return self.folder / f"{slug(floor)}{ENDING}"

    def keep(self, floor: str, parcel: bytes) -> None:
        """Keep a floor that is done."""
        with self._named_by_the_results():
            write_bytes(self._place(floor), parcel)

    @contextmanager
    def _named_by_the_results(self) -> Iterator[None]:
        """Let a complaint name the folder of the results, which the person gave."""
        try:
            yield
        except HgmapError as error:
            raise type(error)(error.message, where=str(self.out), todo=error.todo) from None

    def take(self, floor: str, into: Path | None = None) -> Any:
        """Read a kept floor; with ``into`` its files are written there.

        Raises
        ------
        HgmapError
            If there is none, or it is not of this run, or a file cannot be written.
        """
        data = read_bytes(self._place(floor), where=f"floor {floor!r}")
        return unpack(data, digest=self.digest, floor=floor, into=into)

    def has(self, floor: str) -> bool:
        """Tell whether a floor is kept, whole and of these inputs."""
        try:
            self.take(floor)
        except HgmapError:
            self._place(floor).unlink(missing_ok=True)
            return False
        return True

    def close(self, *, keep: bool) -> None:
        """End the run; ``keep`` leaves the floors that are done to a later one."""
        self._clear(keep=keep)
        try:
            self.folder.rmdir()
        except OSError:
            return  # floors lie in it
        self._take_away_what_was_made()

    def _take_away_what_was_made(self) -> None:
        for one in self._made:
            try:
                one.rmdir()
            except OSError:
                return  # something lies in it
