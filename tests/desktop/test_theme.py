"""Words can be read in both looks; states are told apart with every colour vision."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from PySide6.QtWidgets import (
    QApplication,
    QCheckBox,
    QComboBox,
    QLineEdit,
    QPushButton,
    QRadioButton,
    QWidget,
)

from hgmap.desktop.theme import DAY, NIGHT, Inks, put_on
from hgmap.desktop.window import Window
from hgmap.report.palette import PAPER, ZONE_LOOKS

LEAST = 4.5
"""Contrast of text: W3C, Web Content Accessibility Guidelines 2.1, success criterion 1.4.3."""
LEAST_MARK = 3.0
"""Contrast of what is no text: the same, success criterion 1.4.11."""

ON = [(ink, ground) for ink in ("ink", "soft", "warn", "alarm", "done", "mark")
      for ground in ("ground", "card", "field")] + [("on_mark", "mark")]  # fmt: skip

# Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency", IEEE TVCG 15(6), 2009, doi 10.1109/TVCG.2009.113; severity 1, on linear RGB. Numbers
# as several public programs quote them alike; the paper itself was not read.
MACHADO = {
    "all cones": ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
    "no long": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216),
                (-0.003882, -0.048116, 1.051998)),
    "no middle": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413),
                  (-0.011820, 0.042940, 0.968881)),
    "no short": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602),
                 (0.004733, 0.691367, 0.303900)),
}  # fmt: skip

APART = 9.0
"""Least distance in CIELAB between two states' inks; about 2.3 can just be seen (from memory)."""


def linear(colour: str) -> tuple[float, float, float]:
    """Return linear sRGB, 0 to 1, by the formula of WCAG 2.1."""
    parts = (int(colour[k : k + 2], 16) / 255.0 for k in (1, 3, 5))
    r, g, b = (one / 12.92 if one <= 0.03928 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return r, g, b


def contrast(one: str, other: str) -> float:
    def light(colour: str) -> float:
        r, g, b = linear(colour)
        return 0.2126 * r + 0.7152 * g + 0.0722 * b

    low, high = sorted((light(one), light(other)))
    return (high + 0.05) / (low + 0.05)


def lab(rgb: tuple[float, ...]) -> tuple[float, float, float]:
    """Return CIELAB (D65) of linear sRGB."""
    r, g, b = rgb
    xyz = (
        (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.95047,
        0.2126 * r + 0.7152 * g + 0.0722 * b,
        (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.08883,
    )
    x, y, z = (t ** (1 / 3) if t > 216 / 24389 else (841 / 108) * t + 4 / 29 for t in xyz)
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def seen(colour: str, eye: str) -> tuple[float, float, float]:
    rgb = linear(colour)
    mixed = (sum(m * c for m, c in zip(row, rgb, strict=True)) for row in MACHADO[eye])
    return lab(tuple(min(max(one, 0.0), 1.0) for one in mixed))


def test_the_contrast_is_that_of_the_guideline() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)
    assert lab((1.0, 1.0, 1.0))[0] == pytest.approx(100.0)


@pytest.mark.parametrize("inks", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize(("ink", "ground"), ON, ids=lambda one: one)
def test_every_ink_can_be_read_on_every_ground(inks: Inks, ink: str, ground: str) -> None:
    assert contrast(getattr(inks, ink), getattr(inks, ground)) >= LEAST


@pytest.mark.parametrize("inks", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize("eye", MACHADO)
def test_states_differ_with_every_colour_vision(inks: Inks, eye: str) -> None:
    for one, other in itertools.combinations((inks.mark, inks.warn, inks.alarm, inks.done), 2):
        apart = sum((a - b) ** 2 for a, b in zip(seen(one, eye), seen(other, eye), strict=True))
        assert apart**0.5 >= APART, (one, other)


@pytest.mark.parametrize("eye", MACHADO)
def test_zones_differ_with_every_colour_vision_and_stand_out_from_their_rim(eye: str) -> None:
    pens = [one.pen.colour for one in ZONE_LOOKS.values()]
    for one, other in itertools.combinations(pens, 2):
        apart = sum((a - b) ** 2 for a, b in zip(seen(one, eye), seen(other, eye), strict=True))
        assert apart**0.5 >= APART, (one, other)
    assert min(contrast(one, PAPER) for one in pens) >= LEAST_MARK


def test_zones_differ_in_a_grey_copy() -> None:
    """Without any hue, each has a hatch and a row of dashes that no other has."""
    hatches = [one.hatch.name if one.hatch else "" for one in ZONE_LOOKS.values()]
    dashes = [one.pen.dashes for one in ZONE_LOOKS.values()]
    assert len(set(hatches)) == len(set(dashes)) == len(ZONE_LOOKS)


@pytest.mark.parametrize("inks", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize("kind", [QLineEdit, QComboBox, QPushButton, QRadioButton])
def test_what_has_the_focus_is_seen(
    open_window: Callable[..., Window], inks: Inks, kind: type[QWidget]
) -> None:
    """The picture of a field changes where it gets the focus, in the colour of marks."""
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    put_on(app, inks)
    top = QWidget()
    other, field = QPushButton("other", top), kind(top)
    field.setGeometry(10, 50, 200, 40)
    top.resize(240, 120)
    top.show()
    top.activateWindow()
    other.setFocus()
    app.processEvents()
    before = field.grab().toImage()
    field.setFocus()
    app.processEvents()
    after = field.grab().toImage()
    put_on(app, DAY)
    top.close()
    assert field_changed(before, after) >= 100


def field_changed(before: QImage, after: QImage) -> int:
    return sum(
        before.pixel(x, y) != after.pixel(x, y)
        for x in range(before.width())
        for y in range(before.height())
    )


@pytest.mark.parametrize("inks", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize("kind", [QLineEdit, QCheckBox, QRadioButton])
def test_a_field_and_a_box_are_seen_before_they_have_the_focus(
    open_window: Callable[..., Window], inks: Inks, kind: type[QWidget]
) -> None:
    """Some line of pixels of their edge stands out from the ground (SC 1.4.11)."""
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    put_on(app, inks)
    top = QWidget()
    field = kind(top)
    field.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    field.setGeometry(10, 10, 100, 30)
    top.resize(120, 50)
    top.show()
    app.processEvents()
    image = top.grab().toImage()
    ground = image.pixelColor(2, 2).name()
    middle = [image.pixelColor(x, 25).name() for x in range(10, 40)]
    put_on(app, DAY)
    top.close()
    assert ground == inks.ground
    assert max(contrast(one, ground) for one in middle) >= LEAST_MARK


@pytest.mark.parametrize("inks", [DAY, NIGHT], ids=["day", "night"])
def test_a_box_that_is_ticked_has_a_tick(open_window: Callable[..., Window], inks: Inks) -> None:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    put_on(app, inks)
    box = QCheckBox()
    box.setChecked(True)
    box.resize(40, 30)
    box.show()
    app.processEvents()
    image = box.grab().toImage()
    seen = {image.pixelColor(x, y).name() for x in range(40) for y in range(30)}
    put_on(app, DAY)
    box.close()
    assert {inks.mark, inks.on_mark} <= seen
