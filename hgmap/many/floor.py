"""One floor as a parcel of bytes: made in any process, kept on the disk, read back by another.

A parcel is an archive: the floor's own files as they go to the results, and its part of what all
floors share. It says what it was made from, so that it is never taken for another's.
"""

from __future__ import annotations

import io
import json
import shutil
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from hgmap.__about__ import __version__
from hgmap.batch import LOSES_A_FLOOR
from hgmap.errors import HgmapError
from hgmap.floor_map import FloorMap, floor_failure
from hgmap.many.plain import from_plain, to_plain
from hgmap.many.task import Made, Run, Task
from hgmap.map_case import MapCase
from hgmap.site.building import Floor
from hgmap.site.files import slug, write_bytes
from hgmap.site.model import Problem
from hgmap.site.staging import named_as_it_will_be
from hgmap.site.store import plain_name

ABOUT: Final = "about.json"
FLOOR: Final = "floor.json"
FILES: Final = "files/"
_LONG_AGO: Final = (1980, 1, 1, 0, 0, 0)
"""The earliest date of an archive: the same floor gives the same bytes."""


@dataclass(frozen=True)
class FloorJob:
    """A floor to make.

    Attributes
    ----------
    site : str
        What tells the site from the others of the run.
    task : Task
        What is made of it.
    digest : str
        Of everything that the result depends on; see :mod:`hgmap.many.kept`.
    work : Path or None
        A folder on this machine for what is half done; None where another machine makes it.
    """

    site: str
    floor: str
    digest: str
    case: MapCase
    task: Task[Run]
    work: Path | None


def make_parcel(job: FloorJob, report: Callable[[float], None]) -> bytes | Problem:
    """Make one floor; return its parcel, or why it is not made. Only the run's own end is raised.

    Whatever a floor breaks is said of that floor: the others go on.
    """
    floor = job.case.site.floor(job.floor)
    assert floor is not None  # floors are chosen from this site
    folder: Path | None = None
    try:
        folder = Path(tempfile.mkdtemp(prefix=".tmp-", dir=job.work))
        made = job.task.make(job.case, floor, folder, report)
        return _packed(job, made, folder)
    except LOSES_A_FLOOR as error:
        return floor_failure(floor, _named(error, folder, job.work), floor.name)
    except OSError as error:
        return Problem(
            "error", floor.title, f"its files cannot be written ({error.strerror or error})",
            "check the folder's rights and the space left on the disk", floor.name,
        )  # fmt: skip
    except Exception as error:
        return broke_off(floor, error)
    finally:
        if folder is not None:
            shutil.rmtree(folder, ignore_errors=True)


def broke_off(floor: Floor, error: BaseException) -> Problem:
    """Say of a floor what nobody foresaw."""
    what = f"it broke off: {type(error).__name__}: {error}"[:300]
    return Problem("error", floor.title, what, "tell the makers of the program", floor.name)


def _named(error: Exception, folder: Path | None, work: Path | None) -> Exception:
    """Let a complaint name a file where it would have been: nobody can look into the folder.

    On another machine the results' folder is not known, and the file is named in it.
    """
    if folder is None:
        return error
    return named_as_it_will_be(error, folder, Path() if work is None else work.parent)


def light(one: FloorMap) -> FloorMap:
    """Leave out what only the making of a floor needs, and what is most of its memory."""
    if one.surface is None:
        return one
    return replace(one, surface=replace(one.surface, posterior=None, estimate=None))


def _light(made: Made) -> Made:
    given: Any = made  # whatever the task made, it is a dataclass
    lighter: Made = replace(given, map=light(made.map))
    return lighter


def _packed(job: FloorJob, made: Made, folder: Path) -> bytes:
    stream = io.BytesIO()
    about = {"version": __version__, "digest": job.digest, "floor": job.floor}
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as archive:

        def put(name: str, data: bytes) -> None:
            archive.writestr(zipfile.ZipInfo(name, _LONG_AGO), data)

        put(ABOUT, json.dumps(about).encode())
        put(FLOOR, to_plain(_light(made)).encode())
        for file in sorted(one for one in folder.rglob("*") if one.is_file()):
            put(FILES + file.relative_to(folder).as_posix(), file.read_bytes())
    return stream.getvalue()


def unpack(data: bytes, *, digest: str, floor: str, into: Path | None) -> Any:
    """Read a parcel; with ``into`` its files are written there too.

    Raises
    ------
    HgmapError
        If it is damaged, or was made from something else or by another version, or a file cannot
        be written.
    """
    trouble = "is damaged"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            about = json.loads(archive.read(ABOUT))
            if about != {"version": __version__, "digest": digest, "floor": floor}:
                trouble = "was made from something else, or by another version"
                raise ValueError
            if archive.testzip() is not None:
                raise ValueError
            made = from_plain(archive.read(FLOOR).decode())
            files = {
                plain_name(one[len(FILES) :], where=one): archive.read(one)
                for one in archive.namelist()
                if one.startswith(FILES)
            }
    except (zipfile.BadZipFile, KeyError, ValueError, EOFError, OSError, RuntimeError,
            NotImplementedError, HgmapError):  # fmt: skip
        made, files = None, {}
    own = f"{slug(floor)}/"
    if not isinstance(getattr(made, "map", None), FloorMap) or not all(
        one.startswith(own) for one in files
    ):
        raise HgmapError(f"the kept floor {trouble}", where=f"floor {floor!r}", todo="run again")
    if into is not None:
        for name, content in files.items():
            write_bytes(into / name, content)
    return made
