"""On the right: the spot under the cursor explains itself; below it, the key of what is shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from hgmap.desktop import pipeline
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.decide.explain import Explanation
    from hgmap.desktop.desk import Desk

OVERLAY: Final = "explain"
REST_MS: Final = 90
"""How long the cursor has to rest before the drivers of its place are worked out."""

MOST_LISTED: Final = 6


class ExplainPanel(QScrollArea):
    """Says why a place reads so, and draws it on the plan."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFrameShape(QFrame.Shape.NoFrame)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(10, 8, 10, 8)
        title = QLabel(tr("This spot"))
        title.setProperty("title", True)
        column.addWidget(title)
        self.text = QLabel(tr("Point at the plan: the place says what is known of it, and why."))
        self.text.setWordWrap(True)
        self.text.setTextFormat(Qt.TextFormat.RichText)
        self.text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.text.setAccessibleName(tr("Explanation of the place under the cursor"))
        column.addWidget(self.text)
        self.key_title = QLabel(tr("Key"))
        self.key_title.setProperty("title", True)
        column.addWidget(self.key_title)
        self.key = QLabel()
        self.key.setAccessibleName(tr("Key of what the plan shows"))
        column.addWidget(self.key)
        column.addStretch(1)
        self.setWidget(inside)
        self.on = True
        self._place: tuple[float, float] | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(REST_MS)
        self._timer.timeout.connect(self._ask)
        desk.canvas.cursor_moved.connect(self.follow)
        desk.canvas.cursor_left.connect(self.forget)
        desk.session.map_changed.connect(self._again)

    def follow(self, x: float, y: float) -> None:
        """Note where the cursor is on the plan (m)."""
        if self.on:
            self._place = (x, y)
            self._timer.start()

    def forget(self) -> None:
        """Ask no more: the cursor left the plan; what was said stays to be read."""
        self._timer.stop()

    def _again(self) -> None:
        if self._place is not None:
            self._timer.start()

    def _ask(self) -> None:
        mapped, place = self.desk.session.mapped, self._place
        if place is None:
            return
        if mapped is None:
            why = self.desk.session.why_no_map
            self.text.setText(_escape(why) if why else tr("The map of this floor is being made."))
            return
        self.desk.jobs.start(
            "explain",
            lambda progress, cancelled: pipeline.explain(mapped, *place),
            self.show_explanation,
            self._nothing,
        )

    def _nothing(self, error: Exception) -> None:
        self.desk.canvas.set_overlay(OVERLAY, ())
        self.text.setText(_escape(str(error)))

    def show_explanation(self, one: Explanation) -> None:
        """Show an explanation in words and on the plan."""
        from hgmap.scene.explain_scene import explain_scene

        mapped = self.desk.session.mapped
        if mapped is None:
            return
        self.desk.canvas.set_overlay(OVERLAY, explain_scene(one))
        self.text.setText(in_words(one, mapped))


def in_words(one: Explanation, mapped: Any) -> str:
    """Return an explanation as rich text; every word of a file is escaped."""
    from hgmap.report.words import number, per_cent, published_per_computed

    level = mapped.case.level
    factor = published_per_computed(level)
    lines = [f"<b>{_escape(one.room.name)}</b> &nbsp; {one.x:.2f}, {one.y:.2f} m"]
    if one.zone is not None:
        lines.append(f"{tr('Zone')}: <b>{_escape(tr(one.zone))}</b>")
    lines += [f"· {_escape(reason)}" for reason in one.reasons]
    if one.estimate is None or one.low is None or one.high is None:
        lines.append(tr("No reading reaches this place."))
        return "<br>".join(lines)
    said = tr("Estimate") + (f" ({tr('median')})" if one.scale == "log" else "")
    lines.append(f"{said}: <b>{number(one.estimate * factor)} {_escape(level.unit)}</b>")
    lines.append(
        tr("95 % interval: {low} to {high}", low=number(one.low * factor),
           high=number(one.high * factor))
    )  # fmt: skip
    if one.probability is not None:
        lines.append(
            tr("Chance of being above {level}: {chance}",
               level=f"{number(level.value)} {_escape(level.unit)}",
               chance=f"<b>{per_cent(one.probability)}</b>")
        )  # fmt: skip
    lines.append("")
    lines.append(f"<b>{tr('What drives it')}</b>")
    for driver in one.drivers[:MOST_LISTED]:
        way = tr("no way for the air is drawn")
        if driver.route is not None:
            way = tr("{metres} m of way", metres=f"{driver.route.length_m:.1f}")
            if driver.route.openings:
                through = ", ".join(driver.route.openings)
                way += ", " + tr("through {openings}", openings=_escape(through))
            if driver.route.closed:
                way += " " + tr("(closed: {doors})", doors=_escape(", ".join(driver.route.closed)))
        names = ", ".join(driver.readings)
        lines.append(
            f"<b>{per_cent(driver.weight)}</b> {_escape(names)}: {_escape(driver.text)}, "
            f"{_escape(driver.room.name)}; {way}"
        )
    if len(one.drivers) > MOST_LISTED:
        lines.append(tr("and {n} more that weigh less", n=len(one.drivers) - MOST_LISTED))
    return "<br>".join(lines)


def _escape(text: str) -> str:
    import html

    return html.escape(text, quote=False)
