"""Two rounds beside each other on the plan, with a line between them that can be moved."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, QTimer, Signal

from hgmap.desktop import pipeline
from hgmap.desktop.tools.split_line import SplitLine
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr
from hgmap.report.drawing import Drawing, Label

if TYPE_CHECKING:
    from hgmap.decide.change_model import FloorChange
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.work import Progress
    from hgmap.scene.two_rounds import TwoSides
    from hgmap.two_rounds import TwoRounds

OVERLAY: Final = "rounds"
JOB: Final = "compare"
REST_MS: Final = 180
PLACE_HOLDER: Final[Drawing] = (Label(0.0, 0.0, "", 1.0),)
"""Keeps the place of an overlay that shows nothing, between those below and above it."""
Found = tuple["TwoRounds", "FloorChange", "TwoSides | None"]


class RoundsDesk(QObject):
    """Compares two rounds of the floor on the screen; writes nothing."""

    changed = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.desk = desk
        self.wanted: tuple[str, str] | None = None
        self.change: FloorChange | None = None
        self.warnings: tuple[str, ...] = ()
        self.notes: tuple[str, ...] = ()
        self.line: SplitLine | None = None
        self.why = ""
        self._sides: TwoSides | None = None
        self._doors: frozenset[str] | None = None
        session = desk.session
        session.choices_changed.connect(self._again)
        session.site_changed.connect(self._again)
        session.behind_changed.connect(self._behind)
        session.opened.connect(self.stop)
        self._asked: object = None
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(REST_MS)
        self._rest.timeout.connect(lambda: self._paint(hatched=True))

    def compare(self, before: str, after: str) -> None:
        """Compare two rounds."""
        self.wanted = (before, after)
        self._asked = None
        self._again()

    @property
    def sides(self) -> TwoSides | None:
        """What of the two rounds lies over the plan; None where nothing does."""
        return self._sides

    def stop(self) -> None:
        """Compare no more."""
        self.wanted = None
        self._clear()
        self.changed.emit()

    def _clear(self) -> None:
        self.desk.jobs.drop(JOB)
        self.change, self._sides, self.why, self.warnings = None, None, "", ()
        self.notes = ()
        for part in ("after", "before", "building", "line"):
            self.desk.canvas.set_overlay(f"{OVERLAY} {part}", ())
        if self.line is not None and self.desk.canvas.tool is self.line:
            self.desk.canvas.set_tool(None)
        self.line = None
        self._asked = None

    def _behind(self) -> None:
        if self.wanted is not None and self.desk.session.behind:
            self._clear()
            self.changed.emit()
            self._again()

    def _again(self) -> None:
        """Ask for the comparison, unless just that one was asked for."""
        session = self.desk.session
        site, chosen, wanted = session.site, session.choices, self.wanted
        if wanted is None or site is None or not session.current:
            return
        key = (id(site), chosen.floor, chosen.level, chosen.band, chosen.method, chosen.walls,
               chosen.remediate_at, chosen.clear_at, chosen.zones, wanted)  # fmt: skip
        if key == self._asked:
            return
        self._clear()
        self._asked = key
        px_per_m = self.desk.canvas.px_per_m

        def work(progress: Progress, cancelled: object) -> Found:
            from hgmap.errors import EstimateError
            from hgmap.scene.screen import mm_per_m
            from hgmap.scene.two_rounds import two_sides
            from hgmap.two_rounds import compare_floor, two_rounds

            options = pipeline.options_of(chosen)
            case = two_rounds(pipeline.as_chosen(site, chosen), *wanted, options)
            floor = case.site.floor(chosen.floor)
            if floor is None:
                raise EstimateError(f"no floor {chosen.floor!r}")
            change = compare_floor(
                case, floor, options,
                lambda done, whole: progress(tr("Comparing"), done / max(whole, 1)),
            )  # fmt: skip
            titles = (case.rounds[0].title, case.rounds[1].title)
            return case, change, two_sides(change, titles, mm_per_m(px_per_m))

        self.desk.jobs.start(JOB, work, self._take, self._failed)
        self.changed.emit()

    def _take(self, found: Found) -> None:
        case, self.change, self._sides = found
        self.warnings = tuple(dict.fromkeys(case.warnings))
        self.notes = (*case.fitness, *case.band_notes, *case.cautions)
        if self._sides is not None:
            west, _, east, _ = self._sides.extent
            self.line = SplitLine(west, east, lambda _: self._paint())
            self.desk.canvas.set_tool(self.line)
            from hgmap.scene.two_rounds import whole_after

            # from below up; what does not move is painted from what was made of it once
            canvas = self.desk.canvas
            canvas.set_overlay(f"{OVERLAY} after", whole_after(self._sides))
            canvas.set_overlay(f"{OVERLAY} before", PLACE_HOLDER)
            canvas.set_overlay(f"{OVERLAY} building", PLACE_HOLDER)
            self._doors = None
            self._paint()
        self.changed.emit()

    def _paint(self, *, hatched: bool = False) -> None:
        """Paint both sides; hatches are laid when the line has come to rest."""
        if self._sides is None or self.line is None:
            return
        from hgmap.scene.two_rounds import handle, on_top, part_before, stood_before

        sides, x, canvas = self._sides, self.line.x, self.desk.canvas
        before = part_before(sides, x, hatched=hatched) or PLACE_HOLDER
        canvas.set_overlay(f"{OVERLAY} before", before)
        doors = stood_before(sides, x)
        if doors != self._doors:
            self._doors = doors
            canvas.set_overlay(f"{OVERLAY} building", on_top(sides, doors))
        canvas.set_overlay(f"{OVERLAY} line", handle(sides, x))
        if not hatched:
            self._rest.start()

    def _failed(self, error: Exception) -> None:
        self.why = in_one_line(error)
        self.changed.emit()
