"""The bar above the plan: floor, round, height and level, how it is estimated, what is shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import QEvent, QObject, QSignalBlocker, Qt
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QMenu, QToolButton, QWidget

from hgmap.desktop.plain import plain_tip
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.desktop.pipeline import Judged
    from hgmap.desktop.session import Session

VIEWS: Final = {
    "readings": ("Readings", "Alt+1"),
    "zones": ("Zones", "Alt+2"),
    "estimate": ("Estimate", "Alt+3"),
    "probability": ("Chance of being above", "Alt+4"),
    "next places": ("Places to measure next", "Alt+5"),
}

WAYS: Final[dict[str, dict[str, Any]]] = {
    "Kriging, through the doors": {"method": "kriging", "walls": True},
    "Kriging, along straight lines": {"method": "kriging", "walls": False},
    "Inverse distance, through the doors": {"method": "idw", "walls": True},
    "Inverse distance, along straight lines": {"method": "idw", "walls": False},
    "As the site says": {"method": None, "walls": None},
}
"""How it is estimated: what a person calls it, and the choices that it means."""


class Bar(QWidget):
    """Chooses what the plan shows."""

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session = session
        self._fitting: tuple[object, list[tuple[str, Any]]] = (None, [])
        row = QHBoxLayout(self)
        row.setContentsMargins(8, 5, 8, 5)
        row.setSpacing(6)
        self.floor = self._choice(row, tr("Floor"), lambda key: session.choose(floor=key))
        self.round = self._choice(row, tr("Round"), lambda key: session.choose(round=key))
        self.band = self._choice(row, tr("Height"), lambda key: session.choose(band=key))
        self.level = self._choice(row, tr("Level"), lambda key: session.choose(level=key))
        self.level.setEditable(True)
        self.level.setInsertPolicy(QComboBox.InsertPolicy.NoInsert)
        line = self.level.lineEdit()
        if line is not None:
            line.editingFinished.connect(self._typed_level)
            line.installEventFilter(self)
        self.how = QToolButton()
        self.how.setText(tr("How"))
        self.how.setToolTip(tr("How the air between the readings is estimated"))
        self.how.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.how_menu = QMenu(self.how)
        self.how.setMenu(self.how_menu)
        self.method_actions = self._how_actions()
        row.addWidget(self.how)
        self.show_what = QToolButton()
        self.show_what.setText(tr("Show"))
        self.show_what.setToolTip(tr("What the plan shows"))
        self.show_what.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.views_menu = QMenu(self.show_what)
        self.show_what.setMenu(self.views_menu)
        row.addWidget(self.show_what)
        self.view_actions = self._view_actions()
        session.choices_changed.connect(self.refresh)
        session.site_changed.connect(self.refresh)
        session.map_changed.connect(self.refresh)
        session.judged_changed.connect(self.refresh)
        session.opened.connect(self.refresh)

    def _choice(self, row: QHBoxLayout, text: str, choose: Callable[[Any], None]) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(text)
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(4)
        box.setMinimumWidth(72)
        row.addWidget(box, 1)
        box.activated.connect(lambda index: choose(box.itemData(index)))
        return box

    def _view_actions(self) -> dict[str, QAction]:
        actions = {}
        for key, (text, shortcut) in VIEWS.items():
            action = QAction(tr(text), self)
            action.setCheckable(True)
            action.setShortcut(QKeySequence(shortcut))
            action.triggered.connect(lambda on, key=key: self._show(key, on))
            self.views_menu.addAction(action)
            actions[key] = action
        return actions

    def _how_actions(self) -> dict[str, QAction]:
        actions = {}
        for text, what in WAYS.items():
            action = QAction(tr(text), self)
            action.setCheckable(True)
            action.setData(what)
            action.triggered.connect(lambda _=False, what=what: self.session.choose(**what))
            self.how_menu.addAction(action)
            actions[text] = action
        return actions

    def _show(self, key: str, on: bool) -> None:
        views = set(self.session.choices.views)
        if on:
            views.add(key)
            # one shade at a time: two on top of each other would be a third colour
            views.discard({"estimate": "probability", "probability": "estimate"}.get(key, ""))
        else:
            views.discard(key)
        self.session.choose(views=frozenset(views))

    def focus_level(self) -> None:
        """Let a level be typed, or be chosen with the arrow keys."""
        self.level.setFocus()
        line = self.level.lineEdit()
        if line is not None:
            line.selectAll()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Let Esc take back what is being typed as the level."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and (
            event.key() == Qt.Key.Key_Escape and self._typing
        ):  # fmt: skip
            self._typed_no_more()
            self.refresh()
            return True
        return super().eventFilter(watched, event)

    @property
    def _typing(self) -> bool:
        """Whether somebody is typing a level: it is not taken away under their hands."""
        line = self.level.lineEdit()
        return line is not None and line.hasFocus() and line.isModified()

    def _typed_no_more(self) -> None:
        line = self.level.lineEdit()
        if line is not None:
            line.setModified(False)

    def _typed_level(self) -> None:
        self._typed_no_more()
        text = self.level.currentText().strip()
        index = self.level.findText(text)
        if index >= 0:
            self.session.choose(level=self.level.itemData(index))
        elif text and text != self.session.choices.level:
            self.session.choose(level=text)
        else:
            self.refresh()

    def refresh(self) -> None:
        """Show what can be chosen and what is."""
        session, site = self.session, self.session.site
        chosen = session.choices
        lost = sorted(site.floors_without_a_plan) if site else []
        floors = [(one.title, one.name) for one in site.floors] if site else []
        floors += [(tr("{name}: no plan to map yet", name=one), one) for one in lost]
        _fill(self.floor, floors, chosen.floor)
        _fill(self.round, [(one.title, one.name) for one in site.rounds] if site else [],
              chosen.round)  # fmt: skip
        bands: list[tuple[str, Any]] = [(self._usual_band(), None)]
        bands += [(one.name, one.name) for one in site.height_bands] if site else []
        _fill(self.band, bands, chosen.band)
        if not self._typing:
            _fill(self.level, self._levels(), chosen.level)
        for key, action in self.view_actions.items():
            action.setChecked(key in chosen.views)
        for action in self.method_actions.values():
            what = action.data()
            action.setChecked((what["method"], what["walls"]) == (chosen.method, chosen.walls))

    def _usual_band(self) -> str:
        """Name the height band that a map without a choice has."""
        mapped, chosen = self.session.mapped, self.session.choices
        if mapped is not None and chosen.band is None:
            return tr("{band} (as the site says)", band=mapped.case.band)
        return tr("height as the site says")

    def _levels(self) -> list[tuple[str, Any]]:
        """List the site's own level first, then the published ones that fit its use."""
        judged, chosen = self.session.judged, self.session.choices.level
        if judged is None:
            return [(chosen or tr("as the site says"), chosen)]
        own = judged.check.level if chosen is None else None
        first = tr("as the site says")
        if own is not None:
            first = tr("site: {level}", level=f"{own.value:g} {own.unit}")
        elif chosen is None:
            first = tr("no level: choose one")
        found: list[tuple[str, Any]] = [(first, None), *self._published(judged)]
        if chosen is not None and chosen not in {data for _, data in found}:
            found.append((chosen, chosen))
        return found

    def _published(self, judged: Judged) -> list[tuple[str, Any]]:
        """List the published levels that fit a site's use; looked for once for each judgement."""
        if self._fitting[0] is not judged:
            from hgmap.site.levels import levels_for

            rows = [
                (f"{one.value:g} {one.unit}, {one.name}", one.name)
                for one in levels_for(judged.site)
            ]
            self._fitting = (judged, rows)
        return self._fitting[1]


def _fill(box: QComboBox, rows: Sequence[tuple[str, Any]], chosen: Any) -> None:
    """Fill a box without telling anybody; what is chosen is shown."""
    held = [(box.itemText(k), box.itemData(k)) for k in range(box.count())]
    at = box.currentIndex()
    shown = at >= 0 and box.currentData() == chosen and box.currentText() == box.itemText(at)
    if held == list(rows) and shown:
        return  # what did not change is not made anew: an open list stays open
    blocker = QSignalBlocker(box)
    box.clear()
    for text, data in rows:
        box.addItem(text, data)
    at = next((k for k, (_, data) in enumerate(rows) if data == chosen), 0 if rows else -1)
    box.setCurrentIndex(at)
    box.setToolTip(plain_tip(f"{box.accessibleName()}: {box.currentText()}"))
    line = box.lineEdit()
    if line is not None:
        line.setCursorPosition(0)
    box.setEnabled(bool(rows))
    blocker.unblock()
