"""The one font of the sheets, for Qt: the same file, unhinted, so that widths agree with paper.

Qt's fonts belong to the thread that made them, so each thread that letters a plan has its own.
"""

from __future__ import annotations

import threading
from functools import cache, lru_cache
from typing import Final

from PySide6.QtCore import QPointF
from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF, QPainterPath, QRawFont, QTransform

from hgmap.report.typeset import font_file, printable

_EM: Final = 256
"""Size (px) at which outlines are taken; they are scaled from there."""


class _Own(threading.local):
    """The fonts of one thread."""

    def __init__(self) -> None:
        self.raw: dict[bool, QRawFont] = {}
        self.metrics: dict[bool, tuple[QFont, QFontMetricsF]] = {}


_own: Final = _Own()


@cache
def family(bold: bool = False) -> str:
    """Load the font file and return the name of its family.

    Raises
    ------
    RuntimeError
        If Qt cannot read the file: no plan can be lettered without it.
    """
    number = QFontDatabase.addApplicationFont(str(font_file(bold)))
    names = QFontDatabase.applicationFontFamilies(number) if number >= 0 else []
    if not names:
        raise RuntimeError(f"Qt cannot read the font {font_file(bold).name}")
    return names[0]


def plan_font(size_px: float, bold: bool = False) -> QFont:
    """Return the font of plan and sheets at a size (logical px)."""
    font = QFont(family(bold))
    font.setBold(bold)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    font.setStyleStrategy(QFont.StyleStrategy.NoFontMerging)
    font.setPixelSize(max(1, round(size_px)))
    return font


def _raw(bold: bool) -> QRawFont:
    if bold not in _own.raw:
        _own.raw[bold] = QRawFont.fromFont(plan_font(_EM, bold))
    return _own.raw[bold]


def _metrics(bold: bool) -> tuple[QFont, QFontMetricsF]:
    if bold not in _own.metrics:
        font = plan_font(_EM, bold)
        _own.metrics[bold] = font, QFontMetricsF(font)
    return _own.metrics[bold]


@lru_cache(maxsize=4096)
def shown(text: str) -> str:
    """Return the text as a sheet prints it, with a mark for a letter the font lacks."""
    return printable(text, _known)


@cache
def _known(letter: str) -> bool:
    return bool(_raw(False).supportsCharacter(ord(letter)))


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a line is, in the unit of ``size``."""
    return _metrics(bold)[1].horizontalAdvance(shown(text)) * size / _EM


def text_outline(text: str, size: float, bold: bool = False) -> QPainterPath:
    """Return the outlines of a line of text, its baseline from (0, 0) to the right."""
    path = QPainterPath()
    path.setFillRule(path.fillRule().WindingFill)
    path.addText(QPointF(0.0, 0.0), _metrics(bold)[0], shown(text))
    return QTransform.fromScale(size / _EM, size / _EM).map(path)
