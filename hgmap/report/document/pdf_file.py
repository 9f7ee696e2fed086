"""A report as PDF, by the painter of the sheets: vector, text that can be selected and searched."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Figure,
    Heading,
    Maps,
    Paragraph,
    Signatures,
    Table,
    texts_of,
)
from hgmap.report.document.paper_flow import LOW_MM, MARGIN_MM, Flow, Page, inner_mm
from hgmap.report.document.paper_table import set_table
from hgmap.report.document.style import HouseStyle
from hgmap.report.drawing import Area, Item, Label, Pen, Picture, Sheet
from hgmap.report.notes import OTHER_SCRIPT
from hgmap.report.palette import INK, NOTICE, SOFT
from hgmap.report.paper import pdf_bytes
from hgmap.report.typeset import fit, lacks_letters, width_mm, wrap

_FOOT_PT: Final = 6.2
_CONTENTS_PT: Final = 9.0


def report_pdf(document: Document, style: HouseStyle) -> bytes:
    """Return the report as PDF; the same content gives the same bytes."""
    return pdf_bytes(report_sheets(document, style))


def report_sheets(document: Document, style: HouseStyle) -> list[Sheet]:
    """Lay out every page: the first with the contents, text, the maps on their own sheets."""
    flow = Flow(document.running, style, paper=document.paper)
    flow.turn()
    made: list[Page | Sheet] = []
    sections: list[tuple[str, int]] = []

    def settle() -> None:
        """Take the pages that are full, so that a sheet can follow them."""
        made.extend(flow.pages)
        flow.pages = []

    for part in document.parts:
        if isinstance(part, Maps):
            settle()
            made += [sheet for _, sheet in part.sheets]
            continue
        if not flow.pages:
            flow.turn()
        if isinstance(part, Heading):
            flow.heading(part)
            if part.depth == 1:
                sections.append((part.text, len(made) + len(flow.pages) + 1))
        elif isinstance(part, Paragraph):
            flow.paragraph(part)
        elif isinstance(part, Bullets):
            flow.bullets(part)
        elif isinstance(part, Facts):
            flow.facts(part)
        elif isinstance(part, Table):
            set_table(flow, part)
        elif isinstance(part, Figure):
            flow.figure(part)
        elif isinstance(part, Signatures):
            flow.signatures(part)
        # a key stands on every sheet already
    settle()
    pages = [_cover(document, style, sections), *made]
    title = f"{document.title}: {document.subtitle}"
    return [
        _finished(page, number, len(pages), document, style, title if number == 1 else "")
        for number, page in enumerate(pages, start=1)
    ]


def _finished(
    page: Page | Sheet, number: int, count: int, document: Document, style: HouseStyle, title: str
) -> Sheet:
    """Put the foot under a page."""
    told = f"page {number} of {count}"
    if isinstance(page, Sheet):
        label = Label(page.width_mm - 10.0, 4.2, told, _FOOT_PT, SOFT, across="right")
        return replace(page, page=(*page.page, label))
    inner = inner_mm(document.paper)
    right = MARGIN_MM + inner
    wide = inner - width_mm(told, _FOOT_PT) - 6.0
    foot: list[Item] = [Label(right, 12.0, told, _FOOT_PT, SOFT, across="right", up="top")]
    lines = [*([fit(style.name, _FOOT_PT, wide)] if style.name else []),
             *wrap(document.caution, _FOOT_PT, wide, most_lines=2)]  # fmt: skip
    for place, line in enumerate(lines):
        y = 12.0 - place * line_mm(_FOOT_PT)
        foot.append(Label(MARGIN_MM, y, line, _FOOT_PT, SOFT, up="top"))
    return Sheet(
        *document.paper.sides(tall=True), tuple(page.frames), (*page.items, *foot),
        title or ", ".join(page.begins) or page.section, document.author,
        (title,) if title else tuple(page.begins),
    )  # fmt: skip


def _cover(document: Document, style: HouseStyle, sections: list[tuple[str, int]]) -> Page:
    """Lay out the first page: whose report, of what, its contents, and the caution."""
    flow = Flow(document.running, style, [Page(section="Title")],
                document.paper.long_mm - MARGIN_MM, paper=document.paper)  # fmt: skip
    logo, below = style.logo, 0.0
    if logo is not None:
        box = (MARGIN_MM, flow.top - logo.height_mm, MARGIN_MM + logo.width_mm, flow.top)
        flow.page.items.append(Picture(logo.rgba, box))
        below = logo.height_mm
    if document.banner:
        below = max(below, _banner(flow, document.banner))
    flow.down(below + (4.0 if below else 0.0))
    if style.name:
        flow.lines([fit(style.name, 10.0, flow.inner_mm)], 10.0, colour=SOFT)
    flow.down(14.0)
    flow.lines(wrap(document.title, 22.0, flow.inner_mm, bold=True, most_lines=3), 22.0, bold=True,
               colour=style.heading)  # fmt: skip
    flow.down(1.0)
    flow.lines(wrap(document.subtitle, 12.0, flow.inner_mm, most_lines=2), 12.0)
    flow.down(3.0)
    flow.rule(style.heading, 1.0)
    flow.down(6.0)
    flow.facts(document.cover, most_lines=3)
    flow.down(4.0)
    flow.lines(["Contents"], 10.5, bold=True, colour=style.heading)
    flow.down(1.0)
    most = int((flow.left_over - 18.0) / (line_mm(_CONTENTS_PT) + 0.6))
    for text, number in sections[:most]:
        shown = fit(text, _CONTENTS_PT, flow.inner_mm - 16.0)
        y = flow.top
        right = Label(
            MARGIN_MM + flow.inner_mm, y, f"{number}", _CONTENTS_PT, INK, False, "right", "top"
        )
        flow.page.items.append(right)
        flow.lines([shown], _CONTENTS_PT)
        flow.down(0.6)
    if any(map(lacks_letters, texts_of(document))):
        flow.top = LOW_MM + 20.0
        told = f"{OTHER_SCRIPT.split(';')[0]}; the DOCX and the page of HTML have them"
        flow.lines([fit(told, 8.0, flow.inner_mm)], 8.0)
    flow.top = LOW_MM + 14.0
    flow.fresh = True
    flow.framed(document.caution)
    return flow.pages[0]


def _banner(flow: Flow, text: str) -> float:
    """Draw the banner at the right of the head; return its height (mm)."""
    wide, high = width_mm(text, 12.0, bold=True) + 10.0, 10.0
    right = MARGIN_MM + flow.inner_mm
    box = shapely.box(right - wide, flow.top - high, right, flow.top)
    middle = Label(right - wide / 2.0, flow.top - high / 2.0, text, 12.0, INK, True, "centre",
                   "middle")  # fmt: skip
    flow.page.items += [Area(box, fill=NOTICE, pen=Pen(INK, 1.4)), middle]
    return high
