"""Which page of a file of several is meant: never guessed."""

from __future__ import annotations

from hgmap.errors import PlanError

PICTURES = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".pdf")
"""Endings of what is read as a picture."""


class SeveralPages(PlanError):  # noqa: N818
    """A file has several pages, and none was said; ``pages`` is how many."""

    pages: int = 0


def which_page(page: int | None, pages: int, *, name: str) -> int:
    """Return the number of a page, from 1.

    Raises
    ------
    PlanError
        If there are several and none was said, or there is no such page.

    Examples
    --------
    >>> which_page(None, 1, name="plan.pdf")
    1
    """
    if pages < 1:
        raise PlanError("has no page", where=name, todo="export it again")
    if page is None and pages > 1:
        several = SeveralPages(f"has {pages} pages", where=name, todo="say which, as --page 1")
        several.pages = pages
        raise several
    if page is not None and not 1 <= page <= pages:
        raise PlanError(
            f"has no page {page}: it has {pages}", where=name, todo="say another --page"
        )
    return page or 1
