"""Pages of a DOCX: their size, what runs along them, and sheets at their own scale."""

from __future__ import annotations

import io
from typing import Any, Final

from hgmap.report.document.svg import clean
from hgmap.report.drawing import Sheet
from hgmap.report.paper import png_bytes

DPI: Final = 150.0
CUT_MM: Final = 8.0
"""Of a sheet's empty edge, which is the margin of its page here; a plan keeps its scale."""

_SPARE_MM: Final = 2.0
_FOOT_PT: Final = 7.0


def new_section(word: Any) -> Any:
    """Begin a section whose running lines are its own; the break takes no line of the page."""
    from docx.enum.section import WD_SECTION

    section = word.add_section(WD_SECTION.NEW_PAGE)
    for lines in (section.header, section.footer):
        lines.is_linked_to_previous = False
    ended = word.element.body.sectPr.getprevious()  # an empty paragraph that holds the break
    before = ended.getprevious()
    if before is not None and before.tag == ended.tag and before.find(".//" + _BREAK) is None:
        before.get_or_add_pPr().append(ended.pPr.find(_BREAK))
        word.element.body.remove(ended)
    return section


_BREAK: Final = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}sectPr"


def turn(section: Any, width_mm: float, height_mm: float, margin_mm: float) -> None:
    """Give the pages of a section their size and margins (mm)."""
    from docx.enum.section import WD_ORIENT
    from docx.shared import Mm

    wide = width_mm > height_mm
    section.orientation = WD_ORIENT.LANDSCAPE if wide else WD_ORIENT.PORTRAIT
    section.page_width, section.page_height = Mm(width_mm), Mm(height_mm)
    for side in ("left_margin", "right_margin", "top_margin", "bottom_margin"):
        setattr(section, side, Mm(margin_mm))
    section.header_distance = section.footer_distance = Mm(min(6.0, margin_mm))


def running_lines(section: Any, head: str, foot: str) -> None:
    """Write what stands over and under the pages of a section; the page's number comes last."""
    from docx.shared import Pt

    line = section.footer.paragraphs[0]
    line.add_run(clean(f"{foot}page ")).font.size = Pt(_FOOT_PT)
    _field(line, "PAGE")
    line.add_run(" of ").font.size = Pt(_FOOT_PT)
    _field(line, "NUMPAGES")
    if head:
        section.header.paragraphs[0].add_run(clean(head)).font.size = Pt(_FOOT_PT)


def _field(paragraph: Any, name: str) -> None:
    """Add a number that the reader's program fills in."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn
    from docx.shared import Pt

    for kind in ("begin", "", "separate", "text", "end"):
        run = paragraph.add_run("1" if kind == "text" else "")
        run.font.size = Pt(_FOOT_PT)
        if kind == "text":
            continue
        if kind:
            mark = OxmlElement("w:fldChar")
            mark.set(qn("w:fldCharType"), kind)
        else:
            mark = OxmlElement("w:instrText")
            mark.set(qn("xml:space"), "preserve")
            mark.text = f" {name} "
        run._r.append(mark)


def add_sheet(word: Any, sheet: Sheet) -> None:
    """Put a sheet on a page of its own size, at its own scale, as a picture."""
    from docx.enum.text import WD_ALIGN_PARAGRAPH
    from docx.shared import Mm, Pt

    section = new_section(word)
    turn(section, sheet.width_mm, sheet.height_mm, CUT_MM)
    section.top_margin = section.bottom_margin = Mm(CUT_MM - 0.5 * _SPARE_MM)
    section.header_distance = section.footer_distance = Mm(1.0)
    foot = section.footer.paragraphs[0]
    foot.alignment = WD_ALIGN_PARAGRAPH.RIGHT
    running_lines(section, "", "")
    for lines in (section.header, section.footer):
        lines.paragraphs[0].paragraph_format.space_after = Pt(0)
    line = word.add_paragraph()
    line.paragraph_format.space_before = line.paragraph_format.space_after = Pt(0)
    picture = io.BytesIO(_without_edge(png_bytes(sheet, DPI), sheet))
    line.add_run().add_picture(
        picture,
        width=Mm(sheet.width_mm - 2.0 * CUT_MM), height=Mm(sheet.height_mm - 2.0 * CUT_MM),
    )  # fmt: skip


def _without_edge(png: bytes, sheet: Sheet) -> bytes:
    from PIL import Image

    with Image.open(io.BytesIO(png)) as whole:
        x, y = (
            CUT_MM * pixels / side
            for pixels, side in zip(whole.size, (sheet.width_mm, sheet.height_mm), strict=True)
        )
        box = (round(x), round(y), round(whole.width - x), round(whole.height - y))
        stream = io.BytesIO()
        whole.crop(box).save(stream, "PNG")
    return stream.getvalue()
