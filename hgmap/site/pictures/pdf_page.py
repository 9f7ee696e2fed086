"""A page of a PDF painted to pixels, with the optional library pypdfium2."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from hgmap.errors import PlanError
from hgmap.site.pictures.pages import which_page

if TYPE_CHECKING:
    from PIL.Image import Image

USUAL_DPI: Final = 200.0
"""A line of 0.25 mm is two pixels wide."""

MOST_DPI: Final = 1200.0
_PT_PER_INCH: Final = 72.0


def paint_page(
    data: bytes, *, name: str, page: int | None, dpi: float | None, most_px: int
) -> tuple[Image, str]:
    """Paint one page, upright as a reader of the file sees it.

    Parameters
    ----------
    data : bytes
        The PDF.
    name : str
        Named in messages.
    page : int, optional
        From 1; has to be said where there are several.
    dpi : float, optional
        Dots per inch; 200 where nothing is said.
    most_px : int
        A page that would have more pixels is refused before it is painted.

    Returns
    -------
    image : PIL.Image.Image
        Mode RGB or L, on white.
    note : str
        Which page, and how.

    Raises
    ------
    PlanError
        If the library is not installed, the file is damaged or locked, or there is no such page.
    """
    try:
        import pypdfium2 as pdfium
    except ImportError:
        raise PlanError(
            "is a PDF, and the library that paints its pages is not installed", where=name,
            todo="pip install 'hgmap[drawings]', or save the page as PNG",
        ) from None  # fmt: skip
    dpi = USUAL_DPI if dpi is None else dpi
    if not 1.0 <= dpi <= MOST_DPI:
        raise PlanError(f"{dpi:g} dots an inch", where="--dpi", todo=f"say 1 to {MOST_DPI:g}")
    document: Any = None
    try:
        document = pdfium.PdfDocument(data)
        return _painted(document, name, page, dpi, most_px)
    except pdfium.PdfiumError as error:
        locked = "assword" in str(error)
        raise PlanError(
            "is locked by a password" if locked else f"is damaged or cut off ({error})",
            where=name,
            todo="save it without the password" if locked else "export it again",
        ) from None
    finally:
        if document is not None:
            document.close()


def _painted(
    document: Any, name: str, page: int | None, dpi: float, most_px: int
) -> tuple[Image, str]:
    pages = len(document)
    number = which_page(page, pages, name=name)
    sheet = document[number - 1]
    wide, high = (side * dpi / _PT_PER_INCH for side in sheet.get_size())
    if not (math.isfinite(wide * high) and min(wide, high) >= 1):
        raise PlanError(f"page {number} has no size", where=name, todo="export it again")
    if wide * high > most_px:
        fits = math.floor(dpi * math.sqrt(most_px / (wide * high)))
        raise PlanError(
            f"page {number} would have {wide:.0f} by {high:.0f} pixels", where=name,
            todo=f"say --dpi {fits}" if fits >= 1 else "export it on smaller paper",
        )  # fmt: skip
    image: Image = sheet.render(scale=dpi / _PT_PER_INCH).to_pil().convert("RGB")
    sheet.close()
    red, green, blue = image.split()
    if red.tobytes() == green.tobytes() == blue.tobytes():
        image = red  # a drawing in black: a third of the bytes
    return image, f"page {number} of {pages}, painted with {dpi:g} dots an inch"
