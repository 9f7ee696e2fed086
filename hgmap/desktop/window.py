"""The window: questions on the left, the plan in the middle, the spot under the cursor right."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QCloseEvent
from PySide6.QtWidgets import (
    QApplication,
    QLabel,
    QMainWindow,
    QMenu,
    QProgressBar,
    QSizePolicy,
    QSplitter,
    QStackedWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.actions import fill_menus
from hgmap.desktop.bar import Bar
from hgmap.desktop.canvas import Canvas
from hgmap.desktop.desk import Desk, Told
from hgmap.desktop.explain_panel import ExplainPanel
from hgmap.desktop.key_view import KeyView
from hgmap.desktop.notice import Notice
from hgmap.desktop.panels.every import panels_of
from hgmap.desktop.panels.plan_panel import PlanPanel
from hgmap.desktop.plain import plain_tip
from hgmap.desktop.plan_pages import PlanPages
from hgmap.desktop.plan_view import PlanView
from hgmap.desktop.questions_column import ASKED, QuestionsColumn
from hgmap.desktop.session import Session
from hgmap.desktop.site_doors import SiteDoors
from hgmap.desktop.start_page import StartPage
from hgmap.desktop.theme import DAY, NIGHT, dressed_when_whole, put_on
from hgmap.desktop.window_words import for_window, question_for_window
from hgmap.desktop.words import tr
from hgmap.desktop.work import Jobs
from hgmap.site.cautions import screening

TITLE_PX = 28
"""What a window manager puts above a window."""

ROOM_FOR_BOTH_PX = 1500
"""A window so wide (pixels) has room for the explanation and for the help."""

REACH_PX = 9.0
"""How near (pixels) a click has to be to something that it means."""


class Window(QMainWindow):
    """One survey at a time."""

    def __init__(self, *, remembering: bool = True, home: Path | None = None) -> None:
        super().__init__()
        with dressed_when_whole():
            self._build(remembering, home)
        self._fit_the_screen()
        self._mark()
        self.show_start()
        if remembering:
            self.files.offer_recovered()

    def _build(self, remembering: bool, home: Path | None) -> None:
        self.jobs = Jobs(self)
        self.session = Session(self.jobs, self)
        self.canvas = Canvas()
        self.told = Told(self)
        self.desk = Desk(self, self.session, self.canvas, self.jobs, self.told)
        self.plan_view = PlanView(self.desk, self)
        self.bar = Bar(self.session)
        self.notice = Notice()
        self.explain = ExplainPanel(self.desk)
        self.key_view = KeyView(self.desk, self.plan_view, self.explain)
        self.column = QuestionsColumn(panels_of(self.desk))
        self.files = SiteDoors(self, remembering=remembering, home=home)
        self.start_page = StartPage(self.files)
        self.recent_menu = QMenu()
        self.save_action = QAction()
        self.explain_action = QAction()
        self._dialogs: list[Any] = []
        self._help: Any = None
        self._lay_out()
        self._listen()
        plan = self.column.panels["plan"]
        if isinstance(plan, PlanPanel):
            plan.use(self.plan_view)
        fill_menus(self)
        self.plan_pages = PlanPages(self)
        self.recent_menu.aboutToShow.connect(self._fill_recent)

    def _lay_out(self) -> None:
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.bar)
        column.addWidget(self.canvas, 1)
        self.caution = QLabel(tr(screening("air")))
        self.caution.setWordWrap(True)
        self.caution.setProperty("soft", True)
        self.caution.setContentsMargins(8, 3, 8, 3)
        column.addWidget(self.caution)
        self.survey = QSplitter(Qt.Orientation.Horizontal)
        self.survey.addWidget(self.column)
        self.survey.addWidget(middle)
        self.survey.addWidget(self.explain)
        self.survey.setStretchFactor(1, 1)
        self.column.setMinimumWidth(300)
        self.explain.setMinimumWidth(250)
        self.survey.setSizes([330, 690, 260])
        self.survey.setCollapsible(1, False)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.start_page)
        self.pages.addWidget(self.survey)
        whole = QWidget()
        rows = QVBoxLayout(whole)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(0)
        rows.addWidget(self.notice)
        rows.addWidget(self.pages, 1)
        self.setCentralWidget(whole)
        foot = self.statusBar()
        self.said = QLabel()
        self.said.setTextFormat(Qt.TextFormat.PlainText)
        # a long line is cut at the edge of the window rather than the window made wider
        self.said.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        foot.addWidget(self.said, 1)
        self.doing = QLabel()
        self.progress = QProgressBar()
        self.progress.setRange(0, 100)
        self.progress.setFixedWidth(130)
        self.progress.setTextVisible(False)
        self.stop = QToolButton()
        self.stop.setText(tr("Stop"))
        self.stop.setToolTip(tr("Stop what is being worked out; the picture stays as it is"))
        self.stop.clicked.connect(self.session.stop_work)
        for widget in (self.doing, self.progress, self.stop):
            foot.addPermanentWidget(widget)
        self._busy("", 1.0)

    def _fit_the_screen(self) -> None:
        """Be as large as a usual screen, and no larger than this one."""
        screen = self.screen().availableGeometry()
        self.resize(min(1280, screen.width()), min(800, screen.height() - TITLE_PX))

    def _listen(self) -> None:
        session = self.session
        session.said.connect(self._say)
        session.trouble.connect(self.notice.say)
        self.told.mended.connect(self.notice.put_away)
        session.questions_changed.connect(self.refresh_questions)
        session.behind_changed.connect(self.refresh_questions)
        session.files_changed.connect(self._mark)
        session.saved.connect(self._mark)
        session.opened.connect(self._mark)
        session.opened.connect(self._opened)
        self.jobs.busy_changed.connect(self._busy)
        self.canvas.clicked.connect(self._clicked)
        self.told.question_wanted.connect(self.column.choose)

    # -- pages

    def open_site(self, folder: Path, *, ask: bool = True) -> bool:
        """Open a site folder; tell whether it is open."""
        return self.files.open(folder, ask=ask)

    def show_survey(self) -> None:
        """Show the open survey."""
        self.pages.setCurrentWidget(self.survey)
        if not self.column.key:
            self.column.choose("plan")

    def show_start(self) -> None:
        """Show the start page."""
        self.start_page.refresh()
        self.pages.setCurrentWidget(self.start_page)

    def show_new_site(self) -> None:
        """Begin a new site."""
        from hgmap.desktop.new_site import NewSitePage

        if isinstance(self.pages.currentWidget(), NewSitePage):
            return
        page = NewSitePage(self)
        self.pages.addWidget(page)
        self.pages.setCurrentWidget(page)

    def print_page(self) -> None:
        """Show what would be printed, and what can be exported."""
        if self.session.site is None:
            return
        from hgmap.desktop.print_page import PrintDialog

        files = self.files
        dialog = PrintDialog(self.desk, files.places.settings() if files.remembering else None)
        self._dialogs = [dialog]
        dialog.open()

    def toggle_help(self) -> None:
        """Show the help beside the plan, or put it away."""
        if self._help is None:
            from hgmap.desktop.help_pane import HelpPane

            self._help = HelpPane(self)
            self.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self._help)
            self._help.visibilityChanged.connect(self._make_room)
            self._help.show_topic(self.column.key)
            return
        self._help.setVisible(not self._help.isVisible())

    def _make_room(self, help_shown: bool) -> None:
        """On a narrow screen the help takes the place of the explanation, so that both are read."""
        self.explain.setVisible(not help_shown or self.width() >= ROOM_FOR_BOTH_PX)

    # -- what is chosen

    def choose_question(self, number: int) -> None:
        """Choose a question by its number, 1 to 5."""
        self.column.choose(list(ASKED)[number - 1])

    def step_floor(self, step: int) -> None:
        """Go to the floor before or after; the site lists them in its own order."""
        box = self.bar.floor
        at = box.currentIndex() + step
        if 0 <= at < box.count():
            self.session.choose(floor=box.itemData(at))

    def toggle_explain(self) -> None:
        """Let the spot under the cursor explain itself, or not."""
        self.explain.on = self.explain_action.isChecked()
        if not self.explain.on:
            self.canvas.set_overlay("explain", ())

    def toggle_night(self) -> None:
        """Change between the light and the dark look; the plan's paper stays white."""
        app = QApplication.instance()
        if isinstance(app, QApplication):
            dark = app.palette().window().color().lightness() < 128
            put_on(app, DAY if dark else NIGHT)

    def focus_table(self) -> None:
        """Go to the table of the chosen question."""
        panel = self.column.panel
        if panel is not None:
            panel.focus_table()

    def refresh_questions(self) -> None:
        """Say anew where each question stands."""
        from hgmap.questions.gather import Known, questions

        session = self.session
        judged, mapped = session.judged, None if session.behind else session.mapped
        known = Known(
            check=judged.check if judged else None,
            findings=judged.findings if judged else {},
            maps=session.maps if mapped else {},
            floor=session.choices.floor,
            listed=mapped is not None and mapped.whole,
            clearance=session.clearance,
            round=session.round_name,
            trouble=session.why_no_site,
        )
        for one in map(question_for_window, questions(known)):
            self.column.buttons[one.key].say(one.state, one.open_points)
            self.column.panels[one.key].take(one)

    # -- listening

    def _opened(self) -> None:
        self.notice.hide()
        site = self.session.site
        self.caution.setText(tr(screening(site.medium if site is not None else "air")))
        if self.session.why_no_site:
            self.notice.say(self.session.why_no_site)
        if site is not None:
            self.said.setText(site.name)

    def _say(self, text: str) -> None:
        self.said.setText(for_window(text))
        self.said.setToolTip(plain_tip(for_window(text)))

    def _mark(self) -> None:
        site = self.session.site
        name = site.name if site else tr("hgmap")
        self.setWindowTitle(f"{name}[*] - hgmap" if site else "hgmap")
        self.setWindowModified(self.session.unsaved)
        self.save_action.setEnabled(self.session.unsaved)

    def _busy(self, text: str, share: float) -> None:
        busy = self.jobs.busy
        for widget in (self.doing, self.progress, self.stop):
            widget.setVisible(busy)
        if busy:
            self.doing.setText(text)
            self.progress.setValue(round(100.0 * share))

    def _clicked(self, x: float, y: float) -> None:
        panel = self.column.panel
        if panel is not None:
            reach = REACH_PX / max(self.canvas.px_per_m, 1e-9)
            panel.points.choose_at(x, y, reach, self.session.choices.floor)

    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        for number, folder in enumerate(self.files.recent(), start=1):
            action = self.recent_menu.addAction(f"&{number}  {folder.name}")
            action.setToolTip(str(folder))
            action.triggered.connect(lambda _=False, folder=folder: self.files.open(folder))

    # -- leaving

    def close_for_good(self) -> None:
        """Close without asking; only for windows that nobody works in."""
        self.jobs.close()
        self.canvas.stop_painting()
        self.session.late.close()
        self.session.base = self.session.files
        self.close()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802
        """Ask about what is unsaved; wait for work to end."""
        if not self.files.may_leave():
            event.ignore()
            return
        self.jobs.close()
        self.canvas.stop_painting()
        self.session.late.close()
        self.files.forget()
        event.accept()
