"""Sheets to PDF, PNG and SVG files: `pdf_painter`, and matplotlib's renderers.

The same sheet gives the same bytes: no date is written. No window system is touched.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from hgmap.errors import HgmapError
from hgmap.report.drawing import PT_PER_MM, Sheet
from hgmap.report.painter import paint
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

_PACKED: Final = 3
"""How hard a PNG is packed, 0 to 9: sheets are no larger than at 6, and sooner done."""


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
    if ending == ".pdf":
        content = pdf_bytes(pages)
    else:
        content = png_bytes(pages[0], dpi) if ending == ".png" else svg_bytes(pages[0])
    write_bytes(path, content)
    return path


def pdf_bytes(sheets: Sequence[Sheet]) -> bytes:
    """Return a PDF with a page for each sheet; a bookmark for each section, or a title that is new.

    Text stays text, the font is embedded; the first sheet's title and author are the file's own.
    """
    from hgmap.report.pdf_painter import painted

    return painted(sheets)


def png_bytes(sheet: Sheet, dpi: float = 200.0) -> bytes:
    """Return a PNG of a sheet."""
    import matplotlib
    from matplotlib.backends import backend_agg
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    about = PngInfo()
    told = {"Title": sheet.title, "Software": "hgmap", "Author": sheet.author}
    for name, value in told.items():
        if value:
            about.add_text(name, value)
    with matplotlib.rc_context(_SETTINGS):
        size = (sheet.width_mm / 25.4 * dpi, sheet.height_mm / 25.4 * dpi)
        make: Any = backend_agg.RendererAgg
        renderer = make(*size, dpi)
        paint(sheet, renderer, dpi / 25.4)
        pixels = np.asarray(renderer.buffer_rgba())[..., :3]
    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(
        stream, "PNG", pnginfo=about, dpi=(dpi, dpi), compress_level=_PACKED
    )
    return stream.getvalue()


def svg_bytes(sheet: Sheet) -> bytes:
    """Return an SVG of a sheet; text is outlines, so that it needs no font."""
    import matplotlib
    from matplotlib.backends import backend_svg

    stream = io.StringIO()
    about = {"Title": sheet.title, "Creator": sheet.author or "hgmap", "Date": None}
    with matplotlib.rc_context(_SETTINGS):
        size = (sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM)
        make: Any = backend_svg.RendererSVG
        renderer = make(*size, stream, image_dpi=72, metadata=about)
        paint(sheet, renderer, PT_PER_MM)
        renderer.finalize()
    return stream.getvalue().encode()
