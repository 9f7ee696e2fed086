"""A report as DOCX, to be edited: headings, tables and pictures of the sheets."""

from __future__ import annotations

import io
import zipfile
from typing import Any, Final

import numpy as np

from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Figure,
    Heading,
    Maps,
    Paragraph,
    Part,
    Signatures,
    Table,
)
from hgmap.report.document.paper_table import widths_of
from hgmap.report.document.style import HouseStyle
from hgmap.report.document.svg import clean
from hgmap.report.document.word_pages import (
    DPI,
    add_sheet,
    new_section,
    running_lines,
    turn,
)
from hgmap.report.drawing import Sheet
from hgmap.report.palette import NOTICE
from hgmap.report.paper import png_bytes

MARGIN_MM: Final = 18.0
_EMU_PER_MM: Final = 36000.0
_ZIP_DATE: Final = (1980, 1, 1, 0, 0, 0)
"""The first day that a ZIP can hold: the same report gives the same bytes."""


def docx_bytes(document: Document, style: HouseStyle) -> bytes:
    """Return the report as a DOCX file."""
    import docx
    from docx.shared import Mm

    word = docx.Document()
    section = word.sections[0]
    turn(section, *document.paper.sides(tall=True), MARGIN_MM)
    _looks(word, style)
    _about(word, document)

    def feet(of: Any) -> None:
        name = f"{style.name}  ·  " if style.name else ""
        running_lines(of, document.running, f"{name}{document.caution}  ·  ")

    feet(section)
    if style.logo is not None:
        picture = io.BytesIO(_png(style.logo.rgba))
        word.add_paragraph().add_run().add_picture(picture, height=Mm(style.logo.height_mm))
    if style.name:
        word.add_paragraph(clean(style.name))
    if document.banner:
        _framed(word.add_paragraph(), document.banner, bold=True)
    word.add_paragraph(clean(document.title), style="Title")
    word.add_paragraph(clean(document.subtitle), style="Subtitle")
    _facts(word, document.cover)
    _framed(word.add_paragraph(), document.caution)
    upright = True
    for part in document.parts:
        if isinstance(part, Maps):
            for _, sheet in part.sheets:
                add_sheet(word, sheet)
            upright = upright and not part.sheets
            continue
        if not upright:
            section = new_section(word)
            turn(section, *document.paper.sides(tall=True), MARGIN_MM)
            feet(section)
            upright = True
        _part(word, part, style)
    stream = io.BytesIO()
    word.save(stream)
    return _without_dates(stream.getvalue())


def _looks(word: Any, style: HouseStyle) -> None:
    from docx.oxml.ns import qn
    from docx.shared import Pt, RGBColor

    normal = word.styles["Normal"]
    normal.font.name, normal.font.size = "Arial", Pt(9.5)
    normal.paragraph_format.space_after = Pt(4)
    for name, size in (("Title", 22), ("Subtitle", 12), ("Heading 1", 15), ("Heading 2", 11)):
        look = word.styles[name]
        look.font.name, look.font.size = "Arial", Pt(size)
        look.font.color.rgb = RGBColor.from_string(style.heading[1:].upper())
        fonts = look.element.get_or_add_rPr().find(qn("w:rFonts"))
        for theme in ("asciiTheme", "hAnsiTheme", "eastAsiaTheme", "cstheme"):
            if fonts is not None:
                fonts.attrib.pop(qn(f"w:{theme}"), None)


def _about(word: Any, document: Document) -> None:
    about = word.core_properties
    about.title = clean(f"{document.title}: {document.subtitle}")[:255]
    about.author = clean(document.author)[:255]
    about.comments = "made with hgmap"
    for element in list(about._element):
        if element.tag.endswith(("}created", "}modified")):  # the template's own; no date is ours
            about._element.remove(element)


def _part(word: Any, part: Part, style: HouseStyle) -> None:
    if isinstance(part, Heading):
        word.add_heading(clean(part.text), part.depth)
    elif isinstance(part, Paragraph):
        _paragraph(word, part)
    elif isinstance(part, Bullets):
        for place, text in enumerate(part.texts):
            run = word.add_paragraph(style="List Bullet").add_run(clean(text))
            run.bold = place in part.flagged
    elif isinstance(part, Facts):
        _facts(word, part)
    elif isinstance(part, Table):
        caption = word.add_paragraph()
        caption.add_run(clean(part.caption)).bold = True
        caption.paragraph_format.keep_with_next = True
        _table(word, [c.heading for c in part.columns], part, style)
    elif isinstance(part, Figure):
        _figure(word, part)
    elif isinstance(part, Signatures):
        for what, name in part.rows:
            told = f"{what}: {name}" if name else what
            word.add_paragraph()
            word.add_paragraph(clean(f"{told}\n\nSignature ______________________    "
                                     "Date ______________"))  # fmt: skip


def _paragraph(word: Any, part: Paragraph) -> None:
    from docx.shared import RGBColor

    paragraph = word.add_paragraph()
    if part.look == "caution":
        _framed(paragraph, part.text)
        return
    run = paragraph.add_run(clean(part.text))
    run.bold = part.look == "strong"
    if part.look == "soft":
        run.font.color.rgb = RGBColor(0x5C, 0x61, 0x66)


def _framed(paragraph: Any, text: str, *, bold: bool = False) -> None:
    """Set a text in a frame, as a caution stands."""
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    paragraph.add_run(clean(text)).bold = bold
    about = paragraph._p.get_or_add_pPr()
    borders = OxmlElement("w:pBdr")
    for side in ("top", "left", "bottom", "right"):
        border = OxmlElement(f"w:{side}")
        for key, value in (("val", "single"), ("sz", "8"), ("space", "4"), ("color", "1A1A1A")):
            border.set(qn(f"w:{key}"), value)
        borders.append(border)
    shade = OxmlElement("w:shd")
    for key, value in (("val", "clear"), ("color", "auto"), ("fill", NOTICE[1:].upper())):
        shade.set(qn(f"w:{key}"), value)
    # their order among the others is fixed by the format
    about.insert_element_before(borders, "w:shd", "w:tabs", "w:spacing", "w:ind", "w:jc", "w:rPr")
    about.insert_element_before(shade, "w:tabs", "w:spacing", "w:ind", "w:jc", "w:rPr")


def _facts(word: Any, part: Facts) -> None:
    table = Table("", (), part.rows)
    _table(word, [], table, HouseStyle(), (0.27, 0.73))


def _inner_mm(word: Any) -> float:
    """Return the width of the text where it stands now (mm)."""
    page = word.sections[-1]
    wide = page.page_width - page.left_margin - page.right_margin
    return float(wide) / _EMU_PER_MM


def _table(
    word: Any, head: list[str], part: Table, style: HouseStyle, shares: tuple[float, ...] = ()
) -> None:
    """Add a table as its own XML: one call a cell would take minutes for a long appendix."""
    from docx.oxml import parse_xml
    from docx.oxml.ns import nsdecls

    whole = _inner_mm(word)
    wide = [share * whole for share in shares] or widths_of(part, whole)
    widths = [round(one / sum(wide) * whole * 56.6929) for one in wide]  # twentieths of a point
    numbers = [column.number for column in part.columns] or [False] * len(wide)
    border = f'w:val="single" w:sz="4" w:space="0" w:color="{style.rule[1:].upper()}"'
    rows = []
    if head:
        rows.append(_row(head, widths, numbers, bold=True, fill=style.table_head[1:].upper()))
    rows += [_row(row, widths, numbers, bold=place in part.strong)
             for place, row in enumerate(part.rows)]  # fmt: skip
    grid = "".join(f'<w:gridCol w:w="{wide}"/>' for wide in widths)
    xml = (
        f'<w:tbl {nsdecls("w")}><w:tblPr><w:tblW w:w="{sum(widths)}" w:type="dxa"/><w:tblBorders>'
        f"<w:top {border}/><w:bottom {border}/><w:insideH {border}/></w:tblBorders>"
        '<w:tblLayout w:type="fixed"/><w:tblCellMar><w:left w:w="60" w:type="dxa"/>'
        f'<w:right w:w="60" w:type="dxa"/></w:tblCellMar></w:tblPr><w:tblGrid>{grid}</w:tblGrid>'
        f"{''.join(rows)}</w:tbl>"
    )
    after = word.add_paragraph()
    after._p.addprevious(parse_xml(xml))


def _row(
    texts: tuple[str, ...] | list[str], widths: list[int], numbers: list[bool], *, bold: bool,
    fill: str = "",
) -> str:  # fmt: skip
    from xml.sax.saxutils import escape

    cells = []
    for text, wide, number in zip(texts, widths, numbers, strict=True):
        shade = f'<w:shd w:val="clear" w:color="auto" w:fill="{fill}"/>' if fill else ""
        side = '<w:jc w:val="right"/>' if number else ""
        strong = "<w:b/>" if bold else ""
        cells.append(
            f'<w:tc><w:tcPr><w:tcW w:w="{wide}" w:type="dxa"/>{shade}</w:tcPr><w:p><w:pPr>'
            f'<w:spacing w:before="20" w:after="20"/>{side}</w:pPr><w:r><w:rPr>{strong}'
            f'<w:sz w:val="14"/></w:rPr><w:t xml:space="preserve">{escape(clean(text))}</w:t></w:r>'
            "</w:p></w:tc>"
        )
    head = "<w:tblHeader/>" if fill else ""
    return f"<w:tr><w:trPr><w:cantSplit/>{head}</w:trPr>{''.join(cells)}</w:tr>"


def _figure(word: Any, part: Figure) -> None:
    from docx.shared import Mm

    sheet = Sheet(part.width_mm, part.height_mm, (), part.drawing)
    word.add_picture(
        io.BytesIO(png_bytes(sheet, DPI)), width=Mm(min(part.width_mm, _inner_mm(word)))
    )


def _png(rgba: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> bytes:
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(rgba), "RGBA").save(stream, "PNG")
    return stream.getvalue()


def _without_dates(content: bytes) -> bytes:
    """Write the package again with one date for every file in it."""
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            about = zipfile.ZipInfo(name, _ZIP_DATE)
            about.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(about, old.read(name))
    return stream.getvalue()
