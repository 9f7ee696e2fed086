"""Measure, wrap and cut lines of text, so that nothing leaves its place on the page."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Final

from hgmap.report.drawing import PT_PER_MM

if TYPE_CHECKING:
    from matplotlib.ft2font import FT2Font

LINE_SPACING: Final = 1.32
"""Distance between baselines, as a multiple of the size."""

_UNITS: Final = frozenset({"m", "m²", "km²", "mm", "%", "°C", "h", "ng/m³", "µg/m³", "mg/m³"})
_ELLIPSIS: Final = "…"
NO_GLYPH: Final = "\u25a1"
"""Stands for a letter that the font does not have."""
_LEFT_TO_RIGHT: Final = "\u200e"


def font_file(bold: bool = False) -> Path:
    """Return the file of the one font that the sheets use (DejaVu Sans, shipped by matplotlib).

    matplotlib is found, not imported: a window that only wants the font opens sooner.
    """
    found = find_spec("matplotlib")
    if found is None or found.origin is None:
        raise ModuleNotFoundError("matplotlib is not installed", name="matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    return Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name


ONE_AT_A_TIME: Final = Lock()
"""Two threads at one font find no letters in it, or crash (FreeType, "FT_Face")."""


@cache
def face(bold: bool) -> FT2Font:
    """Return the font at 100 pt and 72 dpi; hold `ONE_AT_A_TIME` while you ask it."""
    from matplotlib.ft2font import FT2Font

    font = FT2Font(str(font_file(bold)))
    font.set_size(100.0, 72.0)
    return font


@cache
def _advance(character: str, bold: bool) -> float:
    """Width of a character as a fraction of the size."""
    with ONE_AT_A_TIME:
        return float(face(bold).load_char(ord(character)).linearHoriAdvance) / 65536.0 / 100.0


@cache
def _known(character: str) -> bool:
    with ONE_AT_A_TIME:
        return bool(face(False).get_char_index(ord(character)))


def printable(text: str, known: Callable[[str], bool] | None = None) -> str:
    """Return a text on one line, with a mark in place of a character the font does not have.

    ``known`` tells whether the font has a character; a window asks its own copy of the font.

    Examples
    --------
    >>> printable(" a  b ")
    'a b'
    """
    if known is None:
        return _of_our_font(text)
    return _shown(text, known)


@lru_cache(maxsize=4096)
def _of_our_font(text: str) -> str:
    return _shown(text, _known)


def _shown(text: str, has: Callable[[str], bool]) -> str:
    shown = "".join(letter if has(letter) else NO_GLYPH for letter in plain(text))
    # a line that mixes scripts runs from left to right, as the rest of the sheet does
    turns = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in shown)
    return _LEFT_TO_RIGHT + shown if turns else shown


def lacks_letters(text: str) -> bool:
    """Tell whether a text has a letter that the font does not have.

    Examples
    --------
    >>> lacks_letters("Büro"), lacks_letters("\u5b66\u6821")
    (False, True)
    """
    return not all(map(_known, plain(text)))


@lru_cache(maxsize=4096)
def plain(text: str) -> str:
    """Return a text on one line, without control characters, in composed letters.

    The mark that ends a name written from right to left stays: it has no width.
    """
    spaced = "".join(
        " "
        if unicodedata.category(letter).startswith(("C", "Z")) and letter != _LEFT_TO_RIGHT
        else letter
        for letter in text
    )
    return unicodedata.normalize("NFC", " ".join(spaced.split()))


def width_pt(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide a line is (pt), without kerning."""
    return size_pt * _length(text, bold)


@lru_cache(maxsize=16_384)
def _length(text: str, bold: bool) -> float:
    """Return how wide a line is at a size of one; names are tried at many sizes."""
    return sum(_advance(letter, bold) for letter in text)


def width_mm(text: str, size_pt: float, bold: bool = False) -> float:
    """Return how wide a line is on paper (mm)."""
    return width_pt(text, size_pt, bold) / PT_PER_MM


def fit(text: str, size_pt: float, room_mm: float, bold: bool = False) -> str:
    """Return the text, cut with an ellipsis where it is wider than ``room_mm``."""
    text = printable(text)
    if width_mm(text, size_pt, bold) <= room_mm:
        return text
    room = room_mm - width_mm(_ELLIPSIS, size_pt, bold)
    kept, used = 0, 0.0
    for letter in text:
        used += width_mm(letter, size_pt, bold)
        if used > room:
            break
        kept += 1
    return text[:kept].rstrip(" ,;:.") + _ELLIPSIS


def wrap(
    text: str, size_pt: float, room_mm: float, *, bold: bool = False, most_lines: int | None = None
) -> tuple[str, ...]:
    """Break a text into lines of at most ``room_mm``; a text cut short ends in an ellipsis.

    A word wider than the line is broken where it must be.
    """
    lines: list[str] = []
    line = ""
    for word in _pieces(_glued(printable(text)), size_pt, room_mm, bold):
        longer = f"{line} {word}" if line else word
        if not line or width_mm(longer, size_pt, bold) <= room_mm:
            line = longer
            continue
        lines.append(line)
        line = word
    if line:
        lines.append(line)
    if most_lines is not None and len(lines) > most_lines:
        if most_lines < 1:
            return ()
        last = fit(" ".join(lines[most_lines - 1 :]), size_pt, room_mm, bold)
        return (*lines[: most_lines - 1], last)
    return tuple(lines)


def _glued(text: str) -> list[str]:
    """Split into words; a number keeps its unit, and its thousands, on its line."""
    words: list[str] = []
    for word in text.split():
        bare = word.rstrip(".,;:)")
        unit = bare in _UNITS or (len(bare) == 3 and bare.isdigit())
        if words and unit and words[-1][-1:].isdigit():
            words[-1] = f"{words[-1]} {word}"
        else:
            words.append(word)
    return words


def _pieces(words: list[str], size_pt: float, room_mm: float, bold: bool) -> list[str]:
    """Words, with those wider than a line broken into parts that fit."""
    pieces: list[str] = []
    for word in words:
        part, used = "", 0.0
        for letter in word:
            wide = width_mm(letter, size_pt, bold)
            if part and used + wide > room_mm:
                pieces.append(part)
                part, used = "", 0.0
            part += letter
            used += wide
        pieces.append(part)
    return pieces
