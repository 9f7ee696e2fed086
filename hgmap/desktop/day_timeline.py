"""A day of one analyser along its hours: the drawing of the report, in the window."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from hgmap.desktop.painter import PX_PER_PT, Place, Prepared, paint
from hgmap.desktop.words import tr
from hgmap.report.drawing import PT_PER_MM
from hgmap.report.timeline import KEY, NAME_MM, Axis, draw_day, height_mm
from hgmap.report.timeline_days import NO_NAME, Day
from hgmap.site.instruments.clock import is_date_only
from hgmap.site.quality.figures import clock

if TYPE_CHECKING:
    from hgmap.site.instruments.model import InstrumentLog
    from hgmap.site.reading import Reading

PX_PER_MM: Final = PX_PER_PT * PT_PER_MM
MARGIN_MM: Final = 2.0
REACH_PX: Final = 6.0
LEAST_MM: Final = 76.0
MARK_PX: Final = 30.0
"""Above the first row: under the title."""


class DayTimeline(QWidget):
    """Paints one day; a click near a reading chooses it, the arrow keys go along them."""

    reading_chosen = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setToolTip(tr(KEY))
        self.setAccessibleName(tr("The day of one analyser"))
        self.day: Day | None = None
        self.readings: tuple[Reading, ...] = ()
        self._prepared = Prepared(())
        self._at = -1
        self._chosen = ""

    def take(self, day: Day | None, readings: Sequence[Reading]) -> None:
        """Show another day, with its readings in the order of their time."""
        self.day = day
        self.readings = tuple(readings)
        self._at = -1
        if day is not None:
            counts = ", ".join(f"{n} {verdict}" for verdict, n in day.counts.items())
            self.setAccessibleName(
                tr("Checks and readings of {day}, {instrument}: {counts}",
                   day=day.day, instrument=day.instrument, counts=counts)
            )  # fmt: skip
        self._lay_out()

    def choose(self, where: str) -> None:
        """Mark a reading that was chosen elsewhere."""
        self._chosen = where
        self.update()

    @property
    def wide_mm(self) -> float:
        """The width of the drawing (mm)."""
        return max(self.width() / PX_PER_MM - 2 * MARGIN_MM, LEAST_MM)

    def _lay_out(self) -> None:
        high = 0.0
        self._prepared = Prepared(())
        if self.day is not None:
            high = height_mm(self.day, self.wide_mm) + MARGIN_MM
            self._prepared = Prepared(draw_day(self.day, MARGIN_MM, -MARGIN_MM, self.wide_mm))
        self.setFixedHeight(round(high * PX_PER_MM))
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802
        """Return a page's width; the height is that of the day."""
        return QSize(280, self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802
        """Lay the day out for the width."""
        if event.size().width() != event.oldSize().width():
            self._lay_out()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802
        """Paint it on white paper, as it is printed."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor("white"))
        paint(painter, self._prepared, Place(PX_PER_MM, 0.0, 0.0), self.rect())
        for one in self.readings:
            if one.where == self._chosen and one.time is not None:
                x = self.x_of(clock(one.time))
                painter.setPen(QColor("#00508a"))
                painter.drawLine(QPointF(x, MARK_PX), QPointF(x, self.height() - 4.0))
                corners = [
                    QPointF(x - 4, MARK_PX - 6),
                    QPointF(x + 4, MARK_PX - 6),
                    QPointF(x, MARK_PX),
                ]
                painter.setBrush(QColor("#00508a"))
                painter.drawPolygon(corners)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QColor("#00508a"))
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
        painter.end()

    def x_of(self, when: datetime) -> float:
        """Return where a time of the day stands (px)."""
        if self.day is None:
            return 0.0
        axis = Axis.of(self.day, self.wide_mm)
        return (MARGIN_MM + NAME_MM + axis.along(when)) * PX_PER_MM

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802
        """Choose the reading that was taken nearest to the time that is pressed on."""
        x = event.position().x()
        near = min(
            ((abs(self.x_of(clock(one.time)) - x), k)
             for k, one in enumerate(self.readings) if one.time is not None),
            default=None,
        )  # fmt: skip
        if near is not None and near[0] <= REACH_PX:
            self._choose_at(near[1])

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802
        """Go to the reading before or after."""
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        step = steps.get(Qt.Key(event.key()))
        if step is None or not self.readings:
            super().keyPressEvent(event)
            return
        self._choose_at(min(max(self._at + step, 0), len(self.readings) - 1))

    def _choose_at(self, k: int) -> None:
        self._at = k
        self._chosen = self.readings[k].where
        self.update()
        self.reading_chosen.emit(self._chosen)


def readings_of(day: Day, readings: Sequence[Reading], log: InstrumentLog | None) -> list[Reading]:
    """Return the readings that stand on a day's timeline, in the order of their time."""
    only = log.instruments[0].name if log is not None and len(log.instruments) == 1 else NO_NAME
    names = {} if log is None else {one.serial: one.name for one in log.instruments if one.serial}
    found = [
        one for one in readings
        if one.time is not None and not is_date_only(one.time)
        and clock(one.time).date() == day.day
        and (names.get(one.instrument, one.instrument) or only) == day.instrument
    ]  # fmt: skip
    return sorted(found, key=lambda one: clock(one.time) if one.time else datetime.min)
