"""Lines and signs that lie over the plan while somebody draws: each sign has a shape of its own."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import shapely
from shapely import LineString, Polygon

from hgmap.desktop.words import tr
from hgmap.report.drawing import Area, Dot, DotShape, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import PAPER
from hgmap.scene.highlight import POINTER

if TYPE_CHECKING:
    from hgmap.editing.snapping import Snap

Place = tuple[float, float]

DRAWN: Final = Pen(POINTER, 2.0)
RIM: Final = Pen(PAPER, 4.2)
GUIDE: Final = Pen("#8a5a00", 1.1, (2.5, 2.5))
_SIGNS: Final[dict[str, DotShape]] = {
    "corner": "square", "wall": "diamond", "right angle": "plus", "in line": "plus",
    "length": "triangle", "angle": "plus",
}  # fmt: skip
_WORDS: Final = {
    "corner": "corner", "wall": "wall", "right angle": "right angle", "in line": "in line",
    "length": "length", "angle": "angle",
}  # fmt: skip


def drawn_line(places: Sequence[Place], *, closed: bool = False) -> Drawing:
    """Draw what has been clicked so far (m), each corner with its dot."""
    items: list[Item] = []
    if closed and len(places) > 2:
        items.append(Area(Polygon(places), fill=POINTER + "22", pen=DRAWN))
    elif len(places) > 1:
        line = LineString(places)
        items += [Path(line, RIM), Path(line, DRAWN)]
    items += [Dot(x, y, 6.0, "square", PAPER, DRAWN) for x, y in places]
    return tuple(items)


def numbered(places: Sequence[Place]) -> Drawing:
    """Draw points (m) by the order in which they were clicked."""
    dots = [Dot(x, y, 7.0, "diamond", PAPER, DRAWN) for x, y in places]
    labels = [
        Label(x, y, str(n), 10.0, POINTER, bold=True, halo=PAPER, up="middle", offset_pt=(8.0, 9.0))
        for n, (x, y) in enumerate(places, start=1)
    ]
    return (*dots, *labels)


def aim(snap: Snap, last: Place | None = None, *, left: bool = False) -> Drawing:
    """Draw where a click would go, what it is drawn to, and how far that is."""
    items: list[Item] = [Path(guide, GUIDE) for guide in snap.guides if guide.length > 0]
    if last is not None and math.dist(last, (snap.x, snap.y)) > 0:
        line = LineString([last, (snap.x, snap.y)])
        items += [Path(line, RIM), Path(line, Pen(POINTER, 1.6, (6.0, 3.0)))]
    if snap.what:
        items.append(Dot(snap.x, snap.y, 11.0, _SIGNS[snap.what], None, Pen(PAPER, 4.0)))
        items.append(Dot(snap.x, snap.y, 11.0, _SIGNS[snap.what], None, Pen("#8a5a00", 1.8)))
    else:
        items.append(Dot(snap.x, snap.y, 5.0, "circle", POINTER))
    words = [tr(_WORDS[snap.what])] if snap.what and snap.what != "length" else []
    if last is not None:
        words.insert(0, f"{math.dist(last, (snap.x, snap.y)):.2f} m")
    if words:
        items.append(_words(snap.x, snap.y, ", ".join(words), left=left))
    return tuple(items)


def typed_box(x: float, y: float, text: str, *, left: bool = False) -> Drawing:
    """Show what is being typed, beside the pointer."""
    return (
        Label(x, y, f"{text}▏ m", 12.0, POINTER, bold=True, halo=PAPER, up="middle",
              across="right" if left else "left", offset_pt=(-12.0 if left else 12.0, -16.0)),
    )  # fmt: skip


def _words(x: float, y: float, text: str, *, left: bool) -> Label:
    return Label(
        x, y, text, 9.0, halo=PAPER, up="middle", across="right" if left else "left",
        offset_pt=(-12.0 if left else 12.0, 12.0),
    )  # fmt: skip


def chosen_signs(shapes: Sequence[shapely.Geometry], corners: Sequence[Place]) -> Drawing:
    """Draw a broad line along what is chosen, with a dot on each corner that can be moved."""
    items: list[Item] = []
    for shape in shapes:
        if shape.is_empty:
            continue
        if shape.geom_type.endswith("Polygon"):
            items.append(Area(shape, fill=POINTER + "1c", pen=Pen(POINTER, 2.4)))
        else:
            items += [Path(shape, Pen(PAPER, 6.0)), Path(shape, Pen(POINTER, 3.4))]
    items += [Dot(x, y, 6.5, "square", PAPER, Pen(POINTER, 1.4)) for x, y in corners]
    return tuple(items)


def corner_sign(x: float, y: float) -> Drawing:
    """Draw the chosen corner, filled and larger."""
    return (Dot(x, y, 10.0, "square", POINTER, Pen(PAPER, 1.6)),)
