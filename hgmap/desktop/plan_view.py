"""What is painted on the plan, in step with the survey: the old picture until the new is there.

Before the map is known the floor and its readings as written are painted; then the scene, laid out
anew for the scale as soon as a zoom has settled.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from hgmap.desktop import pipeline
from hgmap.desktop.hands import Haste
from hgmap.desktop.underlay import Underlay
from hgmap.desktop.work import Progress

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.editing.plan_draft import PlanDraft
    from hgmap.report.drawing import Drawing
    from hgmap.scene.floor_scene import Scene, Shown
    from hgmap.site.building import Floor
    from hgmap.site.reading import Reading

BESIDE: Final = 0.03
"""Of the longer side of a floor: the paper round it that a whole view shows."""

ALIKE: Final = 1.12
"""Scales that differ by less share one layout."""


class PlanView(QObject):
    """Paints the chosen floor."""

    painted = Signal()
    """A new picture is on the canvas."""

    def __init__(self, desk: Desk, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self.scene: Scene | None = None
        self.shown: Shown | None = None
        self._floor = ""
        self._laid_out_at = 0.0
        self._drawn: PlanDraft | None = None
        self._ahead = False
        """Whether the plan was edited since the site was read."""
        self._map_is_old = False
        """Whether the session's map is still that of the plan before an edit."""
        self._openings: dict[object, Drawing] = {}
        self.underlay = Underlay(desk)
        self.underlay.placed.connect(self._picture_is_placed)
        session = desk.session
        session.opened.connect(self._opened)
        desk.board.changed.connect(self._plan_changed)
        session.site_changed.connect(self._site_is_read)
        session.judged_changed.connect(self._faults_are_found)
        session.choices_changed.connect(self._chosen)
        session.map_changed.connect(self._map_is_made)
        session.draft_changed.connect(self._map_is_made)
        desk.canvas.view_settled.connect(self._settled)

    def _site_is_read(self) -> None:
        ahead, self._ahead = self._ahead, False
        if ahead and self._drawn is self.desk.board.draft and self.desk.session.floor is not None:
            self.lay_out()  # the draft is on the canvas: what follows is laid out beside
        else:
            self.plain()

    def _faults_are_found(self) -> None:
        if self.desk.session.floor is None and not self._ahead:
            self._paint_draft()

    def _map_is_made(self) -> None:
        self._map_is_old = False
        self.lay_out()

    def _opened(self) -> None:
        self._ahead = self._map_is_old = False
        self._floor = ""
        self.scene = self.shown = None
        self.plain(fit=True)

    def _picture_is_placed(self) -> None:
        """Show a picture that is still to be traced whole."""
        draft = self.desk.board.draft
        if self.desk.session.floor is None and draft is not None and not draft.features:
            self._paint_draft(fit=True)

    def _chosen(self) -> None:
        if self.desk.session.choices.floor != self._floor:
            self.plain(fit=True)
        else:
            self.lay_out()

    def plain(self, *, fit: bool = False) -> None:
        """Paint the floor before its air is known; a picture that is there already stays."""
        session, canvas = self.desk.session, self.desk.canvas
        floor = session.floor
        self._drawn = self.desk.board.draft
        if floor is None:
            self._paint_draft(fit=fit or session.choices.floor != self._floor)
            return
        if floor.name == self._floor and self.shown is not None and not fit:
            return
        new = floor.name != self._floor
        self._floor = floor.name
        self.scene = self.shown = None
        canvas.set_drawing((), paper_of(floor))
        if new or fit:
            canvas.fit()
        self._letter(floor)
        self.painted.emit()

    def _plan_changed(self) -> None:
        """Paint an edited plan at once; the site and its map follow from beside the window."""
        board = self.desk.board
        if board.floor == self._floor and board.draft is not self._drawn:
            self.desk.jobs.drop("scene")
            self.desk.jobs.drop("names")
            self._ahead = self._map_is_old = True
            self._paint_draft()

    def _paint_draft(self, *, fit: bool = False) -> None:
        """Paint the plan as far as it goes: nobody has to be able to map it."""
        from hgmap.scene.draft_scene import EMPTY_M, draft_extent, draft_scene, fault_signs
        from hgmap.scene.plan_scene import plain_readings

        canvas, board = self.desk.canvas, self.desk.board
        draft = board.draft
        self.scene = self.shown = None
        self._laid_out_at = 0.0
        self._floor, self._drawn = board.floor, draft
        extent = (draft and draft_extent(draft)) or self.underlay.bounds() or EMPTY_M
        if fit:
            canvas.set_drawing((), extent)
            canvas.fit()
        drawing = draft_scene(draft, canvas.px_per_m, self._openings) if draft else ()
        judged, plan = self.desk.session.judged, board.plan_bytes
        if judged is not None and plan is not None and judged.plans.get(board.floor) == plan:
            drawing += fault_signs(judged.findings.get(board.floor, ()))
        canvas.set_drawing((*drawing, *plain_readings(self._readings())), extent)
        self.painted.emit()

    def _letter(self, floor: Floor) -> None:
        """Have walls drawn, then names and readings laid out, until something more is known.

        All of it beside the window: thousands of readings, or hundreds of rooms, take their time.
        """
        canvas, readings, px_per_m = self.desk.canvas, self._readings(), self.desk.canvas.px_per_m

        def work(progress: Progress, cancelled: object) -> Drawing:
            from hgmap.scene.plan_scene import plan_outline, plan_scene

            progress.part(plan_outline(floor, px_per_m))
            return plan_scene(floor, readings, px_per_m)

        def done(drawing: Drawing) -> None:
            if self.shown is None and self._floor == floor.name:
                canvas.set_drawing(drawing, paper_of(floor))

        def all_done(drawing: Drawing) -> None:
            done(drawing)
            if self.shown is None and self._floor == floor.name:
                self.lay_out()

        def failed(error: Exception) -> None:
            self._failed(error)
            self.lay_out()

        self.desk.jobs.start("names", work, all_done, failed, parts=done, haste=Haste.AT_ONCE)

    def _readings(self) -> list[Reading]:
        session = self.desk.session
        site = session.site
        if site is None:
            return []
        chosen = session.choices
        return [
            one for one in site.readings if one.floor == chosen.floor and one.round == chosen.round
        ]

    def lay_out(self) -> None:
        """Lay the scene out for the scale of the screen, beside the window."""
        session, canvas = self.desk.session, self.desk.canvas
        floor, mapped, views = session.floor, session.mapped, session.choices.views
        draft = session.draft
        if self._map_is_old:
            mapped = draft = None
        if floor is None or self._ahead:
            return
        if mapped is None and draft is None and self.desk.jobs.awaits("names"):
            return  # the walls first: what a map's picture takes is loaded after them
        px_per_m = canvas.px_per_m
        readings = tuple(self._readings())

        def work(progress: object, cancelled: object) -> tuple[Shown, Scene]:
            from hgmap.scene.floor_scene import Shown

            if draft is not None and draft.draft.evidence.floor.name == floor.name:
                first = draft.draft  # no zones: a draft rules on nothing
                shown = Shown(first.evidence.floor, first.evidence, first.surface,
                              readings=readings)  # fmt: skip
            elif mapped is None or mapped.floor_map.floor.name != floor.name:
                shown = Shown(floor, readings=readings)
            else:
                one = mapped.floor_map
                shown = Shown(
                    one.evidence.floor, one.evidence, one.surface, one.zones,
                    one.resample, readings,
                )  # fmt: skip
            return shown, pipeline.scene_of(shown, px_per_m, views)

        def done(made: tuple[Shown, Scene]) -> None:
            self.shown, self.scene = made
            self._laid_out_at = px_per_m
            canvas.set_drawing(self.scene.drawing, paper_of(floor))
            self.painted.emit()

        def failed(error: Exception) -> None:
            # an old picture would be taken for the new map: rather none
            self.scene = self.shown = None
            canvas.set_drawing((), paper_of(floor))
            self.painted.emit()
            self._failed(error)

        self.desk.jobs.start("scene", work, done, failed, haste=Haste.AT_ONCE)

    def _failed(self, error: Exception) -> None:
        self.desk.session.trouble.emit(str(error))

    def _settled(self) -> None:
        scale = self.desk.canvas.px_per_m
        if self.scene is None or self._laid_out_at <= 0.0:
            return
        ratio = scale / self._laid_out_at
        if not 1.0 / ALIKE <= ratio <= ALIKE:
            self.lay_out()


def paper_of(floor: Floor) -> tuple[float, float, float, float]:
    """Return west, south, east, north (m) of a floor with paper for what stands beside it."""
    from hgmap.report.extent import extent

    west, south, east, north = extent(floor)
    air = BESIDE * max(east - west, north - south)
    return west - air, south - air, east + air, north + air
