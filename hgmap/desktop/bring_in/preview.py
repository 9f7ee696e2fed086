"""A plan as it would be, before anything is changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import shapely
from shapely import box

from hgmap.desktop.canvas import Canvas
from hgmap.desktop.view import Bounds
from hgmap.desktop.words import tr
from hgmap.editing.plan_draft import PlanDraft
from hgmap.report.drawing import Drawing, Path, Pen
from hgmap.scene.draft_scene import EMPTY_M, draft_extent, draft_floor, draft_scene
from hgmap.scene.highlight import shape_sign
from hgmap.scene.numbered_signs import NumberedSign, numbered_signs

SIGNS: Final = "signs"
POINTER: Final = "pointer"
OF_NOW: Final = "of now"
AIR: Final = 0.04
_ROUND_M: Final = 0.15
"""How far round a place (m) it is pointed at."""
_OF_NOW_PEN: Final = Pen("#00508a", 1.0, (6.0, 3.0))


class PlanPreview(Canvas):
    """The plan with numbered signs; the plan that the site has now may lie over it in outline."""

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName(tr("The plan as it would be"))
        self.setAccessibleDescription("")
        self.draft: PlanDraft | None = None
        self.around: Bounds | None = None
        """What else is to be seen (m), as a picture under the plan."""
        self._of_now: Bounds | None = None
        self._signs: tuple[NumberedSign, ...] = ()
        self._laid_out_at = 0.0
        self.view_settled.connect(self._scale_settled)
        self.set_drawing((), EMPTY_M)

    def show_plan(self, draft: PlanDraft | None, signs: Sequence[NumberedSign]) -> None:
        """Show a plan and its signs; another one is shown whole, the same one stays in view."""
        before = self.whole
        self.draft = draft
        self.show_signs(signs)
        if self.whole != before:
            self.fit()

    def show_around(self, bounds: Bounds | None) -> None:
        """Show a plan together with what lies so far (m)."""
        self.around = bounds
        self._lay_out()
        self.fit()

    def show_signs(self, signs: Sequence[NumberedSign]) -> None:
        """Show other signs on the same plan."""
        self._signs = tuple(signs)
        self._lay_out()

    def point_at(self, place: shapely.Geometry | None) -> None:
        """Point at a place; None at none."""
        if place is None or place.is_empty:
            self.set_overlay(POINTER, ())
            return
        self.set_overlay(POINTER, shape_sign(place.buffer(_ROUND_M)))
        if not box(*self.view.bounds).contains(place):
            at = place.representative_point()
            self.show_place(float(at.x), float(at.y))

    def show_of_now(self, plan: PlanDraft | None) -> None:
        """Lay the outlines of the rooms that the site has now over it; None: nothing."""
        before = self.whole
        rooms = () if plan is None else draft_floor(plan).rooms
        self._of_now = draft_extent(plan) if plan is not None and rooms else None
        lines: Drawing = tuple(Path(one.polygon.exterior, _OF_NOW_PEN) for one in rooms)
        self.set_overlay(OF_NOW, lines)
        if self.whole != before:
            self._lay_out()
            self.fit()

    @property
    def whole(self) -> Bounds:
        """West, south, east, north (m) of all there is, with a little air round it."""
        drawn = None if self.draft is None else draft_extent(self.draft)
        found = [drawn, self.around, self._of_now]
        there = [one for one in found if one is not None] or [EMPTY_M]
        west, south = (min(one[n] for one in there) for n in (0, 1))
        east, north = (max(one[n] for one in there) for n in (2, 3))
        air = AIR * max(east - west, north - south)
        return west - air, south - air, east + air, north + air

    def _lay_out(self) -> None:
        drawing = () if self.draft is None else draft_scene(self.draft, self.px_per_m)
        self.set_drawing(drawing, self.whole)
        self.set_overlay(SIGNS, numbered_signs(self._signs, self.px_per_m))
        self._laid_out_at = self.px_per_m

    def _scale_settled(self) -> None:
        """Lay names and numbers out for another scale."""
        if self.px_per_m != self._laid_out_at:
            self._lay_out()
