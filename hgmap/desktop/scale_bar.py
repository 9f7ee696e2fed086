"""A bar of round length in metres. A screen has no scale as a number, so it says none."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from hgmap.desktop.fonts import plan_font, text_width
from hgmap.report.palette import INK, PAPER

_WIDEST_PX: Final = 180.0
_HIGH_PX: Final = 6.0
_TEXT_PX: Final = 12.0
_LEFT_PX: Final = 16.0
_BOTTOM_PX: Final = 14.0
_PAD_PX: Final = 6.0


class Bar(NamedTuple):
    """A length (m) and the number of parts it is divided into."""

    length_m: float
    parts: int


def bar_length(px_per_m: float, widest_px: float = _WIDEST_PX) -> Bar:
    """Return the longest round length (1, 2 or 5 times a power of ten) that has room."""
    longest = widest_px / px_per_m
    power = math.floor(math.log10(longest))
    held = [
        Bar(float(f"{digit}e{exponent}"), parts)
        for exponent in (power - 1, power)
        for digit, parts in ((1, 5), (2, 4), (5, 5))
    ]
    return max(one for one in held if one.length_m <= longest)


def bar_text(length_m: float) -> str:
    """Return a length in metres, or in millimetres where metres would be all zeros.

    Examples
    --------
    >>> bar_text(20.0), bar_text(0.5), bar_text(0.002)
    ('20 m', '0.5 m', '2 mm')
    """
    if length_m < 0.01:
        return f"{round(length_m * 1000.0, 6):g} mm"
    return f"{length_m:g} m"


def paint_bar(painter: QPainter, px_per_m: float, height_px: float) -> QRectF:
    """Paint the bar at the lower left of a widget; return the room it takes (px)."""
    length, parts = bar_length(px_per_m)
    step = length * px_per_m / parts
    text = bar_text(length)
    wide = step * parts
    room = QRectF(
        _LEFT_PX - _PAD_PX - text_width("0", _TEXT_PX) / 2.0,
        height_px - _BOTTOM_PX - _HIGH_PX - _TEXT_PX - 2.0 * _PAD_PX,
        wide + text_width(text, _TEXT_PX) / 2.0 + 2.0 * _PAD_PX + text_width("0", _TEXT_PX) / 2.0,
        _HIGH_PX + _TEXT_PX + 3.0 * _PAD_PX,
    )
    painter.save()
    ground = QColor(PAPER)
    ground.setAlpha(225)
    painter.fillRect(room, ground)
    painter.setPen(QColor(INK))
    painter.setFont(plan_font(_TEXT_PX))
    top = height_px - _BOTTOM_PX - _HIGH_PX
    for part in range(parts):
        painter.setBrush(QColor(PAPER if part % 2 else INK))
        painter.drawRect(QRectF(_LEFT_PX + part * step, top, step, _HIGH_PX))
    for place, words in ((0.0, "0"), (wide, text)):
        left = _LEFT_PX + place - text_width(words, _TEXT_PX) / 2.0
        painter.drawText(QPointF(left, top - 5.0), words)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.restore()
    return room
