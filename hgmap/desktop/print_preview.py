"""A page of paper on the screen, at a zoom; painted once, then only moved."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPixmap
from PySide6.QtWidgets import QLabel, QScrollArea

from hgmap.desktop.painter import paint_sheet
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.work import Jobs
    from hgmap.report.drawing import Sheet

PX_PER_MM: Final = 96.0 / 25.4
STEP: Final = 1.25
LEAST, MOST = 0.2, 4.0
EDGE_PX: Final = 16
NAME: Final = "page"


def painted(sheet: Sheet, px_per_mm: float, ratio: float = 1.0) -> QImage:
    """Return a sheet as pixels; ``ratio`` is that of the screen's pixels."""
    size = QSize(round(sheet.width_mm * px_per_mm), round(sheet.height_mm * px_per_mm))
    image = QImage(size, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    paint_sheet(painter, sheet, px_per_mm)
    painter.end()
    image.setDevicePixelRatio(ratio)
    return image


class Preview(QScrollArea):
    """Shows one sheet; ``zoom`` 1 is the size of the paper, None fits the page in."""

    def __init__(self, jobs: Jobs) -> None:
        super().__init__()
        self.jobs = jobs
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setBackgroundRole(self.backgroundRole().Mid)
        self.page = QLabel()
        self.page.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.page.setTextFormat(Qt.TextFormat.PlainText)  # words of a file are shown as written
        self.setWidget(self.page)
        self.setWidgetResizable(True)
        self.setAccessibleName(tr("Preview of the sheet"))
        self.sheet: Sheet | None = None
        self.zoom: float | None = None
        self.viewport().installEventFilter(self)

    def show_sheet(self, sheet: Sheet | None, why: str = "") -> None:
        """Show a sheet, or the sentence why there is none."""
        self.sheet = sheet
        if sheet is None:
            self.jobs.drop(NAME)
            self.page.setPixmap(QPixmap())
            self.page.setWordWrap(True)
            self.page.setText(why)
            return
        self._paint()

    @property
    def in_force(self) -> float:
        """The zoom of the page on the screen."""
        if self.zoom is not None or self.sheet is None:
            return self.zoom or 1.0
        room = self.viewport().size()
        wide = (room.width() - EDGE_PX) / (self.sheet.width_mm * PX_PER_MM)
        high = (room.height() - EDGE_PX) / (self.sheet.height_mm * PX_PER_MM)
        return min(max(min(wide, high), LEAST), MOST)

    def zoom_by(self, factor: float) -> None:
        """Come closer or go farther."""
        self.zoom = min(max(self.in_force * factor, LEAST), MOST)
        self._paint()

    def fit(self) -> None:
        """Show the whole page, however large the window is."""
        self.zoom = None
        self._paint()

    def paper_size(self) -> None:
        """Show the page as large as the paper (at 96 pixels per inch)."""
        self.zoom = 1.0
        self._paint()

    def _paint(self) -> None:
        """Paint beside the window: a page has thousands of items."""
        sheet = self.sheet
        if sheet is None:
            return
        ratio = self.devicePixelRatioF()
        scale = PX_PER_MM * self.in_force * ratio
        self.jobs.start(
            NAME,
            lambda progress, cancelled: painted(sheet, scale, ratio),
            self._take,
            lambda error: self.page.setText(in_one_line(error)),
            painting=True,  # a page turns while files are being written
        )

    def _take(self, image: QImage) -> None:
        self.page.setPixmap(QPixmap.fromImage(image))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Fit anew when the room for the page changes."""
        if watched is self.viewport() and event.type() == QEvent.Type.Resize and self.zoom is None:
            self._paint()
        return super().eventFilter(watched, event)
