"""Rows from a spreadsheet: what each column was taken for is shown before they are put in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject

from hgmap.desktop.panels.ask_row import Answers as Said
from hgmap.desktop.panels.ask_row import AskRow, Field
from hgmap.desktop.panels.readings_visit import NewVisit, day_of
from hgmap.desktop.tables.blocks import block_of
from hgmap.desktop.words import tr, tr_count

if TYPE_CHECKING:
    from hgmap.desktop.tables.readings_desk import ReadingsDesk
    from hgmap.editing.paste import PasteResult, Question
    from hgmap.editing.site_files import SiteFiles
    from hgmap.site.intake.answers import Answers
    from hgmap.site.intake.import_readings import ImportedReadings

MOST_LISTED = 4
_ANOTHER = "\n"
"""Stands for a visit that is not there yet; no round has such a name."""


class Paste(QObject):
    """Asks what has to be asked, shows what was understood, and puts the rows in."""

    def __init__(self, work: ReadingsDesk, ask: AskRow, visit: NewVisit) -> None:
        super().__init__(work)
        self.work, self.ask, self.visit = work, ask, visit
        work.rows_pasted.connect(self.begin)

    def begin(self, text: str) -> None:
        """Look at pasted text, beside the window; nothing is put in yet.

        Where there is no visit that the rows could be of, one is begun first.
        """
        if not self.work.desk.session.choices.round:
            self.visit.begin(lambda: self.begin(text))
            return
        from hgmap.site.intake.answers import Answers

        self._look(text, Answers())

    def _look(self, text: str, answers: Answers) -> None:
        session = self.work.desk.session
        files, choices = session.files, session.choices
        if files is None:
            return

        def work(progress: object, cancelled: object) -> Any:
            from hgmap.editing.paste import pasted

            return pasted(text, files, choices.round, choices.floor or None, answers)

        self.work.desk.jobs.start(
            "paste", work, lambda result: self._looked(text, answers, files, result),
            lambda error: session.trouble.emit(
                tr("The pasted text cannot be used; nothing was changed: {why}", why=error)
            ),
        )  # fmt: skip

    def _looked(self, text: str, answers: Answers, files: SiteFiles, result: PasteResult) -> None:
        if result.question is not None:
            self._question(text, answers, result.question)
        elif result.imported is None or not result.imported.rows:
            self._garbage(tr("none of its rows is a reading"))
        else:
            self._mapping(text, answers, files, result, result.imported)

    def _garbage(self, why: str) -> None:
        self.work.desk.session.trouble.emit(
            tr("The pasted text was not taken, and nothing was changed: {why}", why=why)
        )

    def _question(self, text: str, answers: Answers, question: Question) -> None:
        line = _plain(question.text)
        about = question.about
        if about not in ("dates", "decimal", "unit", "column", "floor", "date"):
            self._garbage(line)
            return
        fields: list[Field]
        if about == "column":
            from hgmap.site.intake.synonyms import TARGETS

            block = block_of(text)
            titles = [one for one in dict.fromkeys(block[0]) if one] if block else []
            if len(titles) < 2:
                self._garbage(tr("it is no table with a line of titles above it"))
                return
            fields = [
                Field("theirs", tr("Their column"), "", [(one, one) for one in titles]),
                Field("ours", tr("is"), "value", [(one, one) for one in TARGETS]),
            ]
        else:
            labels = {
                "dates": tr("Dates"), "decimal": tr("Decimal mark"), "unit": tr("Unit"),
                "floor": tr("Floor"), "date": tr("Day (2026-03-02)"),
            }  # fmt: skip
            choices = [(one, one.replace("-", " ")) for one in question.choices]
            fields = [Field("said", labels[about], "", choices)]

        def go_on(said: Said) -> bool:
            new = self._answered(answers, about, said)
            if new is None:
                return False
            self._look(text, new)
            return True

        self.ask.ask(line, fields, tr("Go on"), go_on)

    def _answered(self, answers: Answers, about: str, said: Said) -> Answers | None:
        if about == "column":
            columns = {**answers.columns, said["ours"]: said["theirs"]}
            return answers.model_copy(update={"columns": columns})
        value: Any = said["said"].strip()
        if not value:
            self.work.desk.session.trouble.emit(tr("An answer is needed; nothing was changed."))
            return None
        if about == "date":
            day = day_of(value)
            if day is None:
                self.work.desk.session.trouble.emit(
                    tr("{text} is no day; write it as 2026-03-02.", text=value)
                )
                return None
            value = day
        return answers.model_copy(update={about: value})

    def _mapping(
        self,
        text: str,
        answers: Answers,
        files: SiteFiles,
        result: PasteResult,
        imported: ImportedReadings,
    ) -> None:
        session = self.work.desk.session
        choices = session.choices

        def put_in(said: Said) -> bool:
            def make(now: SiteFiles) -> SiteFiles:
                if now is files:
                    return result.files
                from hgmap.editing.paste import pasted

                return pasted(text, now, choices.round, choices.floor or None, answers).files

            if said.get("visit") == _ANOTHER:
                self.visit.begin(lambda: self._look(text, answers))
                return False

            words = tr_count("Paste {n} reading", "Paste {n} readings", imported.rows)
            session.late.do(words, make)
            return True

        one = session.site.round(choices.round) if session.site else None
        title = one.title if one is not None else choices.round
        visits = [(choices.round, title), (_ANOTHER, tr("a new round ..."))]
        # rows that name their visits themselves are not asked for one
        own = set(imported.rounds) != {choices.round}
        fields = () if own else (Field("visit", tr("Round"), choices.round, visits),)
        words = described(imported)
        if own:
            words += "\n" + tr("Of the rounds: {names}", names=", ".join(imported.rounds))
        self.ask.ask(words, fields, tr("Put them in"), put_in)
        self.ask.yes.setFocus()


def described(imported: ImportedReadings) -> str:
    """Say what was understood of pasted rows, in a few lines."""
    lines = [tr_count("{n} reading is put in.", "{n} readings are put in.", imported.rows)]
    found = [
        f"{one.ours} ← {one.theirs}"
        for one in imported.matches
        if one.column is not None or one.theirs
    ]
    lines.append(tr("Taken for: {columns}", columns=", ".join(found)))
    if imported.carried:
        lines.append(tr("Into the note: {columns}", columns=", ".join(imported.carried)))
    if imported.left_out:
        some = [one.text for one in imported.left_out[:MOST_LISTED]]
        more = len(imported.left_out) - len(some)
        lines.append(tr("Left out: {rows}", rows="; ".join(some) + (f" (+{more})" if more else "")))
    if imported.doubtful:
        some = list(imported.doubts[:MOST_LISTED])
        more = imported.doubtful - len(some)
        lines.append(
            tr("Kept as written and held: {rows}",
               rows="; ".join(some) + (f" (+{more})" if more else ""))
        )  # fmt: skip
    lines += list(imported.notes[:MOST_LISTED])
    return "\n".join(_plain(one) for one in lines)


def _plain(text: str) -> str:
    """Return a sentence without what only the command line understands."""
    kept = [one for one in text.split("; ") if "--" not in one]
    return "; ".join(kept) if kept else text.replace("--", "")
