"""What would be printed, at its scale, and the files that a run writes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QSettings, QSignalBlocker, Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)
from shiboken6 import isValid

from hgmap.desktop.export_form import ExportForm
from hgmap.desktop.print_preview import STEP, Preview
from hgmap.desktop.print_sheets import Known, Laid, lay_out_sheets, paper_of, scale_of
from hgmap.desktop.sheet_form import SheetForm
from hgmap.desktop.title_form import TitleForm
from hgmap.desktop.window_words import for_window, in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.site.cautions import SCREENING

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.report.drawing import Sheet

NAME: Final = "sheets"
PRINT: Final = "print"
LEFT_PX: Final = 350
STYLE: Final = "house style"
"""Of the settings: the house style that was used last."""


class PrintDialog(QDialog):
    """Choose a sheet on the left; the right shows it as it will lie on the paper."""

    def __init__(self, desk: Desk, settings: QSettings | None = None) -> None:
        super().__init__(desk.window)
        self.desk, self.settings = desk, settings
        self.setWindowTitle(tr("Print and export"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        over = desk.window.size()
        self.resize(max(over.width() - 40, 900), max(over.height() - 30, 560))
        self.sheets: tuple[Sheet, ...] = ()
        self.at = 0
        self.known: Known | None = None
        self._laid_kind = self._said = ""
        self._into_file = False
        self.preview = Preview(desk.jobs)
        style = settings.value(STYLE, "") if settings is not None else ""
        self.form = SheetForm(desk.session, str(style or ""))
        self.kind, self.floor, self.before = self.form.kind, self.form.floor, self.form.before
        self.paper = self.form.about
        self.titles = TitleForm(desk.session)
        self.files = ExportForm(desk, self.form, lambda: self.known)
        whole = QHBoxLayout(self)
        whole.addWidget(self._left())
        right = QVBoxLayout()
        self.contents = QComboBox()
        self.contents.setAccessibleName(tr("Go to"))
        self.contents.setToolTip(tr("Go to"))
        self.contents.activated.connect(lambda _: self._go_to(self.contents.currentData()))
        right.addWidget(self.contents)
        right.addWidget(self.preview, 1)
        right.addLayout(self._below())
        whole.addLayout(right, 1)
        self.form.changed.connect(self._chosen)
        self.files.sheets_changed.connect(self.lay_out)
        desk.session.map_changed.connect(self._anew)
        desk.session.site_changed.connect(self._site_read)
        desk.session.files_changed.connect(self._edited)
        desk.jobs.busy_changed.connect(self._progressed)
        for keys, act in (
            ("Ctrl++", lambda: self._zoom(lambda: self.preview.zoom_by(STEP))),
            ("Ctrl+-", lambda: self._zoom(lambda: self.preview.zoom_by(1.0 / STEP))),
            ("Ctrl+0", lambda: self._zoom(self.preview.fit)),
            ("Ctrl+1", lambda: self._zoom(self.preview.paper_size)),
            ("PgDown", lambda: self.turn(1)),
            ("PgUp", lambda: self.turn(-1)),
        ):
            QShortcut(QKeySequence(keys), self, act)
        for button in self.findChildren(QPushButton):
            button.setAutoDefault(False)  # Enter in a field takes what was typed, and no more
        self.lay_out()

    def _left(self) -> QWidget:
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.setAccessibleName(tr("Sheet, titles and files"))
        for widget, text in (
            (self.form, tr("&Sheet")), (self.titles, tr("&Titles")), (self.files, tr("F&iles"))
        ):  # fmt: skip
            area = QScrollArea()
            area.setWidget(widget)
            area.setWidgetResizable(True)
            area.setFrameShape(QScrollArea.Shape.NoFrame)
            area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
            area.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # what is in it is reached by Tab
            widget.setMaximumWidth(LEFT_PX - 6)
            self.tabs.addTab(area, text)
        caution = QLabel(tr(SCREENING))
        caution.setWordWrap(True)
        caution.setProperty("soft", True)
        left = QWidget()
        left.setFixedWidth(LEFT_PX)
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, 4, 0)
        column.addWidget(self.tabs, 1)
        column.addWidget(caution)
        return left

    def _below(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.page_text = QLabel()
        row.addWidget(self.page_text, 1)
        self.buttons: dict[str, QPushButton] = {}
        for key, text, name, act in (
            ("stop", tr("Stop"), tr("Stop what is being laid out or printed"), self.stop),
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
            ("print", tr("&Print ..."), tr("Print these sheets on paper"), self._print),
            ("close", tr("Close"), tr("Back to the plan (Esc)"), self.close),
        ):  # fmt: skip
            button = QPushButton(text)
            button.setToolTip(name)
            button.setAccessibleName(name)
            button.clicked.connect(lambda _=False, act=act: act())
            row.addWidget(button)
            self.buttons[key] = button
        return row

    # -- the sheets

    def _anew(self) -> None:
        self.titles.take()
        self.lay_out()

    def _edited(self) -> None:
        """Take the sheets away: one of before the last change would look like one of now."""
        if not self.desk.session.current:
            self.desk.jobs.drop(NAME)
            self._no_sheets(tr("The site is being read again."))

    def _site_read(self) -> None:
        self.titles.take()
        if not self.desk.session.current:
            self.lay_out()  # says why it cannot be read

    def _chosen(self) -> None:
        self.files.done = None
        self.lay_out()

    def lay_out(self) -> None:
        """Lay out what is chosen, beside the window; the old page stays until then."""
        session = self.desk.session
        wanted = self.form.wanted(sheets=self.files.every_sheet)
        self.files.propose(wanted)
        site, choices = session.site, session.choices
        if site is None or not session.current:
            self._no_sheets(session.why_no_site or tr("The site is being read again."))
            return
        known = self.known
        if known is None or not known.still(site, choices):
            known = self.known = Known(site, choices)
        mapped = session.mapped
        if mapped is not None and mapped.whole and not session.behind:
            # one of before the last change, or without its places to measure, is made anew
            maps = {**known.maps, mapped.floor_map.floor.name: mapped}
            known = self.known = replace(known, maps=maps)
        self.paper.setText(tr("The sheet is being laid out."))
        self.desk.jobs.start(
            NAME,
            lambda progress, cancelled: lay_out_sheets(
                site, choices, wanted, known, progress, cancelled
            ),
            lambda laid: self._take(laid, wanted.kind),
            lambda error: self._no_sheets(in_one_line(error)),
        )
        self._buttons()

    def _progressed(self, text: str, share: float) -> None:
        """Say how far the sheets are."""
        if text and self.desk.jobs.awaits(NAME):
            self.paper.setText(tr("The sheet is being laid out: {what}, {share} %",
                                  what=text, share=round(100.0 * share)))  # fmt: skip

    def stop(self) -> None:
        """Stop what is being laid out, or go on with it; a print stops after its page."""
        jobs = self.desk.jobs
        if jobs.awaits(PRINT):
            jobs.drop(PRINT)
            self.paper.setText(tr("Stopped: no file was written.") if self._into_file
                               else tr("Stopped: the rest is not printed."))  # fmt: skip
            self._buttons()
        elif jobs.awaits(NAME):
            jobs.drop(NAME)
            self._no_sheets(tr("Stopped: nothing is laid out."))
        else:
            self.lay_out()

    def _take(self, laid: Laid, kind: str) -> None:
        self.known, self.sheets, self._laid_kind = laid.known, laid.sheets, kind
        lost = for_window("; ".join(laid.said))
        self._said = tr("Not among them: {lost}", lost=lost) if lost else ""
        if not self.sheets:
            self._no_sheets(for_window(" ".join(laid.said)) or self._nothing())
            return
        self.at = min(self.at, len(self.sheets) - 1)
        self._list_contents()
        self._show()

    def _list_contents(self) -> None:
        """List where each part begins, for what has more than a few pages."""
        blocker = QSignalBlocker(self.contents)
        self.contents.clear()
        before = None
        for number, sheet in enumerate(self.sheets):
            if sheet.title and sheet.title != before:
                self.contents.addItem(f"{number + 1}  {sheet.title}", number)
            before = sheet.title
        self.contents.setVisible(self.contents.count() > 1)
        blocker.unblock()

    def _nothing(self) -> str:
        kind = self.kind.currentData()
        if kind == "levels":
            return tr("The site goes by one level; there is no sheet of several.")
        if kind == "resample":
            return tr("Nothing has to be measured again on this floor.")
        if kind == "rooms":
            return tr("The values of every room find their place on the map; choose a room to see "
                      "it larger.")  # fmt: skip
        return tr("There is no sheet of this kind.")

    def _no_sheets(self, why: str) -> None:
        self.sheets = ()
        self.preview.show_sheet(None, why)
        self.paper.setText("")
        self.page_text.setText("")
        self.contents.hide()
        self._buttons()

    def turn(self, step: int) -> None:
        """Turn the page."""
        self._go_to(self.at + step)

    def _go_to(self, number: int) -> None:
        if 0 <= number < len(self.sheets):
            self.at = number
            self._show()

    def _show(self) -> None:
        sheet = self.sheets[self.at]
        self.preview.show_sheet(sheet)
        paper = paper_of(sheet)
        wide = sheet.width_mm > sheet.height_mm
        way = (tr("{paper} landscape", paper=paper) if wide
               else tr("{paper} portrait", paper=paper))  # fmt: skip
        scale = scale_of(sheet)
        if self._laid_kind == "report" and scale is not None and scale >= 1000.0:
            scale = None  # a figure of a page of text
        text = way if scale is None else tr("{way}; the plan is 1 : {n}.", way=way, n=f"{scale:g}")
        if not self.desk.jobs.awaits(NAME):  # else it says that another one is on its way
            self.paper.setText(f"{text}\n{self._said}".strip())
        begun = [k for k in range(self.contents.count()) if self.contents.itemData(k) <= self.at]
        self.contents.setCurrentIndex(begun[-1] if begun else -1)
        self._buttons()

    def _buttons(self) -> None:
        count, jobs = len(self.sheets), self.desk.jobs
        busy = jobs.awaits(NAME) or jobs.awaits(PRINT)
        self.buttons["stop"].setText(tr("Stop") if busy else tr("Lay out anew"))
        for key in ("farther", "closer", "whole", "size", "print"):
            self.buttons[key].setEnabled(bool(count))
        self.buttons["print"].setEnabled(bool(count) and not busy)
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
        from hgmap.desktop.printer import ask_for_printer, pages_asked, put_on_paper

        printer = ask_for_printer(self, len(self.sheets)) if self.sheets else None
        if printer is None:
            return
        sheets = pages_asked(printer, self.sheets)
        if not sheets:
            self.paper.setText(tr("There are no such pages."))
            return
        self._into_file = bool(printer.outputFileName())
        session = self.desk.session

        def say(text: str, *, alarm: bool = True) -> None:
            if isValid(self):
                self.paper.setText(text)
                self._buttons()
            elif alarm:  # the page was closed meanwhile
                session.trouble.emit(text)

        def printed(went: bool) -> None:
            if not went:
                say(tr("The printer did not take the pages."))
                return
            text = tr_count("{n} page was printed.", "{n} pages were printed.", len(sheets))
            say(text, alarm=False)

        def failed(error: Exception) -> None:
            say(in_one_line(error))

        self.paper.setText(tr("The pages are on their way to the printer."))
        self.desk.jobs.start(
            PRINT, lambda progress, cancelled: put_on_paper(printer, sheets, progress), printed,
            failed,
        )  # fmt: skip
        self._buttons()

    def done(self, result: int) -> None:
        """Stop what is being laid out or written; what is on its way to a printer goes on."""
        for name in (NAME, "page", "export"):
            self.desk.jobs.drop(name)
        if self.settings is not None:
            self.settings.setValue(STYLE, self.form.wanted().style)
        super().done(result)
