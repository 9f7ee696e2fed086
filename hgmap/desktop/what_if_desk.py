"""Imaginary readings in the window: on the plan as long as the question is chosen, on no file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from hgmap.desktop import pipeline
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.pipeline import Mapped
    from hgmap.desktop.work import Progress
    from hgmap.what_if import Imaginary, WhatIf

OVERLAY: Final = "what if"
JOB: Final = "what if"


class WhatIfDesk(QObject):
    """Holds the imaginary readings of the floor on the screen, and what they would change."""

    changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.desk = desk
        self.imaginary: tuple[Imaginary, ...] = ()
        self.found: WhatIf | None = None
        self.why = ""
        self._of = ("", "")
        session = desk.session
        session.choices_changed.connect(self._chosen)
        session.map_changed.connect(self._again)
        session.behind_changed.connect(self._behind)
        session.opened.connect(self.take_away)

    def put(self, x: float, y: float, text: str) -> bool:
        """Imagine a reading at a place (m); what cannot be is said, and nothing changes."""
        mapped = self._mapped()
        if mapped is None:
            self.desk.session.trouble.emit(tr("The map of this floor has to be made first."))
            return False
        from hgmap.what_if import Imaginary, imaginary_readings

        wanted = (*self.imaginary, Imaginary(x, y, text))
        floor = mapped.case.site.floor(mapped.floor_map.floor.name)
        try:
            if floor is None:
                return False
            imaginary_readings(mapped.case, floor, wanted)
        except HgmapError as error:
            self.desk.session.trouble.emit(str(error))
            return False
        chosen = self.desk.session.choices
        self.imaginary, self._of = wanted, (chosen.floor, chosen.round)
        self._ask()
        return True

    def take_away(self) -> None:
        """Take all of them away; the map is the one that was measured."""
        self.desk.jobs.drop(JOB)
        self.imaginary, self.found, self.why = (), None, ""
        self.desk.canvas.set_overlay(OVERLAY, ())
        self.changed.emit()

    def _mapped(self) -> Mapped | None:
        session = self.desk.session
        mapped = session.mapped
        if session.behind or mapped is None:
            return None
        return mapped if mapped.floor_map.floor.name == session.choices.floor else None

    def _chosen(self) -> None:
        chosen = self.desk.session.choices
        if self.imaginary and (chosen.floor, chosen.round) != self._of:
            self.take_away()

    def _behind(self) -> None:
        if self.imaginary and self.desk.session.behind:
            self.desk.jobs.drop(JOB)
            self.found = None
            self.desk.canvas.set_overlay(OVERLAY, ())
            self.changed.emit()

    def _again(self) -> None:
        if self.imaginary and self._mapped() is not None:
            self._ask()

    def _ask(self) -> None:
        mapped, imaginary, choices = self._mapped(), self.imaginary, self.desk.session.choices
        if mapped is None:
            return
        self.found, self.why = None, ""
        from hgmap.scene.what_if_scene import imaginary_signs
        from hgmap.what_if import imaginary_readings

        floor = mapped.case.site.floor(mapped.floor_map.floor.name)
        if floor is not None:
            signs = imaginary_signs(imaginary_readings(mapped.case, floor, imaginary))
            self.desk.canvas.set_overlay(OVERLAY, signs)

        def work(progress: Progress, cancelled: object) -> WhatIf:
            from hgmap.what_if import what_if

            return what_if(
                mapped.case, mapped.floor_map, imaginary, pipeline.options_of(choices),
                lambda done, whole: progress(tr("What if"), done / max(whole, 1)),
            )  # fmt: skip

        self.desk.jobs.start(JOB, work, lambda found: self._take(mapped, found), self._failed)
        self.changed.emit()

    def _take(self, mapped: Mapped, found: WhatIf) -> None:
        if mapped is not self.desk.session.mapped:
            return
        from hgmap.scene.what_if_scene import what_if_scene

        self.found = found
        drawing = what_if_scene(mapped.floor_map.zones, found.floor_map.zones, found.readings)
        self.desk.canvas.set_overlay(OVERLAY, drawing)
        self.changed.emit()

    def _failed(self, error: Exception) -> None:
        self.why = in_one_line(error)
        self.changed.emit()
