"""Beginning a visit: readings of two days are told apart by it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from hgmap.desktop.panels.ask_row import Answers, AskRow, Field
from hgmap.desktop.words import tr
from hgmap.editing.round_settings import Purpose, add_round

if TYPE_CHECKING:
    from hgmap.desktop.tables.readings_desk import ReadingsDesk


class NewVisit(QObject):
    """Asks what a visit is called, its day and what it is for, and begins a round of it."""

    def __init__(self, work: ReadingsDesk, ask: AskRow) -> None:
        super().__init__(work)
        self.work, self.ask = work, ask

    def begin(self, then: Callable[[], object] = lambda: None) -> None:
        """Ask for a visit; ``then`` is done when it is begun and chosen."""
        site = self.work.desk.session.site
        first = site is None or not site.rounds
        fields = (
            Field("name", tr("Name"), tr("survey") if first else ""),
            Field("date", tr("Day (2026-03-02)")),
            Field("purpose", tr("For"), "survey",
                  [("survey", tr("a survey")), ("clearance", tr("the release after clean-up"))]),
        )  # fmt: skip
        text = tr("Which round are the readings of? Its day is written on every map; leave it "
                  "empty only where nobody knows it.")  # fmt: skip
        self.ask.ask(text, fields, tr("Begin the round"), lambda said: self._begin(said, then))

    def _begin(self, said: Answers, then: Callable[[], object]) -> bool:
        session = self.work.desk.session
        name, text = " ".join(said["name"].split()), said["date"].strip()
        if not name:
            session.trouble.emit(tr("A round has a name; nothing was changed."))
            return False
        day = day_of(text)
        if text and day is None:
            session.trouble.emit(tr("{text} is no day; write it as 2026-03-02.", text=text))
            return False
        purpose: Purpose = "clearance" if said["purpose"] == "clearance" else "survey"
        if not session.edit(
            tr("Begin the round {name}", name=name),
            lambda files: add_round(files, name, date=day, purpose=purpose),
        ):
            return False
        session.choose(round=name)
        self.ask.put_away()
        then()
        return True


def day_of(text: str) -> dt.date | None:
    """Return the day that is written as 2026-03-02; None where it is not."""
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        return None
