"""Where is it above the level? Areas by zone, how the zones are made, and what goes with them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QSignalBlocker
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QPushButton

from hgmap.desktop.drawn import zone_sign
from hgmap.desktop.own_choices import (
    anything_chosen,
    chance_of,
    level_is_named,
    make_own,
    why_refused,
)
from hgmap.desktop.panels.rows import Row, RowsTable
from hgmap.desktop.panels.tall_panel import TallPanel, label
from hgmap.desktop.stale_mark import StaleMark
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.questions.gather import Question

ZONES: Final = ("remediate", "resample", "clear", "no data")
HOW: Final[dict[str, dict[str, Any]]] = {
    "method": {"as the site says": None, "kriging": "kriging", "inverse distance": "idw"},
    "walls": {"as the site says": None, "through the doors": True, "straight lines": False},
    "zones": {"as the site says": None, "pieces to tape off": "taped",
              "whole rooms": "whole rooms"},
}  # fmt: skip
TITLES: Final = {"method": "Method", "walls": "Air moves", "zones": "Zones are"}


class MapPanel(TallPanel):
    """The zones in numbers."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        session = desk.session
        self.mark = StaleMark(desk)
        self.areas = RowsTable(
            desk, [tr("Zone"), tr("Area"), tr("Share")], tr("Area of each zone"), wide=0
        )
        self.top.addWidget(self.areas)
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.chances = {
            "remediate_at": self._chance(form, "remediate_at", tr("Remediate from a chance (%)")),
            "clear_at": self._chance(form, "clear_at", tr("Clear below a chance (%)")),
        }
        self.how = {key: self._box(form, key) for key in HOW}
        self.top.addLayout(form)
        self.refused = label("")
        self.refused.setProperty("alarm", True)
        self.refused.setAccessibleName(tr("Why it was refused"))
        self.refused.hide()
        self.top.addWidget(self.refused)
        self.own = QPushButton(tr("Make it the site's own"))
        self.own.setToolTip(tr("Write what is chosen here and on the bar into site.toml"))
        self.own.clicked.connect(self.make_own)
        self.top.addWidget(self.own)
        self.cautions = label("", soft=True)
        self.cautions.setAccessibleName(tr("Cautions"))
        self.top.addWidget(self.cautions)
        self.top.addStretch(1)
        for signal in (session.behind_changed, session.map_changed, session.draft_changed,
                       session.choices_changed, session.site_changed):  # fmt: skip
            signal.connect(self.refresh)
        self._question: Question | None = None
        self._signs: dict[tuple[str, float], QPixmap] = {}
        self.own_action = self.offer(tr("Make it the site's &own"), "Ctrl+Shift+O", self.make_own)
        self.again_action = self.offer(tr("&Map it again"), "F5", session.map_again)
        self.refresh()

    def _chance(self, form: QFormLayout, key: str, text: str) -> QLineEdit:
        line = QLineEdit()
        line.setAccessibleName(text)
        line.editingFinished.connect(lambda: self._typed(key))
        form.addRow(text, line)
        return line

    def _box(self, form: QFormLayout, key: str) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(tr(TITLES[key]))
        box.setMinimumContentsLength(8)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        for text, value in HOW[key].items():
            box.addItem(tr(text), value)
        box.activated.connect(lambda index: self.desk.session.choose(**{key: box.itemData(index)}))
        form.addRow(tr(TITLES[key]), box)
        return box

    def take(self, question: Question) -> None:
        """Show where the question stands; what is of before the last change is not told."""
        self._question = question
        self.refresh()

    def refresh(self) -> None:
        """Show everything anew."""
        self._fill_settings()
        self._say_cautions()
        session = self.desk.session
        behind = self.say_if_behind()
        mapped = session.mapped
        self.areas.setVisible(not behind and mapped is not None)
        question = self._question
        self.answer.setVisible(not behind and question is not None and bool(question.answer))
        if behind or question is None:
            self.points.take([one for one in (question.points if question else ())
                              if one.place is None and not behind])  # fmt: skip
            return
        self.answer.setText(question.answer)
        self.points.take(question.points)
        if mapped is not None:
            self.areas.take(self._area_rows())
            self.areas.fit_rows(len(ZONES))

    def _area_rows(self) -> list[Row]:
        mapped = self.desk.session.mapped
        if mapped is None:
            return []
        from hgmap.report.words import square_metres

        zones = mapped.floor_map.zones
        whole = sum(one.area_m2 for one in zones.zones)
        ratio = self.devicePixelRatioF()
        rows = []
        for name in ZONES:
            area = zones.area_m2(name)
            share = 100.0 * area / whole if whole > 0.0 else 0.0
            if (name, ratio) not in self._signs:
                self._signs[name, ratio] = zone_sign(name, ratio)
            rows.append(
                Row((tr(name), square_metres(area), f"{share:.0f} %"), key=name,
                    sign=self._signs[name, ratio])
            )  # fmt: skip
        return rows

    def _fill_settings(self) -> None:
        session = self.desk.session
        chosen, site = session.choices, session.site
        for key, line in self.chances.items():
            value = getattr(chosen, key)
            if not line.isModified():
                line.setText("" if value is None else f"{100.0 * value:.4g}")
            if site is not None:
                line.setPlaceholderText(f"{100.0 * getattr(site.settings, key):.4g}")
        for key, box in self.how.items():
            blocker = QSignalBlocker(box)
            box.setCurrentIndex(list(HOW[key].values()).index(getattr(chosen, key)))
            blocker.unblock()
        can = site is not None and anything_chosen(chosen)
        self.own.setEnabled(can)

    def _typed(self, key: str) -> None:
        """Take a chance that was typed, or say why it may not be."""
        session, line = self.desk.session, self.chances[key]
        if not line.isModified():
            return
        line.setModified(False)
        try:
            value = chance_of(line.text())
        except HgmapError as error:
            self._refuse(f"{error.message}.")
            return
        chances = {one: getattr(session.choices, one) for one in self.chances} | {key: value}
        why = why_refused(session.site, **chances) if session.site is not None else ""
        if why:
            self._refuse(why)
            return
        self.refused.hide()
        session.choose(**{key: value})

    def _refuse(self, why: str) -> None:
        """Say it; what was in force stays."""
        self.refused.setText(for_window(why))
        self.refused.show()
        self._fill_settings()

    def make_own(self) -> None:
        """Write the choices into site.toml, as one step that can be undone."""
        session = self.desk.session
        chosen = session.choices
        if not anything_chosen(chosen):
            self.desk.say(tr("Nothing is chosen that the site does not say itself."))
            return
        named = level_is_named(chosen)
        if session.edit(
            tr("Make the choices the site's own"), lambda files: make_own(files, chosen)
        ):
            session.choose(method=None, walls=None, remediate_at=None, clear_at=None, zones=None,
                           band=None, level=None if named else chosen.level)  # fmt: skip
            self.desk.say(tr("Written into site.toml; it is saved with the rest."))
            if chosen.level is not None and not named:
                self._refuse(
                    tr("The level stays a choice of the screen: one of the site needs averaging, "
                       "height, scenario and source, or a name of the table.")
                )  # fmt: skip

    def _say_cautions(self) -> None:
        from hgmap.site.cautions import SCREENING

        session = self.desk.session
        lines: list[str] = []
        if session.site is not None:
            from hgmap.site.level_in_force import level_in_force

            try:
                lines += level_in_force(session.site, session.choices.level)[1]
            except HgmapError as error:
                lines.append(in_one_line(error))
        told = dict.fromkeys(for_window(one) for one in (*self._of_map(), *lines))
        self.cautions.setText("\n".join([*told, tr(SCREENING)]))

    def _of_map(self) -> list[str]:
        """Return what goes with the map on the screen, as the command line prints it below."""
        session = self.desk.session
        mapped = session.mapped
        if session.behind or mapped is None:
            return []
        from hgmap.report.words import number, square_metres

        case, lines = mapped.case, list[str]()
        purposes = {one.level.concentration: one.purpose for one in case.further}
        for zones in mapped.floor_map.nested:
            level = zones.level
            if level.concentration in purposes:
                name = f"{number(level.value)} {level.unit}"
                areas = [f"{tr(one)} {square_metres(zones.area_m2(one))}" for one in ZONES]
                purpose = purposes[level.concentration]
                lines.append(f"{purpose}, {name}: " if purpose else f"{name}: ")
                lines[-1] += ", ".join(areas)
        return [*lines, *case.warnings, *case.unusual, *case.about_further, *case.notes]
