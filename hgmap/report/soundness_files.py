"""The sheets of a soundness check as files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from hgmap.editing.plan_check import PlansCheck
from hgmap.errors import HgmapError
from hgmap.report.drawing import Sheet
from hgmap.report.paper import pdf_bytes, png_bytes, svg_bytes
from hgmap.report.soundness_sheet import soundness_sheets
from hgmap.site.files import slug, write_bytes
from hgmap.site.model import Site

DPI: Final = 150.0
ENDINGS: Final = (".png", ".svg", ".pdf")


def write_pictures(path: Path, site: Site, plans: PlansCheck) -> list[Path]:
    """Draw every floor with its findings; return the files.

    Parameters
    ----------
    path : Path
        A PDF has a page for each floor. Of a PNG or SVG and several floors each has a file of its
        own, the floor's name behind that of the file.
    site : Site
        For the head.
    plans : PlansCheck

    Raises
    ------
    HgmapError
        If the ending is another, no floor has a plan to draw, or a file cannot be written.
    """
    return write_sheets(path, soundness_sheets(site, plans.floors))


def write_sheets(path: Path, sheets: Sequence[tuple[str, Sheet]]) -> list[Path]:
    """Write the sheets of floors, each under its floor's name; see :func:`write_pictures`."""
    ending = path.suffix.casefold()
    if ending not in ENDINGS:
        raise HgmapError(
            f"{ending or 'no ending'} is no picture", where=str(path),
            todo=f"end it in {', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}",
        )  # fmt: skip
    if not sheets:
        raise HgmapError("there is no plan to draw", where=str(path))
    if ending == ".pdf":
        write_bytes(path, pdf_bytes([sheet for _, sheet in sheets]))
        return [path]
    made = []
    for floor, sheet in sheets:
        file = path if len(sheets) == 1 else path.with_name(
            f"{path.stem}-{slug(floor)}{path.suffix}"
        )  # fmt: skip
        data = png_bytes(sheet, DPI) if ending == ".png" else svg_bytes(sheet)
        write_bytes(file, data)
        made.append(file)
    return made
