"""Walls that the picture under a plan offers: none is taken but those that are ticked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QPushButton, QWidget

from hgmap.desktop.bring_in.look_page import LookPage
from hgmap.desktop.flow import FlowLayout
from hgmap.desktop.tables.tick_table import TickRow
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.accept_walls import Accepted, Chosen
from hgmap.editing.propose_walls import FloorProposals, propose_for_floor, with_accepted
from hgmap.editing.site_files import SiteFiles
from hgmap.report.proposals_sheet import DOOR, THICK, THIN
from hgmap.scene.numbered_signs import NumberedSign

if TYPE_CHECKING:
    from collections.abc import Callable

    from hgmap.desktop.desk import Desk
    from hgmap.desktop.underlay import Underlay
    from hgmap.site.wall_finding.proposed import WallProposals


class WallsDialog(LookPage):
    """The picture with what it offers, numbered; the list says how long each is, and how drawn."""

    job = "walls"

    def __init__(self, desk: Desk, underlay: Underlay) -> None:
        super().__init__(
            desk, tr("Propose walls"), tr("Walls and door gaps that are offered"),
            (tr("taken"), tr("left")), tr("Take the ticked ones"),
        )  # fmt: skip
        self.underlay = underlay
        self.proposals: WallProposals | None = None
        row = QWidget()
        ticks = FlowLayout(row)
        self.quick: dict[str, QPushButton] = {}
        for key, text, act in (
            ("all", tr("Tick all"), lambda: self._tick(lambda row: True)),
            ("thick", tr("Tick thick walls"), lambda: self._tick(self._thick)),
            ("none", tr("Tick none"), lambda: self._tick(lambda row: False)),
        ):
            button = self.quick[key] = QPushButton(text)
            button.clicked.connect(lambda _=False, act=act: act())
            ticks.addWidget(button)
        self.middle.addWidget(row)
        self.below.setText(
            tr("Taken are: a thick wall, orange; a line, blue; a door gap, broken green. What is "
               "left is grey.")
        )  # fmt: skip
        self.table.ticks.ticked.connect(lambda key, ticked: self._ticked())
        self._lay_picture()
        self.finish()

    def _lay_picture(self) -> None:
        decoded, bounds = self.underlay.decoded, self.underlay.bounds()
        transform = self.underlay.transform()
        if decoded is not None and transform is not None:
            self.preview.show_around(bounds)
            self.preview.set_underlay(decoded.image, transform, 0.45)

    # -- a look at it

    def look(self) -> None:
        """Look for walls in the picture, beside the window."""
        self.forget()
        self.proposals = None
        files, floor = self.desk.session.files, self.desk.board.floor
        self.show_rows((), self.desk.board.draft, ())
        for button in self.quick.values():
            button.setEnabled(False)
        if files is None:
            return
        self.say(tr("Walls are being looked for in the picture."))
        self.work(lambda: propose_for_floor(files, floor), self._take)

    def _take(self, found: FloorProposals) -> None:
        self.proposals = proposals = found.proposals
        rows = [*_wall_rows(proposals), *_door_rows(proposals), *map(TickRow, proposals.notes)]
        self.say(
            tr("Offered: walls {walls} ({length} m), door gaps {doors}.",
               walls=len(proposals.walls), doors=len(proposals.doors),
               length=f"{proposals.length_m:.1f}"),
        )  # fmt: skip
        self.show_rows(rows, self.desk.board.draft, (),
                       tr("Nothing of it is on the plan. Tick what is a wall."))  # fmt: skip
        for button in self.quick.values():
            button.setEnabled(bool(proposals.walls))
        self._ticked()

    def failed(self, error: Exception) -> None:
        """Say why nothing is offered; the picture stays."""
        super().failed(error)
        self.preview.show_plan(self.desk.board.draft, ())

    def _ticked(self) -> None:
        proposals = self.proposals
        if proposals is None:
            return
        ticked = {one.key for one in self.table.rows if one.ticked}
        signs = [
            NumberedSign(str(one.number), one.line, str(one.number) in ticked,
                         THIN if one.kind == "line" else THICK)
            for one in proposals.walls
        ]  # fmt: skip
        signs += [
            NumberedSign(f"d{one.number}", one.line, f"d{one.number}" in ticked, DOOR)
            for one in proposals.doors
        ]
        self.preview.show_signs(signs)
        self.yes.setEnabled(bool(ticked))

    def _tick(self, which: Callable[[TickRow], bool]) -> None:
        self.table.ticks.tick(
            {one.key: which(one) for one in self.table.rows if one.ticked is not None}
        )

    def _thick(self, row: TickRow) -> bool:
        """Tell whether a row is a thick wall, or a gap between two of them."""
        proposals = self.proposals
        if proposals is None:
            return False
        thick = {str(one.number) for one in proposals.walls if one.kind != "line"}
        beside = {
            f"d{one.number}" for one in proposals.doors if {str(n) for n in one.walls} <= thick
        }
        return row.key in thick | beside

    # -- taken

    def do_it(self) -> None:
        """Put what is ticked on the plan, as one edit."""
        proposals = self.proposals
        keys = [one.key for one in self.table.rows if one.ticked]
        if proposals is None or not keys:
            return
        chosen = Chosen(
            tuple(int(one) for one in keys if not one.startswith("d")),
            tuple(int(one[1:]) for one in keys if one.startswith("d")),
        )
        floor, told = self.desk.board.floor, list[Accepted]()

        def make(files: SiteFiles) -> SiteFiles:
            after, accepted = with_accepted(files, floor, proposals, chosen)
            told.append(accepted)
            return after

        text = tr_count("Take {n} proposed wall", "Take {n} proposed walls", len(chosen.walls))
        if not self.desk.session.edit(text, make) or not told:
            return
        said = tr("Taken: walls {walls}, openings {doors} (open: say how they stood). Ctrl+Z takes "
                  "them back.", walls=told[-1].walls, doors=told[-1].doors)  # fmt: skip
        if told[-1].there:
            said += " " + tr("On the plan already: {what}.", what=", ".join(told[-1].there))
        self.desk.say(said)
        self.accept()


def _wall_rows(proposals: WallProposals) -> list[TickRow]:
    rows = []
    for one in proposals.walls:
        drawn = {
            "filled": tr("drawn filled"),
            "double": tr("drawn by its two faces"),
            "line": tr("drawn by one line"),
        }[one.kind]
        about = [tr("{length} m", length=f"{one.length_m:.2f}"), drawn]
        if one.thickness_m is not None:
            about.append(tr("{thickness} m thick", thickness=f"{one.thickness_m:.2f}"))
        about.append(tr("ink under {share} % of it", share=round(100 * one.support)))
        rows.append(TickRow("; ".join(about), str(one.number), str(one.number), False, one.line))
    return rows


def _door_rows(proposals: WallProposals) -> list[TickRow]:
    return [
        TickRow(
            tr("door gap, {width} m, between walls {first} and {second}",
               width=f"{one.width_m:.2f}", first=one.walls[0], second=one.walls[1]),
            f"d{one.number}", f"d{one.number}", False, one.line,
        )
        for one in proposals.doors
    ]  # fmt: skip
