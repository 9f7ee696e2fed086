"""Writing down a reading: its place is clicked, the rest is asked."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from hgmap.desktop.panels.ask_row import Answers, AskRow, Field
from hgmap.desktop.panels.readings_visit import NewVisit
from hgmap.desktop.tools.add_reading import AddReading
from hgmap.desktop.words import tr
from hgmap.editing.new_reading import add_reading
from hgmap.editing.site_files import SiteFiles
from hgmap.site.intake.dates import parse_time

if TYPE_CHECKING:
    from collections.abc import Callable

    from hgmap.desktop.tables.readings_desk import ReadingsDesk
    from hgmap.site.reading import Reading


class Add(QObject):
    """Asks for a new reading and writes it down."""

    def __init__(
        self, work: ReadingsDesk, ask: AskRow, visit: NewVisit, over: Callable[[], object]
    ) -> None:
        super().__init__(work)
        self.work, self.ask, self.visit = work, ask, visit
        self.tool = AddReading(self.ask_at)
        self._over = over

    def begin(self) -> None:
        """Take the tool in hand."""
        if not self.work.desk.session.choices.round:
            self.visit.begin(self.begin)
            return
        self.work.desk.canvas.set_tool(self.tool)
        self.work.desk.say(self.tool.hint)
        self.work.desk.canvas.setFocus()

    def ask_at(self, x: float, y: float) -> None:
        """Ask what was read at a place (m)."""
        last = self._last()
        now = datetime.now().isoformat(timespec="minutes")
        session = self.work.desk.session
        fields = [
            Field("value", tr("Value")),
            Field("unit", tr("Unit"), last.unit if last else "ug/m3"),
            Field("height", tr("Height (m)"), self._usual_height()),
            Field("time", tr("Time"), now),
            Field("instrument", tr("Instrument"), last.instrument if last else ""),
            Field("note", tr("Note")),
        ]
        text = tr(
            "A reading of round {round} at ({x:.2f}, {y:.2f}) m. Value as it was read: "
            "<0.05 is not detected, >100 beyond the scale, ~3 approximate.",
            round=session.choices.round, x=x, y=y,
        )  # fmt: skip
        self.ask.ask(text, fields, tr("Write it down"), lambda said: self._add(x, y, said),
                     refused=self.give_up)  # fmt: skip

    def give_up(self) -> None:
        """Forget the place that was clicked."""
        self.tool.cancel()
        self._over()

    def _last(self) -> Reading | None:
        """Return the last reading of the round, as the files have them."""
        choices = self.work.desk.session.choices
        return next(
            (one.reading for one in reversed(self.work.model.rows)
             if one.reading.round == choices.round and one.reading.unit),
            None,
        )  # fmt: skip

    def _usual_height(self) -> str:
        """Return the height that most readings of the chosen band were taken at."""
        choices = self.work.desk.session.choices
        heights: dict[float, int] = {}
        for row in self.work.model.rows:
            one = row.reading
            if one.height_m is not None and one.round == choices.round and (
                not choices.band or one.band == choices.band
            ):  # fmt: skip
                heights[one.height_m] = heights.get(one.height_m, 0) + 1
        return f"{max(heights, key=lambda one: heights[one]):g}" if heights else ""

    def _add(self, x: float, y: float, said: Answers) -> bool:
        session = self.work.desk.session
        if not said["value"].strip():
            session.trouble.emit(tr("A reading has a value; nothing was written."))
            self.ask.fields["value"].setFocus()
            return False
        when = _time(said["time"])
        if isinstance(when, str):
            session.trouble.emit(when)
            self.ask.fields["time"].setFocus()
            return False
        choices = session.choices
        others = {key: said[key] for key in ("instrument", "note") if said[key].strip()}
        made: list[str] = []

        def make(files: SiteFiles) -> SiteFiles:
            after, identifier = add_reading(
                files, choices.round, value=said["value"], unit=said["unit"],
                floor=choices.floor, x=x, y=y, height=said["height"], time=when, others=others,
            )  # fmt: skip
            made[:] = [identifier]
            return after

        def done(ok: bool) -> None:
            if ok:
                session.said.emit(tr("{id} is written down.", id=made[0]))

        session.late.do(tr("Add a reading"), make, done)
        self.give_up()
        return True


def _time(text: str) -> datetime | str | None:
    """Return a time; None where none is given; a sentence where it cannot be read."""
    if not text.strip():
        return None
    return parse_time(text.strip(), None)
