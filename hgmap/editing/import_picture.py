"""A picture of a drawing brought under a floor's plan, placed; the floor may have no room yet."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hgmap.editing.begin import beside
from hgmap.editing.floor_settings import add_floor, set_picture
from hgmap.editing.picture_placing import Placing, placed_by
from hgmap.editing.plan_of_floor import draft_of
from hgmap.editing.save import save
from hgmap.editing.site_files import SiteFiles, read_site_files
from hgmap.editing.toml_edit import table_of
from hgmap.errors import PlanError, SiteError
from hgmap.site.files import read_bytes, write_text
from hgmap.site.importers.names import one_line_text
from hgmap.site.new_site import check_use, new_site_text
from hgmap.site.pictures.placed import PointMiss
from hgmap.site.pictures.read_picture import ReadPicture, read_picture
from hgmap.site.plan_picture import PlanPicture
from hgmap.site.schema import FloorTable
from hgmap.site.store import SITE_FILE


@dataclass(frozen=True, slots=True)
class ImportedPicture:
    """What an import of a picture brought.

    Attributes
    ----------
    picture : PlanPicture
        As site.toml has it now.
    read : ReadPicture
        The image that is kept.
    points : tuple of PointMiss
        Residuals, where it was placed by points with their places.
    rmse_m : float
        Root of their mean square.
    doubts : tuple of str
        What the person should look at again.
    notes : tuple of str
        What else is to be known.
    made_site, made_floor : bool
        Whether they are new.
    """

    picture: PlanPicture
    read: ReadPicture
    points: tuple[PointMiss, ...]
    rmse_m: float
    doubts: tuple[str, ...]
    notes: tuple[str, ...]
    made_site: bool
    made_floor: bool

    @property
    def width_m(self) -> float:
        """How wide (m) the image lies, along its rows."""
        return self.picture.m_per_px * self.read.kept_px[0]

    @property
    def height_m(self) -> float:
        """How high (m) the image lies, along its columns."""
        return self.picture.m_per_px * self.read.kept_px[1]


def import_picture(
    file: Path,
    folder: Path,
    floor: str,
    placing: Placing,
    *,
    page: int | None = None,
    dpi: float | None = None,
    use: str | None = None,
    replace: bool = False,
) -> ImportedPicture:
    """Copy an image into a site folder and lay it under the plan of a floor.

    The floor is made where it is not there, with an empty plan; so is the site.

    Parameters
    ----------
    file : Path
        PNG, JPEG, TIFF or PDF.
    folder : Path
        The site folder.
    floor : str
    placing : Placing
        Its pixels are those of the image as a viewer shows it: upright, from its upper left corner.
    page, dpi : optional
        As :func:`hgmap.site.pictures.read_picture.read_picture` takes them.
    use : str, optional
        Of a new site: what the building is used for.
    replace : bool
        Put the image in the place of one that the floor has.

    Raises
    ------
    HgmapError
        In one line, what cannot be used. The folder is then as it was.
    """
    name = one_line_text(floor)
    read = read_picture(read_bytes(file, where=str(file)), name=file.name, page=page, dpi=dpi)
    placed = placed_by(placing, read, f"picture{read.ending}", file.name)
    with _site(folder, use) as (stage, made_site):
        before = read_site_files(stage)
        files = before
        made_floor = all(one.name != name for one in table_of(files).floors)
        if made_floor:
            files = add_floor(files, name)
        else:
            _refuse_standing(files, name, replace=replace)
        files = set_picture(files, name, placed.picture, data=read.data)
        save(files, before)
    kept = next(one for one in table_of(files).floors if one.name == name).picture
    assert kept is not None
    return ImportedPicture(
        PlanPicture(**kept.model_dump()), read, placed.points, placed.rmse_m, placed.doubts,
        (*read.notes, *placed.notes), made_site, made_floor,
    )  # fmt: skip


@contextlib.contextmanager
def _site(folder: Path, use: str | None) -> Iterator[tuple[Path, bool]]:
    """Give the folder of a site; a new one appears in its place only when it is whole."""
    if use is not None:
        check_use(use)
    if (folder / SITE_FILE).exists():
        if use is not None and table_of(read_site_files(folder)).use != use:
            raise SiteError(
                "the site is there, and says another use or none", where=str(folder / SITE_FILE),
                todo="leave --use out, and write the use into site.toml",
            )  # fmt: skip
        yield folder, False
        return
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise SiteError(
            "is no site folder, and not empty", where=str(folder), todo="give a new name"
        )
    with beside(folder.absolute()) as stage:
        named = one_line_text(folder.resolve().name) or "site"
        write_text(stage / SITE_FILE, new_site_text(named, use=use))
        yield stage, True


def _refuse_standing(files: SiteFiles, floor: str, *, replace: bool) -> None:
    """Refuse what would take away a picture unasked, or hide that a plan's scale is a guess."""
    entry = _entry(files, floor)
    if entry.picture is None:
        return
    if not replace:
        raise PlanError(
            f"floor {floor!r} has a picture", where=entry.picture.file,
            todo="say --replace, or give another --floor",
        )  # fmt: skip
    if entry.picture.guessed and draft_of(files, floor).features:
        raise PlanError(
            "the plan was drawn at a guessed scale, which another picture would hide",
            where=entry.plan,
            todo="set the scale of the picture that is there, by two of its points, in the window",
        )


def _entry(files: SiteFiles, floor: str) -> FloorTable:
    return next(one for one in table_of(files).floors if one.name == floor)
