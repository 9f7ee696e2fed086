"""Where the letters of a line stand, and their outlines, for a painter that writes text itself.

A line of letters that follow one another is set here, with the font's own kerning. Letters that
change with their neighbours (marks on letters, scripts from right to left) are left to matplotlib's
layout, which takes near a millisecond a line.
"""

from __future__ import annotations

import unicodedata
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any, Final, NamedTuple

import numpy as np

from hgmap.report.typeset import ONE_AT_A_TIME, face, width_pt

_KERNING_UNITS: Final = 2048.0
"""Units of an em in DejaVu Sans."""


class Glyph(NamedTuple):
    """A glyph of a line: the letter it stands for, and where it stands (as a part of the size)."""

    letter: str
    number: int
    x: float
    y: float


def is_simple(text: str) -> bool:
    """Tell whether letters of a text stand one after another, whatever their neighbours.

    Examples
    --------
    >>> is_simple("Büro 3"), is_simple("\u05e9"), is_simple("n\u0304")
    (True, False, False)
    """
    return text.isascii() or not any(
        unicodedata.bidirectional(letter) in ("R", "AL", "AN")
        or unicodedata.category(letter)[0] in ("M", "C")
        for letter in text
    )


@cache
def kern(left: str, right: str, bold: bool) -> float:
    """Return how much a letter moves because of the one before it, as a part of the size."""
    from matplotlib.ft2font import Kerning

    with ONE_AT_A_TIME:
        font = face(bold)
        first, second = font.get_char_index(ord(left)), font.get_char_index(ord(right))
        return font.get_kerning(first, second, Kerning.UNSCALED) / _KERNING_UNITS


def kerns(text: str, bold: bool) -> list[float]:
    """Return what `kern` says before each letter of a simple text; nothing before the first."""
    return [0.0, *(kern(left, right, bold) for left, right in pairwise(text))]


@lru_cache(maxsize=256)
def shaped(text: str, bold: bool) -> tuple[Glyph, ...]:
    """Return the glyphs of a line that is not simple, from left to right."""
    from matplotlib import _text_helpers

    with ONE_AT_A_TIME:
        font = face(bold)
        return tuple(
            Glyph(one.char, one.glyph_index, one.x / 100.0, getattr(one, "y", 0.0) / 100.0)
            for one in _text_helpers.layout(text, font)
        )


def line_width(text: str, bold: bool) -> float:
    """Return how wide a line is as it is set, as a part of the size."""
    if is_simple(text):
        return width_pt(text, 1.0, bold) + sum(kerns(text, bold))
    glyphs = shaped(text, bold)
    return max((one.x + width_pt(one.letter[:1], 1.0, bold) for one in glyphs), default=0.0)


@cache
def number_of(letter: str, bold: bool) -> int:
    """Return the number of a letter's glyph in the font."""
    with ONE_AT_A_TIME:
        return int(face(bold).get_char_index(ord(letter)))


@cache
def outline(number: int, bold: bool) -> str:
    """Return a glyph as operators of a PDF path, a hundred units to the size; none for a gap."""
    from matplotlib.ft2font import LoadFlags

    with ONE_AT_A_TIME:
        font: Any = face(bold)
        font.load_glyph(number, flags=LoadFlags.NO_HINTING)
        places, codes = font.get_path()
    steps: list[str] = []
    at, here = 0, np.zeros(2)
    while at < len(codes):
        code = int(codes[at])
        if code == 79:  # CLOSEPOLY
            steps.append("h")
            at += 1
            continue
        count = {1: 1, 2: 1, 3: 2, 4: 3}[code]
        ends = np.asarray(places[at : at + count], dtype=float)
        if code == 3:  # a curve by one point in between, said by two
            middle, end = ends
            ends = np.array([here + (middle - here) * 2 / 3, end + (middle - end) * 2 / 3, end])
        here = ends[-1]
        numbers = " ".join(f"{one:.2f}" for one in ends.ravel())
        steps.append(f"{numbers} {'m' if code == 1 else 'l' if code == 2 else 'c'}")
        at += count
    return " ".join(steps)
