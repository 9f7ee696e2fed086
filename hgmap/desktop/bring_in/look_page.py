"""What would become of a plan: rows to tick on the left of a page, the plan on its right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from hgmap.desktop.beginning.part import sentence
from hgmap.desktop.bring_in.preview import PlanPreview
from hgmap.desktop.tables.tick_table import TickRow, TickTable
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.editing.plan_draft import PlanDraft
    from hgmap.scene.numbered_signs import NumberedSign

LEFT_PX: Final = 430
WAIT_MS: Final = 150
REACH_PX: Final = 12.0


class LookPage(QDialog):
    """Nothing is changed before its last button; what is looked at is worked out beside the window.

    Parameters
    ----------
    desk : Desk
    title : str
    rows : str
        What the table holds, for those who hear it.
    said : tuple of str
        What a row is called that is ticked, and one that is not.
    yes : str
        What the last button does.
    """

    job = "look"

    def __init__(self, desk: Desk, title: str, rows: str, said: tuple[str, str], yes: str) -> None:
        super().__init__(desk.window)
        self.desk = desk
        self.setWindowTitle(title)
        over = desk.window.size()
        self.resize(max(over.width() - 40, 900), max(over.height() - 30, 560))
        self.said, self.warned = sentence(kind="title"), sentence(kind="warn")
        self.trouble, self.how = sentence(kind="alarm"), sentence()
        self.table = TickTable(rows, said)
        self.preview = PlanPreview()
        self.below = sentence()
        self.yes, self.leave = QPushButton(yes), QPushButton(tr("Not now"))
        left = QWidget()
        left.setFixedWidth(LEFT_PX)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 6, 0)
        self.top, self.middle = QVBoxLayout(), QVBoxLayout()
        column.addLayout(self.top)
        for widget in (self.said, self.warned, self.trouble):
            column.addWidget(widget)
        column.addLayout(self.middle)
        column.addWidget(self.how)
        self.table.setMinimumHeight(90)
        column.addWidget(self.table, 1)
        column.addStretch(0)
        self.buttons = QHBoxLayout()
        self.buttons.addStretch(1)
        self.buttons.addWidget(self.leave)
        self.buttons.addWidget(self.yes)
        column.addLayout(self.buttons)
        right = QVBoxLayout()
        right.addWidget(self.preview, 1)
        right.addWidget(self.below)
        whole = QHBoxLayout(self)
        whole.addWidget(left)
        whole.addLayout(right, 1)
        self.table.chosen_changed.connect(self._point)
        self.preview.clicked.connect(self._clicked)
        self.yes.clicked.connect(self.do_it)
        self.leave.clicked.connect(self.reject)
        desk.session.files_changed.connect(self.look)

    def finish(self) -> None:
        """Look for the first time, once the page is whole."""
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)  # Enter in a field takes what was typed, and no more
        self.look()

    # -- for the pages that build on it

    def look(self) -> None:
        """Look at it, or again; see :meth:`work`."""
        raise NotImplementedError

    def do_it(self) -> None:
        """Make one edit of it."""
        raise NotImplementedError

    def forget(self) -> None:
        """Let nothing be done that is of before the last change."""
        self.desk.jobs.drop(self.job)
        self.yes.setEnabled(False)

    def work(self, make: Callable[[], Any], take: Callable[[Any], None]) -> None:
        """Work something out beside the window; the old plan stays until then."""
        self.desk.jobs.start(
            self.job, lambda progress, cancelled: make(), take, self.failed, wait_ms=WAIT_MS
        )

    def failed(self, error: Exception) -> None:
        """Say why there is nothing to show."""
        self.show_rows((), None, ())
        self.say("", trouble=in_one_line(error))

    def show_rows(
        self,
        rows: Sequence[TickRow],
        draft: PlanDraft | None,
        signs: Sequence[NumberedSign],
        how: str = "",
    ) -> None:
        """Show a plan, and the rows about it."""
        self.how.setText(how)
        self.how.setVisible(bool(how))
        self.table.setVisible(bool(rows))
        self.table.take(rows)
        self.preview.show_plan(draft, signs)

    def say(self, text: str, *, warned: str = "", trouble: str = "") -> None:
        """Say how it stands, what to beware of, and what does not go."""
        for label, words in ((self.said, text), (self.warned, warned), (self.trouble, trouble)):
            label.setText(words)
            label.setVisible(bool(words))

    # -- of its own

    def _point(self) -> None:
        row = self.table.chosen()
        self.preview.point_at(row.place if row is not None else None)

    def _clicked(self, x: float, y: float) -> None:
        self.table.choose_at(x, y, REACH_PX / self.preview.px_per_m)

    def done(self, result: int) -> None:
        """Stop what is being looked at."""
        self.desk.session.files_changed.disconnect(self.look)
        self.desk.jobs.drop(self.job)
        self.preview.stop_painting()
        super().done(result)
