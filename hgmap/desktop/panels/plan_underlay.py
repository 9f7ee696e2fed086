"""The picture under a plan: a scan that is laid there, scaled by two points, and traced."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QLabel, QPushButton, QSlider, QVBoxLayout, QWidget

from hgmap.desktop.panels.ask_length import ask_length
from hgmap.desktop.panels.ask_row import Answers, AskRow, Field, number
from hgmap.desktop.panels.place_by_points import PlaceByPoints
from hgmap.desktop.panels.scale_all_the_same import scale_all_the_same
from hgmap.desktop.tools.line_tools import ScalePicture
from hgmap.desktop.tools.places_tool import Place
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.site.pictures.pages import PICTURES, SeveralPages
from hgmap.site.plan_picture import COARSEST_M_PER_PX

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.panels.plan_tools import PlanTools
    from hgmap.editing.site_files import SiteFiles
    from hgmap.site.pictures.read_picture import ReadPicture

Places = tuple[Place, ...]

MOST_FILE_BYTES: Final = 512 * 2**20
FIRST_WIDTH_M: Final = 20.0
"""How wide (m) a picture is shown until its scale is known."""


def not_scaled() -> str:
    """Return what is to be done with an image that nobody has scaled yet."""
    return tr(
        "The image lies under the plan at a guessed size. Set its scale before a room is traced: "
        "two points, and the metres between them."
    )


class PictureBox(QWidget):
    """Chooses a picture, scales it, says how strongly it shows."""

    def __init__(self, desk: Desk, tools: PlanTools, ask: AskRow) -> None:
        super().__init__()
        self.desk, self.board, self.tools, self.ask = desk, desk.board, tools, ask
        self.tool = ScalePicture(self.board, self._picture_clicked, tools.put_down)
        self.by_points = PlaceByPoints(desk, tools, ask)
        self._dialog: QFileDialog | None = None
        self._unread = ""
        """Why the last file could not be laid under the plan."""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.PlainText)
        column.addWidget(self.text)
        self.buttons: dict[str, QPushButton] = tools.buttons(column, {
            "choose": (tr("Choose a picture"), "Ctrl+Shift+P", self.choose_picture),
            "scale": (tr("Scale the picture"), "Ctrl+Alt+I", self.take_picture_scale),
            "points": (tr("Place it by points"), "Ctrl+Alt+K", self.by_points.take),
            "walls": (tr("Propose walls"), "Ctrl+Alt+J",
                      lambda: desk.told.page_wanted.emit("walls")),
            "drop": (tr("Take it away"), "Ctrl+Alt+V", self.drop_picture),
        })  # fmt: skip
        self.opacity = QSlider(Qt.Orientation.Horizontal)
        self.opacity.setRange(10, 100)
        self.opacity.setValue(60)
        self.opacity.setAccessibleName(tr("How strongly the picture shows, percent"))
        self.opacity.setToolTip(self.opacity.accessibleName())
        column.addWidget(self.opacity)
        self.board.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show what lies under the chosen floor."""
        entry = self.board.entry
        picture = entry.picture if entry else None
        self.buttons["choose"].setEnabled(entry is not None)
        for key in ("scale", "points", "walls", "drop"):
            self.buttons[key].setVisible(picture is not None)
        self.opacity.setVisible(picture is not None)
        self.text.setText(
            not_scaled() if picture is not None and picture.guessed
            else tr("A picture lies under the plan: {name}, {mm} mm per pixel.",
                    name=picture.file, mm=f"{1000 * picture.m_per_px:.3g}")
            if picture is not None
            else tr("No picture lies under the plan: choose a scan to trace it.")
        )  # fmt: skip

    def choose_picture(self) -> None:
        """Ask for an image file, or a page of a PDF."""
        dialog = QFileDialog(self, tr("A scan of the plan"))
        dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
        endings = " ".join(f"*{one}" for one in PICTURES)
        dialog.setNameFilter(tr("Pictures ({endings})", endings=endings))
        dialog.fileSelected.connect(lambda path: self.take_picture(Path(path)))
        self._dialog = dialog
        dialog.open()

    def take_picture(self, path: Path, page: int | None = None) -> None:
        """Read an image beside the window and lay it under the plan; its scale is asked for next.

        A file of several pages is asked which.
        """
        from hgmap.site.files import read_bytes
        from hgmap.site.pictures.read_picture import read_picture

        entry = self.board.entry
        if entry is None:
            return
        floor = entry.name

        def work(progress: object, cancelled: object) -> ReadPicture:
            data = read_bytes(path, where=path.name, most_bytes=MOST_FILE_BYTES)
            return read_picture(data, name=path.name, page=page)

        def done(read: ReadPicture) -> None:
            if self.board.floor == floor:
                self._lay(path, read)

        def failed(error: Exception) -> None:
            if isinstance(error, SeveralPages):
                self._ask_page(path, error.pages)
            else:
                self._unread = in_one_line(error)
                self.desk.session.trouble.emit(self._unread)

        self.desk.say(tr("The picture is being read."))
        self.desk.jobs.start("read picture", work, done, failed)

    def _ask_page(self, path: Path, pages: int) -> None:
        def answered(said: Answers) -> bool:
            page = number(said["page"])
            if page is None or page != int(page):
                self.desk.session.trouble.emit(
                    tr("{text!r} is no page: type 1 to {n}", text=said["page"], n=pages)
                )
                return False
            self.take_picture(path, int(page))
            return True

        self.ask.ask(
            tr("{name} has {n} pages. Which one is the plan?", name=path.name, n=pages),
            [Field("page", tr("Page"), "1")], tr("Lay it under the plan"), answered,
        )  # fmt: skip

    def _lay(self, path: Path, read: ReadPicture) -> None:
        from hgmap.editing.floor_settings import set_picture
        from hgmap.scene.draft_scene import draft_extent
        from hgmap.site.plan_picture import PlanPicture

        wide, high = read.kept_px
        extent = draft_extent(self.board.draft) if self.board.draft is not None else None
        west, south, east, _ = extent or (0.0, 0.0, FIRST_WIDTH_M, 0.0)
        metres = min(max(east - west, 0.5) / wide, COARSEST_M_PER_PX)
        # laid over rooms that are there it has nothing to do with their scale
        place = PlanPicture(f"picture{read.ending}", metres, 0.0, west, south + metres * high,
                            guessed=extent is None or self._guessed)  # fmt: skip
        name = self.board.floor
        if not self.desk.session.edit(
            tr("Lay a picture under the plan"),
            lambda files: set_picture(files, name, place, data=read.data),
        ):
            return
        self.desk.told.mended.emit(self._unread)
        if extent is None:
            height = FIRST_WIDTH_M * high / wide
            self.desk.canvas.fit((0.0, 0.0, FIRST_WIDTH_M, height))
        self.take_picture_scale()
        if read.notes:
            self.desk.say("; ".join((path.name, *read.notes)))

    def take_picture_scale(self) -> None:
        """Take the tool that scales the picture."""
        self.tools.take(self.tool)

    def _picture_clicked(self, places: Places) -> bool:
        turn = Field(
            "turn", tr("Angle"), "",
            (("", tr("keep its angle")), ("level", tr("turn it: the line lies level"))),
        )  # fmt: skip
        ask_length(
            self.ask, self.desk.session,
            tr("How far apart are the two points in the building?"), tr("Scale the picture"),
            lambda metres, said: self._scale_picture(places, metres, level=bool(said["turn"])),
            more=(turn,), refused=self.tools.put_down,
        )  # fmt: skip
        return True

    def _scale_picture(
        self, places: Places, metres: float, *, level: bool, agreed: bool = False
    ) -> bool:
        from hgmap.editing.floor_settings import set_picture
        from hgmap.editing.plan_of_floor import (
            factor_for,
            picture_by_two_points,
            picture_of,
            scale_floor,
        )

        entry = self.board.entry
        now = picture_of(entry) if entry else None
        if entry is None or now is None:
            return False
        name = entry.name

        drawn = now.guessed and self._drawn
        if drawn and not agreed:
            return scale_all_the_same(
                self.ask, self.desk.session, name,
                lambda: self._scale_picture(places, metres, level=level, agreed=True),
                self.tools.put_down,
            )  # fmt: skip

        def make(files: SiteFiles) -> SiteFiles:
            if drawn:  # the rooms were traced at the guessed size: they go with it
                return scale_floor(files, name, factor_for(places[0], places[1], metres))
            place = picture_by_two_points(now, places[0], places[1], metres, level=level)
            return set_picture(files, name, place)

        done = self.desk.session.edit(tr("Scale the picture"), make)
        if done:
            self.desk.told.mended.emit(not_scaled())
            self.tools.put_down()
            if drawn:
                self.desk.canvas.fit()
                self.desk.say(tr("What was drawn after the picture was scaled with it; its angle "
                                 "stays."))  # fmt: skip
        return done

    @property
    def _guessed(self) -> bool:
        """Whether nobody has said the scale of the picture that lies there."""
        entry = self.board.entry
        return entry is not None and entry.picture is not None and entry.picture.guessed

    @property
    def _drawn(self) -> bool:
        """Whether anything is drawn on the floor."""
        return self.board.draft is not None and bool(self.board.draft.features)

    def drop_picture(self) -> None:
        """Take the picture away."""
        from hgmap.editing.floor_settings import set_picture

        entry = self.board.entry
        if self._guessed and self._drawn:
            self.desk.session.trouble.emit(
                tr("The rooms were drawn after this picture, and its scale was never set: set it "
                   "before the picture is taken away.")
            )  # fmt: skip
            return
        if entry is not None:
            name = entry.name
            self.desk.session.edit(
                tr("Take the picture away"), lambda files: set_picture(files, name, None)
            )
