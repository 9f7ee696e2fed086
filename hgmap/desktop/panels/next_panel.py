"""What do we measure next? The places in turn, the doubt after each, and what if."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QLabel, QLineEdit, QPushButton
from shapely import Point

from hgmap.desktop.drawn import pixmap_of
from hgmap.desktop.panels.rows import Row, RowsTable
from hgmap.desktop.panels.tall_panel import TallPanel, label
from hgmap.desktop.tools.imagine import ImagineTool
from hgmap.desktop.what_if_desk import WhatIfDesk
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.decide.model import ResamplePlace
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import OpenPoint, Question

CURVE_MM = (60.0, 32.0)


class NextPanel(TallPanel):
    """The list of places to measure next."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        session = desk.session
        self.body.removeWidget(self.points)
        self.points.hide()
        self.places = RowsTable(
            desk, ["", tr("Room"), tr("m"), "×", tr("m²")],
            tr("Places to measure next"), wide=1,
        )  # fmt: skip
        self.places.setMinimumHeight(130)
        self.points = self.places  # type: ignore[assignment]
        self.body.addWidget(self.places, 2)
        self.about = label("", soft=True)
        self.about.setAccessibleName(tr("About the chosen place"))
        self.body.addWidget(self.about)
        self.curve = QLabel()
        self.curve.setAccessibleName(tr("Doubt expected after each place"))
        self.top.addWidget(self.curve)
        self.sheet = QPushButton(tr("Field sheet ..."))
        self.sheet.clicked.connect(self.ask_and_write)
        self.top.addWidget(self.sheet)
        self.what_if = WhatIfDesk(desk)
        self._lay_out_what_if()
        self.top.addStretch(1)
        self._tool = ImagineTool(self._clicked, tr("Click where the reading is to be imagined."))
        self.places.row_chosen.connect(self._chosen)
        for signal in (session.behind_changed, session.map_changed, session.draft_changed):
            signal.connect(self.refresh)
        self.what_if.changed.connect(self.say_what_if)
        self._make_actions()
        self._elsewhere: list[Row] = []
        self.refresh()
        self.say_what_if()

    def _lay_out_what_if(self) -> None:
        self.top.addWidget(label(tr("What if"), title=True))
        self.value = QLineEdit()
        self.value.setPlaceholderText(tr("a value as written: 4 or <0.05"))
        self.value.setAccessibleName(tr("Value of the imaginary reading"))
        self.value.returnPressed.connect(self.imagine_here)
        self.top.addWidget(self.value)
        self.here = QPushButton(tr("Imagine it at the chosen place"))
        self.here.clicked.connect(self.imagine_here)
        self.top.addWidget(self.here)
        self.click = QPushButton(tr("Imagine it where I click"))
        self.click.setCheckable(True)
        self.click.toggled.connect(self._take_tool)
        self.top.addWidget(self.click)
        self.would = label("")
        self.would.setAccessibleName(tr("What the imaginary readings would change"))
        self.top.addWidget(self.would)
        self.bold = label("")
        self.bold.setStyleSheet("font-weight: bold;")
        self.top.addWidget(self.bold)
        self.away = QPushButton(tr("Take them away"))
        self.away.clicked.connect(self.what_if.take_away)
        self.top.addWidget(self.away)

    def _make_actions(self) -> None:
        add = self.offer
        add(tr("&Imagine a reading at the chosen place"), "Ctrl+I", self.imagine_here)
        add(tr("&Take imaginary readings away"), "Ctrl+Shift+I", self.what_if.take_away)
        add(tr("&Field sheet ..."), "Ctrl+Shift+F", self.ask_and_write)

    def leave(self) -> None:
        """Take the imaginary readings away with the tool."""
        self.click.setChecked(False)
        self.what_if.take_away()
        super().leave()

    def take(self, question: Question) -> None:
        """Show where the question stands; the places come from the map."""
        here = self.desk.session.choices.floor
        self._elsewhere = [_floor_row(one) for one in question.points if one.floor != here]
        self.refresh()

    def refresh(self) -> None:
        """Show the list anew."""
        session = self.desk.session
        mapped = session.mapped
        behind = self.say_if_behind()
        known = mapped is not None and mapped.whole and not behind
        self.sheet.setEnabled(bool(known and mapped and mapped.floor_map.resample.places))
        self.answer.setVisible(not behind)
        if not known or mapped is None:
            self.places.take([])
            self.curve.hide()
            self.about.clear()
            self.answer.setText(
                session.why_no_map if mapped is None else tr("The list of places is being made.")
            )
            return
        from hgmap.decide.stop import stop_sentence
        from hgmap.questions.maps import in_doubt, not_looked_at
        from hgmap.report.words import square_metres

        resample = mapped.floor_map.resample
        sentence = "" if resample.stop is None else stop_sentence(resample.stop)
        if not resample.places:
            rest = not_looked_at(mapped.case.site, (mapped.floor_map.floor.name,))
            doubt = in_doubt(mapped.floor_map)
            none = (
                tr("{area} in doubt, and no place to measure is proposed for it.",
                   area=square_metres(doubt))
                if doubt
                else tr("No place is left to measure.")
            )  # fmt: skip
            then = sentence and f"{sentence[:1].upper()}{sentence[1:]}."
            sentence = " ".join(one for one in (none, rest, then) if one)
        sentence = sentence[:1].upper() + sentence[1:]
        if session.site is not None and len(session.site.floors) > 1:
            sentence = f"{mapped.floor_map.floor.title}: {sentence}"
        self.answer.setText(sentence)
        here = mapped.floor_map.floor.name
        others = [one for one in self._elsewhere if one.floor != here]
        self.places.take([*(_row(one) for one in resample.places), *others])
        self._paint_curve()

    def _paint_curve(self, chosen: int | None = None) -> None:
        mapped = self.desk.session.mapped
        if mapped is None:
            return
        from hgmap.scene.doubt_curve import doubt_curve

        drawing = doubt_curve(mapped.floor_map.resample, *CURVE_MM, chosen)
        self.curve.setVisible(bool(drawing))
        if drawing:
            self.curve.setPixmap(pixmap_of(drawing, *CURVE_MM, self.devicePixelRatioF()))

    def _chosen(self, row: Row) -> None:
        self.about.setText(row.tip)
        self._paint_curve(int(row.key) if row.key.isdecimal() else None)

    # -- what if

    def imagine_here(self) -> None:
        """Imagine a reading at the chosen place, of the value that was typed."""
        place = self.desk.pointed
        if place is None:
            self.desk.say(tr("Choose a place of the list first."))
            return
        self._imagine(*place)

    def _clicked(self, x: float, y: float) -> None:
        self._imagine(x, y)

    def _imagine(self, x: float, y: float) -> None:
        text = self.value.text().strip()
        if not text:
            self.desk.say(tr("Write the value first, as a meter would show it: 4 or <0.05."))
            self.value.setFocus()
            return
        self.what_if.put(x, y, text)

    def _take_tool(self, on: bool) -> None:
        self.desk.canvas.set_tool(self._tool if on else None)
        if on:
            self.desk.say(self._tool.hint)

    def say_what_if(self) -> None:
        """Say what the imaginary readings would change, and that they are imaginary."""
        one, count = self.what_if, len(self.what_if.imaginary)
        for widget in (self.would, self.bold, self.away):
            widget.setVisible(bool(count))
        if not count:
            return
        from hgmap.report.words import square_metres
        from hgmap.what_if import IMAGINARY

        self.bold.setText(tr(IMAGINARY))
        if one.found is None:
            self.would.setText(one.why or tr("It is being worked out."))
            return
        found = one.found
        lines = [
            tr("{zone}: {before} now, {after} then", zone=tr(name),
               before=square_metres(found.before[name]), after=square_metres(found.after[name]))
            for name in found.before
        ]  # fmt: skip
        before, after = found.doubt_m2
        lines.insert(0, tr("In doubt: {before} now, {after} then", before=square_metres(before),
                           after=square_metres(after)))  # fmt: skip
        self.would.setText("\n".join(lines))

    # -- the sheet

    def ask_and_write(self) -> None:
        """Ask for a folder and write the field sheet there."""
        if self.sheet.isEnabled():
            name = QFileDialog.getExistingDirectory(self, tr("Folder for the field sheet"))
            if name:
                self.write_sheet(Path(name))

    def write_sheet(self, folder: Path) -> None:
        """Write the field sheet of the places that were reckoned from what was measured."""
        session = self.desk.session
        mapped = session.mapped
        if mapped is None or session.behind:
            self.desk.say(tr("The list of places is being made."))
            return

        def work(progress: object, cancelled: object) -> tuple[str, ...]:
            from hgmap.desktop.field_sheet_door import write_field_sheet

            return write_field_sheet(mapped, folder)

        def done(names: tuple[str, ...]) -> None:
            self.desk.say(
                tr("{names} written to {folder}", names=", ".join(names), folder=folder.name)
            )

        self.desk.jobs.start("field sheet", work, done, lambda e: session.trouble.emit(str(e)))


def _floor_row(one: OpenPoint) -> Row:
    """Return what is open on another floor; choosing it goes there."""
    tip = f"{one.message}\n{one.todo[:1].upper()}{one.todo[1:]}"
    return Row(("", one.message, "", "", ""), tip, one.place, one.floor, f"floor {one.floor}")


def _row(one: ResamplePlace) -> Row:
    from hgmap.report.words import square_metres

    heights = [one.height_m, *one.also_m]
    height = ", ".join(f"{h:g}" for h in heights if h is not None)
    about = [
        tr(
            "{height} m above the floor, read {n} times, settles {area}",
            height=height or "-",
            n=one.repeats,
            area=square_metres(one.expected_m2),
        ),
        "; ".join(one.reasons),
        one.repeats_reason and f"{one.repeats} x: {one.repeats_reason}",
        one.instrument,
        one.way_in,
        "" if one.left_m2 is None else f"{tr('in doubt after it')}: {square_metres(one.left_m2)}",
    ]
    return Row(
        (str(one.rank), one.room_name, height, f"{one.repeats}",
         square_metres(one.expected_m2).removesuffix(" m²")),
        "\n".join(f"{line[:1].upper()}{line[1:]}" for line in about if line),
        Point(one.x, one.y), one.floor, str(one.rank),
    )  # fmt: skip
