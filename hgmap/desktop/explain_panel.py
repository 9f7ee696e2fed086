"""On the right: the spot under the cursor explains itself; below it, the key of what is shown."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QVBoxLayout, QWidget

from hgmap.desktop import pipeline
from hgmap.desktop.hands import Haste
from hgmap.desktop.window_words import in_one_line
from hgmap.desktop.words import tr

if TYPE_CHECKING:
    from hgmap.decide.explain import Drives, Explanation
    from hgmap.desktop.desk import Desk
    from hgmap.desktop.pipeline import Mapped

OVERLAY: Final = "explain"
FIGURES_MS: Final = 20
REST_MS: Final = 90
"""How long the cursor has to rest before the figures of its place, then its drivers, are found."""

MOST_LISTED: Final = 6


class ExplainPanel(QScrollArea):
    """Says why a place reads so, and draws it on the plan."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setAccessibleName(tr("This spot"))
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
        self.text = QLabel(_invitation())
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
        self._floor = desk.session.choices.floor
        self._quick = self._timer(FIGURES_MS, self._ask_figures)
        self._rest = self._timer(REST_MS, self._ask_drivers)
        self._drives: tuple[Mapped, Drives] | None = None
        desk.canvas.cursor_moved.connect(self.follow)
        desk.canvas.cursor_left.connect(self.forget)
        desk.session.map_changed.connect(self._again)
        desk.session.behind_changed.connect(self._behind)
        desk.session.choices_changed.connect(self._chosen)

    def _timer(self, after_ms: int, act: Callable[[], None]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(after_ms)
        timer.timeout.connect(act)
        return timer

    def follow(self, x: float, y: float) -> None:
        """Note where the cursor is on the plan (m)."""
        if self.on:
            self.explain(x, y)

    def explain(self, x: float, y: float) -> None:
        """Explain a place of the plan (m): its figures first, what drives them as it comes."""
        self._place = (x, y)
        if not self._quick.isActive():
            self._quick.start()
        self._rest.start()

    def explain_chosen(self) -> None:
        """Explain the place that a table points at: the same as the cursor, from the keyboard."""
        place = self.desk.pointed
        if place is None:
            self.desk.say(tr("Choose a row of a table that has a place on the plan first."))
            return
        self.explain(*place)
        self.ensureWidgetVisible(self.text)

    def forget(self) -> None:
        """Ask no more: the cursor left the plan; what was said stays to be read."""
        self._quick.stop()
        self._rest.stop()

    def _chosen(self) -> None:
        """Let a place of another floor not be taken for one of this."""
        floor = self.desk.session.choices.floor
        if floor != self._floor:
            self._floor, self._place = floor, None
            self.forget()
            for name in ("figures", "explain"):
                self.desk.jobs.drop(name)
            self.desk.canvas.set_overlay(OVERLAY, ())
            self.text.setText(_invitation())

    def _mapped(self) -> Mapped | None:
        """Return the map on the screen; None where it is still that of another floor."""
        session = self.desk.session
        mapped = session.mapped
        if mapped is None or mapped.floor_map.floor.name != session.choices.floor:
            return None
        return mapped

    def _again(self) -> None:
        if self._place is not None:
            self.explain(*self._place)

    def _behind(self) -> None:
        """Let what was said not stand as though it were of now."""
        if self.desk.session.behind and self._place is not None:
            self.desk.canvas.set_overlay(OVERLAY, ())
            self.text.setText(f"<b>{tr('Of before the last change:')}</b><br>{self.text.text()}")

    def _ask_figures(self) -> None:
        mapped, place = self._mapped(), self._place
        if place is None:
            return
        if mapped is None:
            why = self.desk.session.why_no_map
            self.text.setText(_escape(why) if why else tr("The map of this floor is being made."))
            return
        self.desk.jobs.start(
            "figures",
            lambda progress, cancelled: pipeline.figures(mapped, *place),
            partial(self._show, mapped, waiting=True),
            self._nothing,
            haste=Haste.AT_ONCE,
        )

    def _ask_drivers(self) -> None:
        mapped, place = self._mapped(), self._place
        if place is None or mapped is None:
            return
        held = self._drives
        kept = held[1] if held is not None and held[0] is mapped else None

        def work(progress: object, cancelled: object) -> tuple[Drives, Explanation]:
            drives = kept or pipeline.drives_of(mapped)
            return drives, drives.of(pipeline.figures(mapped, *place), MOST_LISTED)

        def done(found: tuple[Drives, Explanation]) -> None:
            self._drives = (mapped, found[0])
            self.desk.jobs.drop("figures")
            self._show(mapped, found[1])

        self.desk.jobs.start("explain", work, done, self._nothing, haste=Haste.AT_ONCE)

    def _nothing(self, error: Exception) -> None:
        self.desk.canvas.set_overlay(OVERLAY, ())
        self.text.setText(_escape(in_one_line(error)))

    def _show(self, mapped: Mapped, one: Explanation, *, waiting: bool = False) -> None:
        """Show an explanation in words and on the plan; of another map than the newest, never."""
        if mapped is not self._mapped():
            return
        from hgmap.scene.explain_scene import explain_scene

        self.desk.canvas.set_overlay(OVERLAY, explain_scene(one))
        old = f"<b>{tr('Of before the last change:')}</b><br>" if self.desk.session.behind else ""
        self.text.setText(old + in_words(one, mapped, waiting=waiting))


def in_words(one: Explanation, mapped: Mapped, *, waiting: bool = False) -> str:
    """Return an explanation as rich text; every word of a file is escaped.

    ``waiting``: what drives the place is not known yet.
    """
    from hgmap.report.words import chance, number, per_cent, published_per_computed

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
               chance=f"<b>{chance(one.probability)}</b>")
        )  # fmt: skip
    lines.append("")
    lines.append(f"<b>{tr('What drives it')}</b>")
    if waiting:
        lines.append("...")
    for driver in one.drivers:
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
    if one.lighter:
        lines.append(tr("and {n} more that weigh less", n=one.lighter))
    for text, whose in _cautions(one, mapped).items():
        lines.append(f"▲ {_escape(', '.join(whose))}: {_escape(text)}")
    return "<br>".join(lines)


def _cautions(one: Explanation, mapped: Mapped) -> dict[str, list[str]]:
    """Return what goes with readings that drive a place, and with which: they count."""
    ids = {name for driver in one.drivers for name in driver.readings}
    found: dict[str, list[str]] = {}
    for reading in mapped.case.site.readings:
        if reading.id in ids and reading.usable and reading.round == mapped.case.round.name:
            for text in dict.fromkeys(reading.cautions):
                found.setdefault(text, []).append(reading.id)
    return found


def _invitation() -> str:
    return tr("Point at the plan: the place says what is known of it, and why.")


def _escape(text: str) -> str:
    import html

    return html.escape(text, quote=False)
