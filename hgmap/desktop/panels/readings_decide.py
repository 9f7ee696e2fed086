"""Holding and releasing readings: initials and a reason, or nothing is decided."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from hgmap.desktop.panels.ask_row import Answers, AskRow, Field
from hgmap.desktop.words import tr, tr_count
from hgmap.editing.site_files import SiteFiles

if TYPE_CHECKING:
    from hgmap.desktop.tables.readings_desk import ReadingsDesk
    from hgmap.site.reading import Reading


class Decide(QObject):
    """Asks for a decision about the chosen readings and writes it down."""

    def __init__(self, work: ReadingsDesk, ask: AskRow) -> None:
        super().__init__(work)
        self.work, self.ask = work, ask
        self.initials = ""
        """Of whoever decided last; forgotten with the window."""
        self._released: set[str] = set()
        work.shown.connect(self._look_again)

    def hold(self) -> None:
        """Ask why the chosen readings are held."""
        self._ask(hold=True)

    def release(self) -> None:
        """Ask why they are used all the same."""
        self._ask(hold=False)

    def _ask(self, *, hold: bool) -> None:
        chosen = self.work.chosen()
        if not chosen:
            self.work.desk.say(tr("Choose the readings in the table first."))
            return
        names = _names(chosen)
        text = (
            tr("Hold {names}: no map uses it until the decision is withdrawn.", names=names)
            if hold
            else tr(
                "Release {names}: what the instrument log and the statistics hold against it "
                "is lifted, nothing that is wrong with the row itself.", names=names,
            )
        )  # fmt: skip
        fields = (Field("initials", tr("Initials"), self.initials), Field("reason", tr("Reason")))
        yes = tr("Hold") if hold else tr("Release")

        def decide(answers: Answers) -> bool:
            return self._decide(chosen, answers, hold=hold)

        self.ask.ask(text, fields, yes, decide)
        if self.initials:
            self.ask.fields["reason"].setFocus()

    def _decide(self, chosen: Sequence[Reading], answers: Answers, *, hold: bool) -> bool:
        initials, reason = answers["initials"].strip(), answers["reason"].strip()
        missing = "initials" if not initials else "reason" if not reason else ""
        if missing:
            self.work.desk.session.trouble.emit(
                tr("A decision has initials and a reason; nothing was decided.")
            )
            self.ask.fields[missing].setFocus()
            return False
        self.initials = initials
        today = dt.date.today()

        def make(files: SiteFiles) -> SiteFiles:
            from hgmap.editing import overrule_edits

            act = overrule_edits.hold if hold else overrule_edits.release
            for one in chosen:
                files = act(files, one, initials, reason, today)
            return files

        words = tr("Hold {names}") if hold else tr("Release {names}")
        if not hold:
            self._released = {one.where for one in chosen}
        self.work.desk.session.late.do(words.format(names=_names(chosen)), make, self._done)
        return True

    def withdraw(self) -> None:
        """Take back what was decided about the chosen readings."""
        chosen = self.work.chosen()
        if not chosen:
            self.work.desk.say(tr("Choose the readings in the table first."))
            return

        def make(files: SiteFiles) -> SiteFiles:
            from hgmap.editing.overrule_edits import withdraw

            for one in chosen:
                files = withdraw(files, one)
            return files

        words = tr("Withdraw the decision about {names}", names=_names(chosen))
        self.work.desk.session.late.do(words, make)

    def _done(self, ok: bool) -> None:
        if not ok:
            self._released = set()

    def _look_again(self) -> None:
        """Say of readings that were released why they are held all the same."""
        if not self._released or self.work.desk.session.late.busy:
            return
        still = [
            one.reading for one in self.work.model.rows
            if one.reading.where in self._released and one.reading.held
        ]  # fmt: skip
        self._released = set()
        if still:
            one = still[0]
            more = tr(" (and {n} more)", n=len(still) - 1) if len(still) > 1 else ""
            self.work.desk.session.trouble.emit(
                tr(
                    "{id} is released and held all the same{more}: {why}. Mend its row.",
                    id=one.id, more=more, why="; ".join(one.held),
                )
            )  # fmt: skip


def _names(chosen: Sequence[Reading]) -> str:
    if len(chosen) > 3:
        return tr_count("{n} reading", "{n} readings", len(chosen))
    return ", ".join(one.id for one in chosen)
