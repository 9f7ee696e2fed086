"""What would be printed, at its scale, and the files that a run writes."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.export_form import ExportForm
from hgmap.desktop.print_preview import STEP, Preview
from hgmap.desktop.print_sheets import ALL, Laid, Wanted, lay_out_sheets, scale_of
from hgmap.desktop.title_form import TitleForm
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.site.cautions import SCREENING

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.report.drawing import Sheet

NAME: Final = "sheets"
LEFT_PX: Final = 350


class PrintDialog(QDialog):
    """Choose a sheet on the left; the right shows it as it will lie on the paper."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk.window)
        self.desk = desk
        self.setWindowTitle(tr("Print and export"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.resize(1180, 740)
        self.sheets: tuple[Sheet, ...] = ()
        self.at = 0
        self.preview = Preview(desk.jobs)
        self.titles = TitleForm(desk.session)
        self.files = ExportForm(desk)
        whole = QHBoxLayout(self)
        whole.addWidget(self._left())
        right = QVBoxLayout()
        right.addWidget(self.preview, 1)
        right.addLayout(self._below())
        whole.addLayout(right, 1)
        self.kind.currentIndexChanged.connect(self.lay_out)
        self.floor.currentIndexChanged.connect(self.lay_out)
        self.before.currentIndexChanged.connect(self.lay_out)
        desk.session.map_changed.connect(self._anew)
        desk.session.site_changed.connect(self.titles.take)
        for keys, act in (
            ("Ctrl++", lambda: self._zoom(lambda: self.preview.zoom_by(STEP))),
            ("Ctrl+-", lambda: self._zoom(lambda: self.preview.zoom_by(1.0 / STEP))),
            ("Ctrl+0", lambda: self._zoom(self.preview.fit)),
            ("Ctrl+1", lambda: self._zoom(self.preview.paper_size)),
            ("PgDown", lambda: self.turn(1)),
            ("PgUp", lambda: self.turn(-1)),
        ):
            QShortcut(QKeySequence(keys), self, act)
        self.lay_out()

    def _left(self) -> QWidget:
        session = self.desk.session
        inner = QWidget()
        column = QVBoxLayout(inner)
        column.setContentsMargins(4, 4, 8, 4)
        self.kind = QComboBox()
        self.kind.addItem(tr("Map of the zones"), "map")
        self.kind.addItem(tr("Map of several levels"), "levels")
        self.kind.addItem(tr("Where to measure again"), "resample")
        self.kind.addItem(tr("Quality and timeline"), "quality")
        self.floor = QComboBox()
        self.before = QComboBox()
        site = session.site
        if site is not None:
            for floor in site.floors:
                self.floor.addItem(floor.title or floor.name, floor.name)
            if len(site.floors) > 1:
                self.floor.addItem(tr("all floors"), ALL)
            for one in site.rounds:
                if one.name != session.round_name:
                    self.before.addItem(one.title or one.name, one.name)
        if self.before.count():
            self.kind.addItem(tr("Change between two rounds"), "change")
        self.floor.setCurrentIndex(max(self.floor.findData(session.choices.floor), 0))
        for text, box in ((tr("Sheet"), self.kind), (tr("Floor"), self.floor),
                          (tr("Compared with"), self.before)):  # fmt: skip
            label = QLabel(text)
            label.setBuddy(box)
            box.setAccessibleName(text)
            box.setMinimumContentsLength(12)
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            column.addWidget(label)
            column.addWidget(box)
            if box is self.before:
                self.before_label = label
        self.paper = QLabel()
        self.paper.setWordWrap(True)
        column.addWidget(self.paper)
        column.addWidget(_heading(tr("Titles")))
        column.addWidget(self.titles)
        column.addWidget(_heading(tr("Files")))
        column.addWidget(self.files, 1)
        caution = QLabel(tr(SCREENING))
        caution.setWordWrap(True)
        caution.setProperty("soft", True)
        column.addWidget(caution)
        area = QScrollArea()
        area.setAccessibleName(tr("Sheet, titles and files"))
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFixedWidth(LEFT_PX)
        inner.setMaximumWidth(LEFT_PX - 14)
        return area

    def _below(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.page_text = QLabel()
        row.addWidget(self.page_text, 1)
        self.buttons: dict[str, QPushButton] = {}
        for key, text, name, act in (
            ("back", "<", tr("Page before (PgUp)"), lambda: self.turn(-1)),
            ("on", ">", tr("Next page (PgDown)"), lambda: self.turn(1)),
            ("farther", "-", tr("Farther (Ctrl+-)"),
             lambda: self._zoom(lambda: self.preview.zoom_by(1.0 / STEP))),
            ("closer", "+", tr("Closer (Ctrl++)"),
             lambda: self._zoom(lambda: self.preview.zoom_by(STEP))),
            ("whole", tr("Whole page"), tr("Whole page (Ctrl+0)"),
             lambda: self._zoom(self.preview.fit)),
            ("size", tr("Paper size"), tr("As large as the paper (Ctrl+1)"),
             lambda: self._zoom(self.preview.paper_size)),
            ("print", tr("Print ..."), tr("Print these sheets on paper"), self._print),
            ("close", tr("Close"), tr("Back to the plan (Esc)"), self.close),
        ):  # fmt: skip
            button = QPushButton(text)
            button.setToolTip(name)
            button.setAccessibleName(name)
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, act=act: act())
            row.addWidget(button)
            self.buttons[key] = button
        return row

    # -- the sheets

    def _anew(self) -> None:
        self.titles.take()
        self.lay_out()

    def lay_out(self) -> None:
        """Lay out what is chosen, beside the window; the old page stays until then."""
        session = self.desk.session
        kind, floor = str(self.kind.currentData()), str(self.floor.currentData() or ALL)
        for widget in (self.before, self.before_label):
            widget.setVisible(kind == "change")
        self.floor.setEnabled(kind != "quality")
        before = str(self.before.currentData() or "")
        self.files.propose(floor, before)
        site, choices, known = session.site, session.choices, session.mapped
        if session.behind or (known is not None and not known.whole):
            known = None  # of before the last change, or without its places to measure: made anew
        if site is None or not session.current:
            # a sheet of what stood there before the last change would look like one of now
            self._no_sheets(session.why_no_site or tr("The site is being read again."))
            return
        wanted = Wanted(kind, floor, before)
        self.paper.setText(tr("The sheet is being laid out."))
        self.desk.jobs.start(
            NAME,
            lambda progress, cancelled: lay_out_sheets(
                site, choices, wanted, known, progress, cancelled
            ),
            self._take,
            lambda error: self._no_sheets(in_one_line(error)),
        )

    def _take(self, laid: Laid) -> None:
        self.sheets = laid.sheets
        self.at = min(self.at, max(len(self.sheets) - 1, 0))
        if not self.sheets:
            self._no_sheets(for_window(" ".join(laid.said)) or self._nothing())
            return
        self._show()
        if laid.said:
            self.paper.setText(f"{self.paper.text()} {' '.join(laid.said[:2])}")

    def _nothing(self) -> str:
        kind = self.kind.currentData()
        if kind == "levels":
            return tr("The site goes by one level; there is no sheet of several.")
        if kind == "resample":
            return tr("Nothing has to be measured again on this floor.")
        return tr("There is no sheet of this kind.")

    def _no_sheets(self, why: str) -> None:
        self.sheets = ()
        self.preview.show_sheet(None, why)
        self.paper.setText("")
        self.page_text.setText("")
        self._buttons()

    def turn(self, step: int) -> None:
        """Turn the page."""
        if 0 <= self.at + step < len(self.sheets):
            self.at += step
            self._show()

    def _show(self) -> None:
        sheet = self.sheets[self.at]
        self.preview.show_sheet(sheet)
        wide = sheet.width_mm > sheet.height_mm
        way = tr("A4 landscape") if wide else tr("A4 portrait")
        scale = scale_of(sheet)
        text = way if scale is None else tr("{way}; the plan is 1 : {n}.", way=way, n=f"{scale:g}")
        self.paper.setText(text)
        self._buttons()

    def _buttons(self) -> None:
        count = len(self.sheets)
        for key in ("farther", "closer", "whole", "size", "print"):
            self.buttons[key].setEnabled(bool(count))
        self.buttons["back"].setEnabled(self.at > 0 and count > 0)
        self.buttons["on"].setEnabled(self.at + 1 < count)
        if count:
            page = tr_count("page {at} of {n}", "page {at} of {n}", count, at=self.at + 1)
            self.page_text.setText(f"{page}, {round(100.0 * self.preview.in_force)} %")

    def _zoom(self, act: Callable[[], object]) -> None:
        if self.sheets:
            act()
            self._buttons()

    def _print(self) -> None:
        from hgmap.desktop.printer import print_sheets

        if self.sheets:
            print_sheets(self, self.sheets)

    def done(self, result: int) -> None:
        """Stop what is being laid out or written."""
        for name in (NAME, "page", "export"):
            self.desk.jobs.drop(name)
        super().done(result)


def _heading(text: str) -> QLabel:
    label = QLabel(text)
    label.setProperty("title", True)
    return label
