"""The floors of a site, where north is on one, its scale, and the picture under its plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFormLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from hgmap.desktop.panels.ask_length import ask_length
from hgmap.desktop.panels.ask_row import Answers, AskRow, Field, number
from hgmap.desktop.panels.plan_underlay import PictureBox
from hgmap.desktop.panels.scale_all_the_same import scale_all_the_same
from hgmap.desktop.tools.line_tools import SetScale
from hgmap.desktop.tools.places_tool import Place
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr, tr_count
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.panels.plan_tools import PlanTools
    from hgmap.editing.site_files import SiteFiles

Places = tuple[Place, ...]


class FloorPage(QWidget):
    """Buttons and fields of the chosen floor."""

    def __init__(self, desk: Desk, tools: PlanTools, ask: AskRow) -> None:
        super().__init__()
        self.desk, self.board, self.tools, self.ask = desk, desk.board, tools, ask
        self.scale_tool = SetScale(self.board, self._scale_clicked, tools.put_down)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        column.setSpacing(6)
        self.which = QLabel()
        self.which.setProperty("title", True)
        self.which.setTextFormat(Qt.TextFormat.PlainText)
        self.which.setWordWrap(True)
        column.addWidget(self.which)
        self.buttons: dict[str, QPushButton] = {}
        self.buttons |= tools.buttons(column, {
            "bring": (tr("Bring in a drawing"), "Ctrl+Alt+D",
                      lambda: desk.told.page_wanted.emit("drawing")),
            "rooms": (tr("Find rooms from walls"), "Ctrl+Alt+W",
                      lambda: desk.told.page_wanted.emit("rooms")),
            "add": (tr("Add a floor"), "Ctrl+Alt+F", self.add_floor),
            "copy": (tr("Copy its plan"), "Ctrl+Shift+Y", self.copy_floor),
            "rename": (tr("Rename"), "Ctrl+Shift+T", self.rename_floor),
            "remove": (tr("Remove"), "Ctrl+Shift+Del", self.remove_floor),
            "begin": (tr("Begin a new plan"), "Ctrl+Alt+B", self.begin_anew),
        })  # fmt: skip
        form = QFormLayout()
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.north = QLineEdit()
        self.north.setAccessibleName(tr("North, degrees clockwise from the top of the plan"))
        self.north.setPlaceholderText(tr("nobody has said it"))
        self.north.setToolTip(self.north.accessibleName())
        self.north.editingFinished.connect(self._north_typed)
        form.addRow(tr("North (° clockwise)"), self.north)
        column.addLayout(form)
        self.buttons |= tools.buttons(column, {
            "scale": (tr("Set the scale"), "Ctrl+Shift+A", self.take_scale),
        })  # fmt: skip
        self._why_no_floor = ""
        self.picture = PictureBox(desk, tools, ask)
        column.addWidget(self.picture)
        column.addStretch(1)
        self.board.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show the chosen floor as the files have it."""
        entry, draft = self.board.entry, self.board.draft
        self.which.setText((entry.title or entry.name) if entry else tr("No floor"))
        north = entry.north_deg if entry else None
        if not self.north.hasFocus() or not self.north.isModified():
            self.north.setText("" if north is None else f"{north:g}")
        for key in ("copy", "rename", "remove"):
            self.buttons[key].setEnabled(entry is not None)
        self.buttons["copy"].setEnabled(draft is not None)
        self.buttons["rooms"].setEnabled(draft is not None and bool(draft.walls))
        self.buttons["begin"].setVisible(entry is not None and draft is None)
        self.buttons["scale"].setEnabled(draft is not None and bool(draft.features))

    # -- floors

    def add_floor(self) -> None:
        """Ask for the name of a new floor and make it, with an empty plan."""
        self._ask_floor(tr("What is the new floor called?"), tr("Add it"), copied=False)

    def copy_floor(self) -> None:
        """Make a new floor whose plan begins as a copy of this one, and lies as it does."""
        self._ask_floor(
            tr("The new floor begins with a copy of this plan. What is it called?"),
            tr("Copy it"), copied=True,
        )  # fmt: skip

    def _ask_floor(self, text: str, yes: str, *, copied: bool) -> None:
        self.ask.ask(
            text, [Field("name", tr("Name"))], yes, lambda said: self._add(said["name"], copied)
        )

    def _add(self, typed: str, copied: bool) -> bool:
        from hgmap.editing.copy_floor import copy_floor
        from hgmap.editing.floor_settings import add_floor
        from hgmap.site.importers.names import typed_name

        try:
            title = typed_name(typed, "a floor")
        except HgmapError as error:
            return self._no_floor(in_one_line(error))
        if not title:
            return self._no_floor(tr("a floor needs a name: type one"))
        table = self.board.table
        if table is not None and any(one.name == title for one in table.floors):
            return self._no_floor(
                tr("there is a floor {name} already: choose another name", name=title)
            )
        old = self.board.floor

        def make(files: SiteFiles) -> SiteFiles:
            return copy_floor(files, old, title) if copied else add_floor(files, title)

        if not self.desk.session.edit(tr("Add the floor {name}", name=title), make):
            return False
        self.desk.told.mended.emit(self._why_no_floor)
        self.desk.session.choose(floor=title)
        if not copied:
            self.tools.take(self.tools.trace)
        return True

    def _no_floor(self, why: str) -> bool:
        self._why_no_floor = why
        self.desk.session.trouble.emit(why)
        return False

    def rename_floor(self) -> None:
        """Ask for another title of the floor; readings go on naming it as they do."""
        from hgmap.editing.floor_settings import rename_floor

        entry = self.board.entry
        if entry is None:
            return
        name = entry.name

        def act(said: Answers) -> bool:
            title = said["name"]
            return self.desk.session.edit(
                tr("Rename the floor {name}", name=title),
                lambda files: rename_floor(files, name, title),
            )

        self.ask.ask(
            tr("The floor's title on the screen and on paper. Readings go on naming it {name!r}.",
               name=name),
            [Field("name", tr("Title"), entry.title or entry.name)], tr("Rename it"), act,
        )  # fmt: skip

    def remove_floor(self) -> None:
        """Ask whether the floor is to go, and what goes with it."""
        from hgmap.editing.floor_settings import remove_floor

        entry = self.board.entry
        if entry is None:
            return
        name = entry.name
        site = self.desk.session.site
        count = sum(one.floor == name for one in site.readings) if site else 0
        text = tr("Remove the floor {name} and its plan?", name=entry.title or name)
        if count:
            text += " " + tr_count(
                "{n} reading names it: it stays in its file and is held.",
                "{n} readings name it: they stay in their files and are held.", count,
            )  # fmt: skip
        self.ask.ask(
            text, [], tr("Remove it"),
            lambda said: self.desk.session.edit(
                tr("Remove the floor {name}", name=name), lambda files: remove_floor(files, name)
            ),
            no=tr("Keep it"),
        )  # fmt: skip

    def begin_anew(self) -> None:
        """Give a floor whose file is no plan an empty one; the old file is kept beside it."""
        entry, files = self.board.entry, self.desk.session.files
        if entry is None or files is None:
            return
        plan = entry.plan

        def make(now: SiteFiles) -> SiteFiles:
            from hgmap.editing.floor_settings import EMPTY_PLAN

            old = now.contents.get(plan)
            if old is not None:
                n = 1
                while f"{plan}.set-aside-{n}" in now.contents:
                    n += 1
                now = now.with_file(f"{plan}.set-aside-{n}", old)
            return now.with_file(plan, EMPTY_PLAN)

        if self.desk.session.edit(tr("Begin a new plan"), make):
            self.tools.take(self.tools.trace)

    def _north_typed(self) -> None:
        from hgmap.editing.floor_settings import set_north

        entry = self.board.entry
        if entry is None or not self.north.isModified():
            return
        self.north.setModified(False)
        text = self.north.text().strip()
        value = number(text)
        if text and value is None:
            self.desk.session.trouble.emit(
                tr("{text!r} is no direction: type degrees, such as 12.5", text=text)
            )
            self.refresh()
            return
        name = entry.name
        if value != entry.north_deg:
            self.desk.session.edit(
                tr("Say where north is"), lambda files: set_north(files, name, value)
            )
        self.refresh()

    # -- scale

    def take_scale(self) -> None:
        """Take the tool that scales the whole plan."""
        self.tools.take(self.scale_tool)

    def _scale_clicked(self, places: Places) -> bool:
        from hgmap.editing.plan_of_floor import length_between

        try:
            drawn = length_between(places[0], places[1])
        except HgmapError as error:
            self.desk.session.trouble.emit(str(error))
            return False
        ask_length(
            self.ask, self.desk.session,
            tr("They lie {drawn} m apart on the plan. How far is it in the building?",
               drawn=f"{drawn:.3g}"),
            tr("Scale the plan"), lambda metres, _: self._scale(places, metres),
            refused=self.tools.put_down,
        )  # fmt: skip
        return True

    def _scale(self, places: Places, metres: float) -> bool:
        from hgmap.editing.plan_of_floor import factor_for, scale_floor

        try:
            factor = factor_for(places[0], places[1], metres)
        except HgmapError as error:
            self.desk.session.trouble.emit(str(error))
            return False
        floor = self.board.floor

        def scale() -> bool:
            done = self.desk.session.edit(
                tr("Scale the plan by {factor}", factor=f"{factor:.4g}"),
                lambda files: scale_floor(files, floor, factor),
            )
            if done:
                self.tools.put_down()
                self.desk.canvas.fit()
            return done

        return scale_all_the_same(self.ask, self.desk.session, floor, scale, self.tools.put_down)
