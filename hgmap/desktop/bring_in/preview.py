"""A floor as a drawing would have it, before anything is changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from hgmap.desktop.canvas import Canvas
from hgmap.desktop.view import Bounds
from hgmap.desktop.words import tr
from hgmap.editing.plan_draft import PlanDraft
from hgmap.report.drawing import Drawing, Path, Pen
from hgmap.scene.draft_scene import EMPTY_M, draft_extent, draft_floor, draft_scene
from hgmap.scene.highlight import shape_sign
from hgmap.scene.repair_signs import RepairSign, repair_signs
from hgmap.site.importers.found_plan import PlanRepair

REPAIRS: Final = "repairs"
POINTER: Final = "pointer"
BELOW: Final = "below"
AIR: Final = 0.04
_BELOW_PEN: Final = Pen("#00508a", 1.0, (6.0, 3.0))


class DrawingPreview(Canvas):
    """The plan with its repairs; the plan that the site has now may lie over it in outline."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(tr("The plan as it would be"))
        self.setAccessibleDescription("")
        self.draft: PlanDraft | None = None
        self._signs: tuple[RepairSign, ...] = ()
        self._laid_out_at = 0.0
        self.view_settled.connect(self._scale_settled)
        self.set_drawing((), EMPTY_M)

    def show_plan(self, draft: PlanDraft | None, signs: Sequence[RepairSign]) -> None:
        """Show a plan and its repairs; another floor is shown whole, the same one stays in view."""
        extent = None if draft is None else draft_extent(draft)
        before = None if self.draft is None else draft_extent(self.draft)
        self.draft, self._signs = draft, tuple(signs)
        self._laid_out_at = 0.0
        self._lay_out()
        if extent != before:
            self.fit()

    def show_repair(self, repair: PlanRepair | None) -> None:
        """Point at a repair; None at none."""
        if repair is None or repair.place.is_empty:
            self.set_overlay(POINTER, ())
            return
        self.set_overlay(POINTER, shape_sign(repair.place.buffer(max(repair.size_m, 0.15))))
        place = repair.place.representative_point()
        self.show_place(float(place.x), float(place.y))

    def show_below(self, plan: PlanDraft | None) -> None:
        """Lay the outlines of the rooms that the site has now over it; None: nothing."""
        rooms = () if plan is None else draft_floor(plan).rooms
        lines: Drawing = tuple(Path(one.polygon.exterior, _BELOW_PEN) for one in rooms)
        self.set_overlay(BELOW, lines)

    @property
    def whole(self) -> Bounds:
        """West, south, east, north (m) of the plan, with a little air round it."""
        west, south, east, north = (self.draft and draft_extent(self.draft)) or EMPTY_M
        air = AIR * max(east - west, north - south)
        return west - air, south - air, east + air, north + air

    def _lay_out(self) -> None:
        drawing = () if self.draft is None else draft_scene(self.draft, self.px_per_m)
        self.set_drawing(drawing, self.whole)
        self.set_overlay(REPAIRS, repair_signs(self._signs, self.px_per_m))
        self._laid_out_at = self.px_per_m

    def _scale_settled(self) -> None:
        """Lay names and numbers out for another scale."""
        if self.px_per_m != self._laid_out_at:
            self._lay_out()
