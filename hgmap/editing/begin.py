"""Beginning a site: everything is made beside its place and appears there whole, or not at all."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from hgmap.editing.begin_readings import FirstReadings, import_first
from hgmap.editing.floor_settings import add_floor, set_picture
from hgmap.editing.new_folder import look_at
from hgmap.editing.picture_placing import Placing, placed_by
from hgmap.editing.save import save
from hgmap.editing.settings import set_level
from hgmap.editing.site_files import read_site_files, site_of
from hgmap.editing.staged import named_as
from hgmap.errors import SiteError
from hgmap.site.files import in_one_line, read_bytes, write_text
from hgmap.site.importers.import_plan import (
    ImportReport,
    WantedFloor,
    import_every_storey,
    import_plan,
)
from hgmap.site.importers.names import one_line_text, typed_name
from hgmap.site.intake.import_readings import ImportedReadings
from hgmap.site.model import LevelRequest
from hgmap.site.new_site import check_use, new_site_text
from hgmap.site.pictures.read_picture import read_picture
from hgmap.site.schema import parse_site_table
from hgmap.site.store import SITE_FILE

FOLDER_MODE: Final = 0o755


@dataclass(frozen=True, slots=True)
class DrawnPlan:
    """A drawing, what was answered about it by option, and whether every storey is wanted."""

    file: Path
    answers: Mapping[str, str] = field(default_factory=dict)
    every_storey: bool = False


@dataclass(frozen=True, slots=True)
class PicturedPlan:
    """An image to draw over, or a page (from 1) of a PDF or TIFF; laid with a corner at (0, 0)."""

    file: Path
    page: int | None = None


@dataclass(frozen=True, slots=True)
class PlanOfBytes:
    """A plan in our own form (GeoJSON), made from a list of rooms for instance."""

    data: bytes


@dataclass(frozen=True)
class Beginning:
    """What is known of a new site. None, or an empty text: nobody has said it yet."""

    folder: Path
    name: str
    use: str | None = None
    floor: str = "ground"
    plan: DrawnPlan | PicturedPlan | PlanOfBytes | None = None
    readings: FirstReadings | None = None
    level: LevelRequest | None = None


@dataclass(frozen=True)
class Begun:
    """What came of it: mended and skipped parts of the plan, and how the readings were read."""

    folder: Path
    said: tuple[str, ...]
    readings: ImportedReadings | None


def begin_site(wanted: Beginning) -> Begun:
    """Make a new site folder.

    Raises
    ------
    HgmapError
        In one line, what has to be asked or cannot be used. The disk is then as it was.
    """
    folder = wanted.folder.absolute()
    state = look_at(folder)
    if state.why:
        raise SiteError(state.why.rstrip("."), where=str(folder))
    name = typed_name(wanted.name, "a site")
    if not name:
        raise SiteError("a site has a name", where="name", todo="name the building")
    if wanted.use is not None:
        check_use(wanted.use)
    text = new_site_text(name, use=wanted.use)
    parse_site_table(text, where=SITE_FILE)
    with beside(folder) as stage, named_as(folder, stage):
        write_text(stage / SITE_FILE, text)
        said = _with_plan(stage, wanted)
        readings = None
        if wanted.readings is not None:
            readings = import_first(wanted.readings, stage, wanted.floor)
        if wanted.level is not None:
            before = read_site_files(stage)
            save(set_level(before, wanted.level), before)
        site_of(read_site_files(stage))
    return Begun(folder, said, readings)


def import_drawn(plan: DrawnPlan, folder: Path, floor: str) -> tuple[ImportReport, ...]:
    """Import a drawing into a site folder: one floor, or every storey by the name it has there.

    Raises
    ------
    HgmapError
        As :func:`hgmap.site.importers.import_plan.import_plan`.
    """
    if plan.every_storey:
        return import_every_storey(plan.file, WantedFloor(folder, ""), plan.answers)
    return (import_plan(plan.file, WantedFloor(folder, floor), plan.answers),)


def _with_plan(stage: Path, wanted: Beginning) -> tuple[str, ...]:
    """Put the plan in; return what was mended and what was left out."""
    plan = wanted.plan
    if isinstance(plan, DrawnPlan):
        return tuple(line for one in import_drawn(plan, stage, wanted.floor) for line in one.said)
    before = read_site_files(stage)
    data = plan.data if isinstance(plan, PlanOfBytes) else None
    files = add_floor(before, wanted.floor, plan=data)
    if isinstance(plan, PicturedPlan):
        name = plan.file.name
        read = read_picture(read_bytes(plan.file, where=str(plan.file)), name=name, page=plan.page)
        placed = placed_by(Placing(), read, f"picture{read.ending}", name)
        files = set_picture(
            files, one_line_text(wanted.floor), placed.picture, data=read.data
        )  # fmt: skip
    save(files, before)
    return ()


@contextlib.contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """Give a folder to fill; it takes its place in one step, unless something is raised."""
    made: list[Path] = []
    stage: Path | None = None
    try:
        with _one_line(folder):
            for one in reversed([above for above in folder.parents if not above.exists()]):
                one.mkdir()
                made.append(one)
            stage = Path(tempfile.mkdtemp(prefix=".tmp-", dir=folder.parent))
        yield stage
        with _one_line(folder):
            stage.chmod(FOLDER_MODE)
            if os.name == "nt" and folder.is_dir():  # only there must its place be free
                folder.rmdir()
            stage.replace(folder)
        made.clear()
    finally:
        if stage is not None:
            shutil.rmtree(stage, ignore_errors=True)
        for one in reversed(made):
            with contextlib.suppress(OSError):
                one.rmdir()


def _one_line(folder: Path) -> AbstractContextManager[None]:
    """Turn what the system says into one line."""
    return in_one_line(
        "cannot be written", where=str(folder),
        todo="nothing was left behind; check the folder's rights and the space on the disk",
    )  # fmt: skip
