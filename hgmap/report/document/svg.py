"""A display list as SVG inside a page of HTML: the third painter, beside paper and window.

Lengths are millimetres of the drawing; text stays text, and every text is escaped.
"""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Iterator
from html import escape
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from hgmap.report.document.content import Target
from hgmap.report.drawing import (
    PT_PER_MM,
    Area,
    Dot,
    Drawing,
    Frame,
    Hatch,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Stroke,
)
from hgmap.report.hatching import hatch_dots, hatch_lines
from hgmap.report.typeset import printable, width_mm

TOUCH_MM: Final = 3.2
"""Radius of what can be tapped: 24 CSS pixels across (WCAG 2.2, 2.5.8; value from memory)."""

_ANCHORS: Final = {"left": "start", "centre": "middle", "right": "end"}


class SvgPainter:
    """Put drawings into SVG; the state is the last number given to a clip of this page."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._clips = 0

    def frame(self, frame: Frame, height_mm: float) -> str:
        """Return the elements of a frame on a picture that is ``height_mm`` high."""
        return self._paint(frame.drawing, _place_of(frame, height_mm))

    def page(self, drawing: Drawing, height_mm: float) -> str:
        """Return the elements of a drawing in millimetres."""
        return self._paint(drawing, _Place(1.0, 0.0, height_mm))

    def targets(self, targets: tuple[Target, ...], frame: Frame, height_mm: float) -> str:
        """Return shapes that are not seen and can be pointed at; each has its text as title."""
        place = _place_of(frame, height_mm)
        found = []
        for one in targets:
            title = f"<title>{escape(clean(one.text))}</title>"
            if one.kind == "zone":
                path = _polygons(place.shape(one.shape))
                found.append(
                    f'<path class="t {one.kind}" fill-opacity="0" d="{path}">{title}</path>'
                )
            else:
                x, y = place.at(one.shape.x, one.shape.y)
                found.append(
                    f'<circle class="t {one.kind}" fill-opacity="0" cx="{_n(x)}" cy="{_n(y)}" '
                    f'r="{TOUCH_MM}">{title}</circle>'
                )
        return "".join(found)

    def _paint(self, drawing: Drawing, place: _Place) -> str:
        return "".join(text for item in drawing for text in self._item(item, place))

    def _item(self, item: Item, place: _Place) -> Iterator[str]:
        if isinstance(item, Area):
            yield from _area(item, place)
        elif isinstance(item, Path):
            yield _lines(place.shape(item.shape), item.pen)
        elif isinstance(item, Stroke):
            x, y = place.at(item.x, item.y)
            (a, b), (c, d) = item.start_pt, item.end_pt
            ends = [(x + a / PT_PER_MM, y - b / PT_PER_MM), (x + c / PT_PER_MM, y - d / PT_PER_MM)]
            yield _lines(shapely.LineString(ends), item.pen)
        elif isinstance(item, Dot):
            yield _dot(item, place)
        elif isinstance(item, Label):
            yield _label(item, place)
        else:
            yield self._picture(item, place)

    def _picture(self, picture: Picture, place: _Place) -> str:
        west, south, east, north = picture.bounds
        (left, bottom), (right, top) = place.at(west, south), place.at(east, north)
        cut = ""
        clip = ""
        if picture.clip is not None:
            self._clips += 1
            name = f"{self.name}-{self._clips}"
            path = _polygons(place.shape(picture.clip))
            cut = f'<clipPath id="{name}"><path d="{path}" clip-rule="evenodd"/></clipPath>'
            clip = f' clip-path="url(#{name})"'
        return (
            f'{cut}<image x="{_n(left)}" y="{_n(top)}" width="{_n(right - left)}" '
            f'height="{_n(bottom - top)}" preserveAspectRatio="none"{clip} '
            f'href="{png_uri(picture.rgba)}"/>'
        )


class _Place:
    """Take places of a drawing to the picture, whose y runs down."""

    def __init__(self, scale: float, left: float, base: float) -> None:
        self.scale, self.left, self.base = scale, left, base

    def at(self, x: float, y: float) -> tuple[float, float]:
        return self.left + x * self.scale, self.base - y * self.scale

    def shape(self, shape: BaseGeometry) -> BaseGeometry:
        return affinity.affine_transform(
            shape, (self.scale, 0.0, 0.0, -self.scale, self.left, self.base)
        )


def _place_of(frame: Frame, height_mm: float) -> _Place:
    """Return where metres of a frame lie on a picture that is ``height_mm`` high."""
    return _Place(
        frame.mm_per_m, frame.left_mm - frame.west_m * frame.mm_per_m,
        height_mm - frame.bottom_mm + frame.south_m * frame.mm_per_m,
    )  # fmt: skip


def clean(text: str) -> str:
    """Leave out what no page may hold (control characters); line ends stay."""
    return "".join(
        letter if letter == "\n" or (ord(letter) >= 32 and not 127 <= ord(letter) < 160) else " "
        for letter in text if not 0xD800 <= ord(letter) < 0xE000
    )  # fmt: skip


def png_uri(rgba: np.ndarray[tuple[int, ...], np.dtype[np.uint8]]) -> str:
    """Return pixels as a PNG inside an address; no date is in it."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(rgba), "RGBA").save(stream, "PNG", compress_level=9)
    return f"data:image/png;base64,{base64.b64encode(stream.getvalue()).decode()}"


def _area(area: Area, place: _Place) -> Iterator[str]:
    shape = place.shape(area.shape)
    path = _polygons(shape)
    if not path:
        return
    if area.fill is not None:
        yield f'<path d="{path}" fill-rule="evenodd" {_fill(area.fill)}/>'
    if area.hatch is not None:
        yield _hatched(shape, area.hatch)
    if area.pen is not None:
        yield f'<path d="{path}" fill="none" {_pen(area.pen)}/>'


def _hatched(shape: BaseGeometry, hatch: Hatch) -> str:
    # hatches are made in points with y up, as on paper, so that they look the same
    area = affinity.scale(shape, PT_PER_MM, -PT_PER_MM, origin=(0.0, 0.0))
    if hatch.name != "dots":
        lines = affinity.scale(
            hatch_lines(area, hatch), 1.0 / PT_PER_MM, -1.0 / PT_PER_MM, origin=(0.0, 0.0)
        )
        return _lines(lines, Pen(hatch.colour, hatch.width_pt))
    dots = hatch_dots(area, hatch) / PT_PER_MM
    if not len(dots):
        return ""
    # a line of next to no length with round ends is a dot
    path = "".join(f"M{_n(x)} {_n(-y)}h.01" for x, y in dots)
    width = _n(hatch.width_pt / PT_PER_MM)
    return (
        f'<path d="{path}" fill="none" stroke="{escape(hatch.colour)}" stroke-width="{width}" '
        'stroke-linecap="round"/>'
    )


def _dot(dot: Dot, place: _Place) -> str:
    x, y = place.at(dot.x, dot.y)
    x, y = x + dot.offset_pt[0] / PT_PER_MM, y - dot.offset_pt[1] / PT_PER_MM
    half = dot.size_pt / 2.0 / PT_PER_MM
    look = (_fill(dot.fill) if dot.fill else 'fill="none"') + (
        f" {_pen(dot.edge)}" if dot.edge else ""
    )
    if dot.shape == "circle":
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(half)}" {look}/>'
    arm = half * math.sqrt(2.0) if dot.shape == "diamond" else half
    paths = {
        "square": f"M{_n(x - half)} {_n(y - half)}h{_n(2 * half)}v{_n(2 * half)}h{_n(-2 * half)}z",
        "triangle": f"M{_n(x)} {_n(y - half)}L{_n(x + half)} {_n(y + half)}H{_n(x - half)}z",
        "diamond": f"M{_n(x)} {_n(y - arm)}l{_n(arm)} {_n(arm)}l{_n(-arm)} {_n(arm)}"
        f"l{_n(-arm)} {_n(-arm)}z",
        "cross": f"M{_n(x - half)} {_n(y - half)}l{_n(2 * half)} {_n(2 * half)}"
        f"m0 {_n(-2 * half)}l{_n(-2 * half)} {_n(2 * half)}",
        "plus": f"M{_n(x - half)} {_n(y)}h{_n(2 * half)}M{_n(x)} {_n(y - half)}v{_n(2 * half)}",
    }
    return f'<path d="{paths[dot.shape]}" {look}/>'


def _label(label: Label, place: _Place) -> str:
    x, y = place.at(label.x, label.y)
    x += label.offset_pt[0] / PT_PER_MM
    y -= (label.offset_pt[1] + label.baseline_shift_pt) / PT_PER_MM
    shown = printable(label.text)
    if not shown.strip():
        return ""
    # as wide as it was laid out, whatever letters the screen has
    length = _n(width_mm(shown, label.size_pt, label.bold))
    bold = ' font-weight="bold"' if label.bold else ""
    look = (
        f'x="{_n(x)}" y="{_n(y)}" font-size="{_n(label.size_pt / PT_PER_MM)}"{bold} '
        f'text-anchor="{_ANCHORS[label.across]}" textLength="{length}" '
        'lengthAdjust="spacingAndGlyphs"'
    )
    text = escape(clean(shown))
    rim = ""
    if label.halo is not None:
        colour, width = escape(label.halo), _n(0.32 * label.size_pt / PT_PER_MM)
        rim = (
            f'<text aria-hidden="true" {look} fill="{colour}" stroke="{colour}" '
            f'stroke-width="{width}" stroke-linejoin="round">{text}</text>'
        )
    return f'{rim}<text {look} fill="{escape(label.colour)}">{text}</text>'


def _polygons(shape: BaseGeometry) -> str:
    rings = [
        ring
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and not part.is_empty
        for ring in (part.exterior, *part.interiors)
    ]
    return "".join(f"{_steps(shapely.get_coordinates(ring)[:-1])}z" for ring in rings)


def _lines(shape: BaseGeometry, pen: Pen) -> str:
    path = "".join(
        _steps(shapely.get_coordinates(part))
        for part in shapely.get_parts(shape)
        if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
    )
    return f'<path d="{path}" fill="none" {_pen(pen)}/>' if path else ""


def _steps(places: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> str:
    return "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in places)


def _pen(pen: Pen) -> str:
    dashes = (
        ' stroke-dasharray="' + " ".join(_n(one / PT_PER_MM) for one in pen.dashes) + '"'
        if pen.dashes
        else ""
    )
    colour, part = _colour(pen.colour)
    shown = f' stroke-opacity="{part}"' if part else ""
    return (
        f'stroke="{colour}"{shown} stroke-width="{_n(pen.width_pt / PT_PER_MM)}" '
        f'stroke-linejoin="round"{dashes}'
    )


def _fill(fill: str) -> str:
    colour, part = _colour(fill)
    return f'fill="{colour}"' + (f' fill-opacity="{part}"' if part else "")


def _colour(text: str) -> tuple[str, str]:
    if text.startswith("#") and len(text) == 9:
        return text[:7], _n(int(text[7:], 16) / 255.0)
    return escape(text), ""


def _n(value: float) -> str:
    """Write a length with two decimals, as short as it goes."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
