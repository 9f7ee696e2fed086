"""Sheets to PDF, PNG and SVG files: `pdf_painter`, and matplotlib's file backends.

The same sheet gives the same bytes: no date is written. No window system is touched.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from hgmap.errors import HgmapError
from hgmap.report.drawing import Sheet
from hgmap.report.painter import figure
from hgmap.site.files import write_bytes

_SETTINGS: Final[Any] = {
    "svg.fonttype": "path",
    "svg.hashsalt": "hgmap",
    "image.composite_image": False,
    "lines.scale_dashes": False,
    "path.simplify": False,
    "path.effects": [],
    "path.sketch": None,
    "text.usetex": False,
    "text.hinting": "none",
    "axes.unicode_minus": True,
    "savefig.bbox": None,
}


def write(path: Path, sheets: Sheet | Sequence[Sheet], *, dpi: float = 200.0) -> Path:
    """Write sheets to a file; the ending says the format.

    Parameters
    ----------
    path : Path
        Ends in ``.pdf`` (a page for each sheet), ``.png`` or ``.svg`` (one sheet).
    sheets : Sheet or sequence of Sheet
        What to print.
    dpi : float
        Dots per inch of a PNG.

    Returns
    -------
    Path
        The file; it is replaced whole, or not at all.

    Raises
    ------
    HgmapError
        If the ending is another one, or there is not one sheet where one is needed, or the
        folder cannot be written.
    """
    pages = [sheets] if isinstance(sheets, Sheet) else list(sheets)
    ending = path.suffix.lower()
    if ending not in (".pdf", ".png", ".svg"):
        raise HgmapError(
            f"{ending or 'no ending'} is no sheet format",
            where=str(path),
            todo="use .pdf, .png or .svg",
        )
    if not pages or (ending != ".pdf" and len(pages) != 1):
        raise HgmapError(
            f"{len(pages)} sheets do not fit", where=str(path), todo="write a PDF, or one sheet"
        )
    content = pdf_bytes(pages) if ending == ".pdf" else _one(pages[0], ending, dpi)
    write_bytes(path, content)
    return path


def pdf_bytes(sheets: Sequence[Sheet]) -> bytes:
    """Return a PDF with a page for each sheet, and a bookmark where its title is a new one.

    Text stays text, the font is embedded; the first sheet's title and author are the file's own.
    """
    from hgmap.report.pdf_painter import painted

    return painted(sheets)


def png_bytes(sheet: Sheet, dpi: float = 200.0) -> bytes:
    """Return a PNG of a sheet."""
    return _one(sheet, ".png", dpi)


def svg_bytes(sheet: Sheet) -> bytes:
    """Return an SVG of a sheet; text is outlines, so that it needs no font."""
    return _one(sheet, ".svg", 72.0)


def _one(sheet: Sheet, ending: str, dpi: float) -> bytes:
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    stream = io.BytesIO()
    with matplotlib.rc_context(_SETTINGS):
        page = figure(sheet)
        if ending == ".png":
            about: dict[str, Any] = {"Title": sheet.title, "Software": "hgmap"}
            if sheet.author:
                about["Author"] = sheet.author
            page.set_dpi(dpi)
            canvas: Any = FigureCanvasAgg(page)
            canvas.print_png(stream, metadata=about)
        else:
            about = {"Title": sheet.title, "Creator": sheet.author or "hgmap", "Date": None}
            canvas = FigureCanvasSVG(page)
            canvas.print_svg(stream, metadata=about)
    return stream.getvalue()
