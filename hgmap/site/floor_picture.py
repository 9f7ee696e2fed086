"""The image under a floor's plan as site.toml names it: no map depends on it, so it may be gone."""

from __future__ import annotations

from collections.abc import Callable

from hgmap.errors import SiteError
from hgmap.site.model import Problem
from hgmap.site.plan_picture import PICTURE_ENDINGS, PlanPicture
from hgmap.site.schema import FloorTable


def floor_picture(
    entry: FloorTable, exists: Callable[[str], bool]
) -> tuple[PlanPicture | None, tuple[Problem, ...]]:
    """Return where the image of a floor lies, and a note where it cannot be shown.

    Parameters
    ----------
    entry : FloorTable
    exists : callable
        Tells whether the site folder has a file of this name; raises :class:`SiteError` for a
        name that leaves the folder.
    """
    if entry.picture is None:
        return None, ()
    picture = PlanPicture(**entry.picture.model_dump())

    def note(message: str, todo: str) -> tuple[Problem, ...]:
        return (Problem("note", picture.file, message, todo, entry.name),)

    if not picture.file.casefold().endswith(PICTURE_ENDINGS):
        return None, note(
            f"the picture of floor {entry.name!r} is no PNG or JPEG", "save it as one of them"
        )
    try:
        found = exists(picture.file)
    except SiteError as error:
        return None, note(error.message, error.todo)
    if not found:
        return picture, note(
            f"the picture under the plan of floor {entry.name!r} is missing",
            "put it there, or take [floors.picture] out of site.toml; the maps do not need it",
        )
    return picture, ()
