"""Where the letters of a line stand, and their outlines, for a painter that writes text itself.

A line of letters that follow one another is set here, with the font's own kerning. Letters that
change with their neighbours (marks on letters, scripts from right to left) are left to matplotlib's
layout, which takes near a millisecond a line.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import cache, lru_cache
from itertools import pairwise
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from hgmap.report.drawing import Across
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


def set_line(text: str, bold: bool) -> Iterator[Glyph]:
    """Go through the glyphs of a line, from left to right."""
    if not is_simple(text):
        yield from shaped(text, bold)
        return
    at = 0.0
    for letter, move in zip(text, kerns(text, bold), strict=True):
        at += move
        yield Glyph(letter, number_of(letter, bold), at, 0.0)
        at += width_pt(letter, 1.0, bold)


def left_end(text: str, across: Across, size: float, bold: bool) -> float:
    """Return how far (pt) the left end of a line lies from its place, negative to the left."""
    if across == "left":
        return 0.0
    width = size * line_width(text, bold)
    return -width / 2.0 if across == "centre" else -width


@cache
def outline(number: int, bold: bool) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """Return the outline of a glyph: places, a hundred units to the size, and matplotlib's codes.

    Both have a row for each place, and none for a gap between words.
    """
    from matplotlib.ft2font import LoadFlags

    with ONE_AT_A_TIME:
        font: Any = face(bold)
        font.load_glyph(number, flags=LoadFlags.NO_HINTING)
        places, codes = font.get_path()
    return np.array(places, dtype=float).reshape(-1, 2), np.array(codes, dtype=np.uint8)
