"""A report as one page of HTML: no network, every text escaped, plans that can be pointed at."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator
from html import escape
from typing import Final

from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Figure,
    Heading,
    Key,
    Maps,
    Paragraph,
    Part,
    PlanView,
    Signatures,
    Table,
)
from hgmap.report.document.page_looks import DOES, LOOKS
from hgmap.report.document.style import HouseStyle
from hgmap.report.document.svg import SvgPainter, clean, png_uri
from hgmap.report.drawing import Sheet

PX_PER_MM: Final = 96.0 / 25.4


def html_bytes(document: Document, style: HouseStyle) -> bytes:
    """Return the report as a page that needs nothing but itself; the same content, the same bytes.

    What is not from this page is forbidden in its head, scripts that are not ours too.
    """
    looks = LOOKS % {
        "heading": style.heading, "rule": style.rule, "table_head": style.table_head
    }  # fmt: skip
    policy = (
        f"default-src 'none'; img-src data:; style-src {_digest(looks)}; script-src {_digest(DOES)}"
    )
    body = "".join(_body(document, style))
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{_text(document.title)}: {_text(document.subtitle)}</title>\n"
        f'<meta name="author" content="{_text(document.author)}">\n'
        '<meta name="generator" content="hgmap">\n'
        f"<style>{looks}</style>\n</head>\n<body>\n{body}\n<script>{DOES}</script>\n</body>\n</html>\n"
    ).encode()


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _text(text: str) -> str:
    return escape(clean(text), quote=True)


def _body(document: Document, style: HouseStyle) -> Iterator[str]:
    yield "<header>"
    if style.logo is not None:
        wide, high = (round(mm * PX_PER_MM) for mm in (style.logo.width_mm, style.logo.height_mm))
        name = _text(style.name or "logo")
        yield f'<img src="{png_uri(style.logo.rgba)}" width="{wide}" height="{high}" alt="{name}">'
    if style.name:
        yield f'<p class="house" dir="auto">{_text(style.name)}</p>'
    if document.banner:
        yield f'<p class="banner">{_text(document.banner)}</p>'
    yield f'<h1 dir="auto">{_text(document.title)}</h1>'
    yield f'<p dir="auto">{_text(document.subtitle)}</p></header>\n'
    yield from _part(document.cover, -1)
    heads = [
        one.text for one in document.parts if isinstance(one, Heading) and one.depth == 1
    ]  # fmt: skip
    yield "<nav><ol>"
    for number, text in enumerate(heads, start=1):
        yield f'<li><a href="#s{number}">{_text(text)}</a></li>'
    yield "</ol></nav>\n<main>\n"
    section = 0
    for number, part in enumerate(document.parts):
        if isinstance(part, Heading) and part.depth == 1:
            section += 1
            yield f'<h2 id="s{section}" dir="auto">{_text(part.text)}</h2>\n'
        else:
            yield from _part(part, number)
            yield "\n"
    yield f'</main>\n<footer><p class="soft">{_text(document.caution)}</p></footer>\n'
    yield (
        '<div id="told" role="status" hidden><span id="words" dir="auto"></span>'
        '<button id="shut" type="button" aria-label="Close">×</button></div>'
    )


def _part(part: Part, number: int) -> Iterator[str]:
    if isinstance(part, Heading):
        yield f'<h3 dir="auto">{_text(part.text)}</h3>'
    elif isinstance(part, Paragraph):
        look = "" if part.look == "plain" else f' class="{part.look}"'
        yield f'<p{look} dir="auto">{_text(part.text)}</p>'
    elif isinstance(part, Bullets):
        yield "<ul>"
        for place, text in enumerate(part.texts):
            flag = ' class="flagged"' if place in part.flagged else ""
            yield f'<li{flag} dir="auto">{_text(text)}</li>'
        yield "</ul>"
    elif isinstance(part, Facts):
        yield "<dl>"
        for name, text in part.rows:
            yield f'<dt dir="auto">{_text(name)}</dt><dd dir="auto">{_text(text)}</dd>'
        yield "</dl>"
    elif isinstance(part, Table):
        yield from _table(part)
    elif isinstance(part, Signatures):
        for what, name in part.rows:
            yield (
                f'<div class="sign"><i></i><i></i><i></i><span dir="auto">{_text(what)}'
                f"{': ' + _text(name) if name else ''}</span><span>Signature</span>"
                "<span>Date</span></div>"
            )
    else:
        yield from _drawn(part, number)


def _table(table: Table) -> Iterator[str]:
    yield f'<div class="wide"><table><caption dir="auto">{_text(table.caption)}</caption>'
    yield "<thead><tr>"
    kinds = [' class="n"' if column.number else "" for column in table.columns]
    for column, kind in zip(table.columns, kinds, strict=True):
        yield f'<th scope="col"{kind}>{_text(column.heading)}</th>'
    yield "</tr></thead><tbody>"
    for place, row in enumerate(table.rows):
        yield '<tr class="sum">' if place in table.strong else "<tr>"
        for text, kind in zip(row, kinds, strict=True):
            yield f'<td{kind} dir="auto">{_text(text)}</td>'
        yield "</tr>\n"
    yield "</tbody></table></div>"


def _drawn(part: Figure | Key | Maps, number: int) -> Iterator[str]:
    painter = SvgPainter(f"c{number}")
    if isinstance(part, Figure):
        yield '<figure><div class="plan">'
        yield _svg(painter.page(part.drawing, part.height_mm), part.width_mm, part.height_mm,
                   part.says)  # fmt: skip
        yield "</div></figure>"
    elif isinstance(part, Key):
        yield '<p class="key">'
        for drawing, text in part.entries:
            swatch = painter.page(drawing, part.height_mm)
            yield f"<span>{_svg(swatch, part.width_mm, part.height_mm, '')} {_text(text)}</span>"
        yield "</p>"
    elif part.view is None:
        for _, sheet in part.sheets:
            yield '<figure><button class="whole" type="button" hidden>Show the whole plan</button>'
            yield f'<div class="plan" tabindex="0" role="group" aria-label="{_text(sheet.title)}">'
            yield _sheet(sheet, painter)
            yield "</div></figure>"
    else:
        yield f'<h3 dir="auto">{_text(part.title)}</h3>'
        yield "<p>Tap, or point at, a reading or a zone to read what is known of it.</p>"
        yield '<figure><button class="whole" type="button" hidden>Show the whole plan</button>'
        yield f'<div class="plan" tabindex="0" role="group" aria-label="{_text(part.title)}">'
        yield _view(part.view, painter)
        yield "</div></figure>"


def _sheet(sheet: Sheet, painter: SvgPainter) -> str:
    """Draw a sheet of paper as it prints."""
    drawn = []
    for number, frame in enumerate(sheet.frames):
        cut = f"{painter.name}-frame{number}"
        top = sheet.height_mm - frame.bottom_mm - frame.height_mm
        box = (
            f'<rect x="{frame.left_mm:.2f}" y="{top:.2f}" width="{frame.width_mm:.2f}" '
            f'height="{frame.height_mm:.2f}"/>'
        )
        drawn.append(f'<clipPath id="{cut}">{box}</clipPath><g clip-path="url(#{cut})">')
        drawn.append(painter.frame(frame, sheet.height_mm) + "</g>")
    drawn.append(painter.page(sheet.page, sheet.height_mm))
    return _svg("".join(drawn), sheet.width_mm, sheet.height_mm, sheet.title)


def _view(view: PlanView, painter: SvgPainter) -> str:
    frame = view.frame
    height = frame.height_mm + view.below_mm
    cut = f"{painter.name}-frame"
    box = f'<rect x="0" y="0" width="{frame.width_mm:.2f}" height="{frame.height_mm:.2f}"/>'
    drawn = (
        f'<clipPath id="{cut}">{box}</clipPath><g clip-path="url(#{cut})">'
        + painter.frame(frame, frame.height_mm)
        + painter.targets(view.targets, frame, frame.height_mm)
        + "</g>"
        + painter.page(view.below, height)
    )
    return _svg(drawn, frame.width_mm, height, view.title)


def _svg(drawn: str, width_mm: float, height_mm: float, title: str) -> str:
    named = f'role="img" aria-label="{_text(title)}"' if title else 'aria-hidden="true"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width_mm:.2f} {height_mm:.2f}" '
        f'width="{width_mm * PX_PER_MM:.0f}" height="{height_mm * PX_PER_MM:.0f}" {named}>{drawn}'
        "</svg>"
    )
