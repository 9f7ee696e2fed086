"""Inks of the window, by day and by night; the plan's paper stays white in both.

The inks of states are told apart with every colour vision (a test simulates it); each state has a
sign of its own beside its colour.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtWidgets import QApplication, QWidget

TICKS: Final = Path(__file__).parent / "ticks"
"""The tick of a box, 12 px, in the ink that stands on marks; a style sheet takes it from a file."""


@dataclass(frozen=True, slots=True)
class Inks:
    """Colours of one of the two looks (``#rrggbb``)."""

    ground: str
    card: str
    field: str
    ink: str
    soft: str
    rule: str
    mark: str
    on_mark: str
    warn: str
    alarm: str
    done: str


# Hues after Okabe and Ito (2008), "Color Universal Design", darkened or lightened; from memory.
DAY: Final = Inks(
    ground="#eceef0", card="#ffffff", field="#ffffff", ink="#1a1d20", soft="#565d64",
    rule="#c9ccd0", mark="#00508a", on_mark="#ffffff", warn="#8a6000", alarm="#8f1d00",
    done="#00694c",
)  # fmt: skip
NIGHT: Final = Inks(
    ground="#1b1e21", card="#25292d", field="#1f2326", ink="#eceef0", soft="#a7afb6",
    rule="#43494f", mark="#6db7ea", on_mark="#10202c", warn="#e6b450", alarm="#ff9b66",
    done="#5cc9a0",
)  # fmt: skip


def wants_night() -> bool:
    """Tell whether the person's desktop is dark."""
    hints = QGuiApplication.styleHints()
    from PySide6.QtCore import Qt

    if hints.colorScheme() == Qt.ColorScheme.Dark:
        return True
    palette = QGuiApplication.palette()
    return palette.window().color().lightness() < palette.windowText().color().lightness()


def put_on(app: QApplication, inks: Inks) -> None:
    """Dress the whole program; Qt's own switch does nothing without a platform theme."""
    app.setStyle("Fusion")
    palette = QPalette()
    roles = {
        QPalette.ColorRole.Window: inks.ground,
        QPalette.ColorRole.WindowText: inks.ink,
        QPalette.ColorRole.Base: inks.field,
        QPalette.ColorRole.AlternateBase: inks.card,
        QPalette.ColorRole.Text: inks.ink,
        QPalette.ColorRole.Button: inks.card,
        QPalette.ColorRole.ButtonText: inks.ink,
        QPalette.ColorRole.ToolTipBase: inks.card,
        QPalette.ColorRole.ToolTipText: inks.ink,
        QPalette.ColorRole.Highlight: inks.mark,
        QPalette.ColorRole.HighlightedText: inks.on_mark,
        QPalette.ColorRole.Link: inks.mark,
        QPalette.ColorRole.PlaceholderText: inks.soft,
        QPalette.ColorRole.BrightText: inks.alarm,
        QPalette.ColorRole.Mid: inks.rule,
    }
    for role, colour in roles.items():
        palette.setColor(role, QColor(colour))
    for role in (
        QPalette.ColorRole.WindowText, QPalette.ColorRole.Text, QPalette.ColorRole.ButtonText,
    ):  # fmt: skip
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(inks.soft))
    app.setPalette(palette)
    style = _STYLE.format(
        **{name: getattr(inks, name) for name in inks.__slots__},
        tick=(TICKS / f"{inks.on_mark[1:]}.png").as_posix(),
    )
    if app.styleSheet() != style:  # every widget there is would be dressed anew
        app.setStyleSheet(style)


def dress_again(widget: QWidget) -> None:
    """Let a widget look as its properties say, which were changed."""
    widget.style().unpolish(widget)
    widget.style().polish(widget)


_STYLE: Final = """
QWidget {{ font-size: 10pt; }}
QToolTip {{ border: 1px solid {rule}; padding: 4px; }}
QLabel[soft="true"] {{ color: {soft}; }}
QLabel[title="true"] {{ font-size: 12pt; font-weight: bold; }}
QLabel[alarm="true"] {{ color: {alarm}; font-weight: bold; }}
QLabel[warn="true"] {{ color: {warn}; }}
QFrame[card="true"] {{ background: {card}; border: 1px solid {rule}; border-radius: 4px; }}
QFrame[card="true"] QLabel {{ background: transparent; }}
QPushButton {{ padding: 4px 10px; border: 1px solid {rule}; border-radius: 3px;
  background: {card}; color: {ink}; }}
QPushButton:hover {{ border-color: {mark}; }}
QPushButton:checked, QPushButton:default {{ background: {mark}; color: {on_mark}; }}
QPushButton:disabled {{ color: {soft}; background: {ground}; }}
QLineEdit, QPlainTextEdit {{ border: 1px solid {soft}; border-radius: 3px; padding: 2px;
  background: {field}; }}
QRadioButton, QCheckBox {{ border: 2px solid transparent; border-radius: 3px; padding: 0 3px; }}
QPushButton:focus, QComboBox:focus, QLineEdit:focus, QTableView:focus, QToolButton:focus,
QRadioButton:focus, QCheckBox:focus, QListView:focus, QTextEdit:focus, QPlainTextEdit:focus
  {{ border: 2px solid {mark}; }}
QCheckBox::indicator, QTableView::indicator, QRadioButton::indicator {{ width: 12px; height: 12px;
  border: 1px solid {soft}; border-radius: 2px; background: {field}; }}
QRadioButton::indicator {{ border-radius: 7px; }}
QCheckBox::indicator:checked, QTableView::indicator:checked
  {{ background: {mark}; image: url("{tick}"); }}
QRadioButton::indicator:checked {{ background: qradialgradient(cx: 0.5, cy: 0.5, radius: 0.5,
  fx: 0.5, fy: 0.5, stop: 0.55 {mark}, stop: 0.65 {field}); }}
QToolButton {{ padding: 3px 6px; border: 1px solid transparent; border-radius: 3px; }}
QToolButton[tool="true"] {{ border-color: {rule}; background: {card}; color: {ink}; }}
QToolButton[tool="true"]:disabled {{ color: {soft}; background: transparent; }}
QToolButton:hover {{ border-color: {mark}; }}
QToolButton:checked, QToolButton[tool="true"]:checked
  {{ background: {mark}; color: {on_mark}; }}
QHeaderView::section {{ background: {ground}; color: {ink}; padding: 3px; border: 0;
  border-right: 1px solid {rule}; border-bottom: 1px solid {rule}; }}
QTableView {{ gridline-color: {rule}; alternate-background-color: {card}; }}
QSplitter::handle {{ background: {rule}; }}
QStatusBar {{ background: {ground}; color: {ink}; }}
"""


@contextmanager
def dressed_when_whole() -> Iterator[None]:
    """Build widgets undressed, and dress them once: each layout that takes one dresses it anew."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        raise RuntimeError("there is no application yet")
    style = app.styleSheet()
    app.setStyleSheet("")
    try:
        yield
    finally:
        app.setStyleSheet(style)
