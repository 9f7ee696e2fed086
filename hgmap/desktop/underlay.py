"""The picture under a plan: decoded beside the window, shown as the floor's own file says."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader

from hgmap.desktop.hands import Haste
from hgmap.desktop.words import tr
from hgmap.editing.plan_picture import picture_size
from hgmap.errors import HgmapError, SiteError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.site.plan_picture import PlanPicture

MOST_PX: Final = 4000
"""A picture with more pixels along a side is shown with so many."""
MOST_MIB: Final = 1024
"""Memory (MiB) that decoding may take."""


class Decoded:
    """A picture for the screen, and the size (px) of its file."""

    def __init__(self, data: bytes, image: QImage, size: QSize) -> None:
        self.data, self.image, self.size = data, image, size


class Underlay(QObject):
    """Shows the picture of the chosen floor below its plan."""

    placed = Signal()
    """A picture lies there, or lies there otherwise than before."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.desk = desk
        self.opacity = 0.6
        self.decoded: Decoded | None = None
        self._shown: tuple[object, ...] = ()
        desk.board.changed.connect(self.refresh)

    @property
    def picture(self) -> PlanPicture | None:
        """How the floor's picture lies."""
        from hgmap.editing.plan_of_floor import picture_of

        entry = self.desk.board.entry
        return picture_of(entry) if entry else None

    def refresh(self) -> None:
        """Show the picture as the files have it now."""
        picture, files = self.picture, self.desk.session.files
        data = files.contents.get(picture.file) if picture and files else None
        if picture is None or data is None:
            self.desk.jobs.drop("picture")
            if self._shown:
                self._shown = ()
                self.desk.canvas.set_underlay(None)
            if picture is not None:
                self.desk.say(tr("The picture {file} is not there.", file=picture.file))
            return
        if self.decoded is not None and self.decoded.data == data:
            self._show(picture, self.decoded)
            return

        def done(decoded: Decoded) -> None:
            self.decoded = decoded
            now = self.picture
            if now is not None:
                self._show(now, decoded)

        def failed(error: Exception) -> None:
            self.desk.session.trouble.emit(str(error))

        name, held = picture.file, data
        self.desk.jobs.start(
            "picture",
            lambda progress, cancelled: decode(held, name),
            done,
            failed,
            haste=Haste.AT_ONCE,
        )

    def set_opacity(self, share: float) -> None:
        """Show it more or less; only on the screen."""
        self.opacity = share
        picture = self.picture
        if picture is not None and self.decoded is not None:
            self._show(picture, self.decoded)

    def _show(self, picture: PlanPicture, decoded: Decoded) -> None:
        key = (decoded, picture, self.opacity)
        if key == self._shown:
            return
        moved = key[:2] != self._shown[:2]
        self._shown = key
        transform = _from_screen(picture, decoded)
        self.desk.canvas.set_underlay(decoded.image, transform, self.opacity)
        if moved:
            self.placed.emit()

    def transform(self) -> tuple[float, ...] | None:
        """Return what takes a pixel of the decoded image to metres; None where there is none."""
        picture = self.picture
        if picture is None or self.decoded is None:
            return None
        return _from_screen(picture, self.decoded)

    def bounds(self) -> tuple[float, float, float, float] | None:
        """Return west, south, east, north (m) of the picture; None where there is none yet."""
        from hgmap.editing.plan_of_floor import picture_bounds

        picture = self.picture
        if picture is None or self.decoded is None:
            return None
        return picture_bounds(picture, (self.decoded.size.width(), self.decoded.size.height()))


def _from_screen(picture: PlanPicture, decoded: Decoded) -> tuple[float, ...]:
    """Return the transform of an image as it was decoded, whose sides may have been shrunk."""
    across = decoded.size.width() / max(decoded.image.width(), 1)
    down = decoded.size.height() / max(decoded.image.height(), 1)
    a, b, c, d, e, f = picture.affine
    return (a * across, b * down, c, d * across, e * down, f)


def decode(data: bytes, name: str) -> Decoded:
    """Return a picture for the screen.

    Raises
    ------
    HgmapError
        If it is no PNG or JPEG that can be read.
    """
    wide, high = picture_size(data, where=name)  # from its header: nothing is decoded yet
    size = QSize(wide, high)
    buffer = QBuffer()
    buffer.setData(QByteArray(data))
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    most = size.scaled(QSize(MOST_PX, MOST_PX), Qt.AspectRatioMode.KeepAspectRatio)
    if most.width() < size.width():
        reader.setScaledSize(most.expandedTo(QSize(1, 1)))
    reader.setAllocationLimit(MOST_MIB)
    image = reader.read()
    if image.isNull():
        raise _not_read(name, reader.errorString())
    return Decoded(data, image, size)


def _not_read(name: str, why: str) -> HgmapError:
    return SiteError(
        f"cannot be read as a picture ({why})", where=name, todo="choose a PNG or JPEG image"
    )
