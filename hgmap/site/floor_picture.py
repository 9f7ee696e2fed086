"""The image under a floor's plan as site.toml names it: no map depends on it, so it may be gone.

But a plan that is drawn after it has its scale.
"""

from __future__ import annotations

from collections.abc import Callable

from hgmap.errors import SiteError
from hgmap.site.model import Problem
from hgmap.site.plan_picture import GUESSED, PICTURE_ENDINGS, PlanPicture
from hgmap.site.schema import FloorTable


def floor_picture(
    entry: FloorTable, exists: Callable[[str], bool]
) -> tuple[PlanPicture | None, tuple[Problem, ...]]:
    """Return where the image of a floor lies, and what is to be known of it.

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
    guessed: tuple[Problem, ...] = ()
    if picture.guessed:
        todo = "set its scale by two points of the picture, and the metres between them"
        guessed = (Problem("warning", f"floor {entry.name!r}", GUESSED, todo, entry.name),)

    def note(message: str, todo: str) -> tuple[Problem, ...]:
        return (*guessed, Problem("note", picture.file, message, todo, entry.name))

    if not picture.file.casefold().endswith(PICTURE_ENDINGS):
        return _kept(picture), note(
            f"the picture of floor {entry.name!r} is no PNG or JPEG", "save it as one of them"
        )
    try:
        found = exists(picture.file)
    except SiteError as error:
        return _kept(picture), note(error.message, error.todo)
    if not found:
        return picture, note(
            f"the picture under the plan of floor {entry.name!r} is missing",
            "put it there and set its scale"
            if guessed
            else "put it there, or take [floors.picture] out of site.toml; the maps do not need it",
        )
    return picture, guessed


def _kept(picture: PlanPicture) -> PlanPicture | None:
    """Return a picture that cannot be shown: only where the plan's scale hangs on it."""
    return picture if picture.guessed else None
