"""Rooms found from the walls of the plan that is being drawn, before they are put on it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop.bring_in.look_page import LookPage
from hgmap.desktop.bring_in.repairs import RepairList
from hgmap.desktop.tables.tick_table import TickRow
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.rooms_of_walls import RoomsOfWalls, find_rooms

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.editing.plan_draft import PlanDraft


class RoomsOfWallsDialog(LookPage):
    """Rooms that are drawn already stay as they are; what was closed to find others is listed."""

    job = "rooms of walls"

    def __init__(self, desk: Desk) -> None:
        super().__init__(
            desk, tr("Find rooms from walls"), tr("What was closed, and what was left out"),
            (tr("made"), tr("refused")), tr("Put them on the plan"),
        )  # fmt: skip
        self.found: RoomsOfWalls | None = None
        self.repairs = RepairList()
        self._of: PlanDraft | None = None
        self.table.ticks.ticked.connect(self._ticked)
        self.finish()

    def _ticked(self, key: str, ticked: bool) -> None:
        self.repairs.refuse(key, refused=not ticked)
        self.look()

    def forget(self) -> None:
        """Let no room of before the last change be put on the plan."""
        super().forget()
        self.found = None

    def look(self) -> None:
        """Find the rooms, beside the window."""
        self.forget()
        draft = self._of = self.desk.board.draft
        if draft is None:
            self.say("", trouble=self.desk.board.why or tr("this floor has no plan to draw on"))
            return
        refused = tuple(sorted(self.repairs.refused))
        self.say(tr("The rooms are being looked for."))
        self.work(lambda: find_rooms(draft, refuse=refused), self._take)

    def _take(self, found: RoomsOfWalls) -> None:
        self.found = found
        self.repairs.take(found.repairs, found.doubts)
        self._show(found.draft, found.left_out)
        self.say(tr("New rooms: {rooms}; new openings: {openings}.", rooms=found.rooms,
                    openings=found.openings))  # fmt: skip
        self.yes.setEnabled(True)

    def _show(self, draft: PlanDraft | None, notes: tuple[str, ...]) -> None:
        rows, count = self.repairs.rows, len(self.repairs.shown)
        how = tr_count("{n} repair. Unticked, it is refused.",
                       "{n} repairs. One that is unticked is refused.", count)  # fmt: skip
        self.show_rows((*rows, *map(TickRow, notes)), draft, self.repairs.signs,
                       how if count else "")  # fmt: skip

    def failed(self, error: Exception) -> None:
        """Say why none is found; what was refused can still be ticked again."""
        super().failed(error)
        if self.repairs.refused:
            self._show(self._of, ())

    def do_it(self) -> None:
        """Put the rooms on the plan, as one edit."""
        found, board = self.found, self.desk.board
        if found is None:
            return
        if board.draft is not self._of:
            self.look()
            return
        text = tr_count("Find {n} room from walls", "Find {n} rooms from walls", found.rooms)
        if board.edit(text, lambda now: found.draft):
            self.desk.say(tr("Look at each new room and opening. Ctrl+Z takes them back."))
            self.accept()
