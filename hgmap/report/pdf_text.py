"""Lines of text of a PDF: letters that can be selected, in a font that the file holds a part of."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from threading import Lock
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from hgmap.report.glyphs import is_simple, kerns, outline, set_line, shaped
from hgmap.report.typeset import font_file

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

SAVING: Final = Lock()
"""A font is read from one place at a time; two threads may print."""

_RIM: Final = 0.32
"""Width of a rim about letters, as a part of the size."""


@cache
def pdf_font(bold: bool) -> TTFont:
    """Return the font that `typeset` measures with, as reportlab puts it into files."""
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    font = TTFont(f"hgmap-{'bold' if bold else 'plain'}", str(font_file(bold)), asciiReadable=False)
    # reportlab asks its own list for the font that a page begins with
    pdfmetrics.registerFont(font)
    return font


@cache
def _letters_of(bold: bool) -> dict[int, str]:
    """Return the letter of each glyph that has one."""
    found: dict[int, str] = {}
    for code, number in sorted(pdf_font(bold).face.charToGlyph.items()):
        found.setdefault(number, chr(code))
    return found


def line(document: Any, text: str, x: float, y: float, size: float, bold: bool) -> Iterator[str]:
    """Go through the operators that write a line from its left end on, in the colour of fills.

    Parameters
    ----------
    document : reportlab.pdfbase.pdfdoc.PDFDocument
        It notes the letters that the file needs.
    text : str
        As `typeset.printable` returns it.
    x, y, size : float
        In points.
    bold : bool
    """
    yield "BT"
    if is_simple(text):
        yield f"1 0 0 1 {x:.3f} {y:.3f} Tm"
        yield from _simple(document, text, size, bold)
    else:
        letters = _letters_of(bold)
        for glyph in shaped(text, bold):
            # a shaped letter has a code point of its own in this font
            letter = letters.get(glyph.number, glyph.letter[:1])
            if letter.strip():
                yield f"1 0 0 1 {x + glyph.x * size:.3f} {y + glyph.y * size:.3f} Tm"
                yield from _simple(document, letter, size, bold)
    yield "ET"


def _simple(document: Any, text: str, size: float, bold: bool) -> Iterator[str]:
    font = pdf_font(bold)
    moves = kerns(text, bold)
    at = 0
    for subset, codes in font.splitString(text, document):
        yield f"{font.getSubsetInternalName(subset, document)} {size:.4g} Tf"
        parts, start = [], 0
        for index in range(len(codes)):
            move = moves[at + index]
            if move:
                if index > start:
                    parts.append(f"<{codes[start:index].hex()}>")
                parts.append(f"{-1000.0 * move:.0f}")
                start = index
        parts.append(f"<{codes[start:].hex()}>")
        yield f"[{' '.join(parts)}] TJ"
        at += len(codes)


def rim(text: str, x: float, y: float, size: float, bold: bool) -> Iterator[str]:
    """Go through the operators that draw a rim about a line, in the colours of fills and strokes.

    Outlines, so that a search finds the line once.
    """
    scale = size / 100.0
    yield f"q {scale:.6f} 0 0 {scale:.6f} {x:.3f} {y:.3f} cm {100.0 * _RIM:.4g} w 1 j [] 0 d"
    before_x = before_y = 0.0
    for glyph in set_line(text, bold):
        path = _path(glyph.number, bold)
        if path:
            # one after another: letters stay the same operators, which pack well
            right, up = 100.0 * glyph.x - before_x, 100.0 * glyph.y - before_y
            yield f"1 0 0 1 {right:.2f} {up:.2f} cm"
            yield f"{path} B"
            before_x, before_y = 100.0 * glyph.x, 100.0 * glyph.y
    yield "Q"


@cache
def _path(number: int, bold: bool) -> str:
    """Return the outline of a glyph as operators, a hundred units to the size."""
    places, codes = outline(number, bold)
    steps: list[str] = []
    at, here = 0, np.zeros(2)
    while at < len(codes):
        code = int(codes[at])
        if code == 79:  # the end of a ring
            steps.append("h")
            at += 1
            continue
        count = {1: 1, 2: 1, 3: 2, 4: 3}[code]
        ends = places[at : at + count]
        if code == 3:  # a curve by one point in between, said by two
            middle, end = ends
            ends = np.array([here + (middle - here) * 2 / 3, end + (middle - end) * 2 / 3, end])
        here = ends[-1]
        numbers = " ".join(f"{one:.2f}" for one in ends.ravel())
        steps.append(f"{numbers} {'m' if code == 1 else 'l' if code == 2 else 'c'}")
        at += count
    return " ".join(steps)
