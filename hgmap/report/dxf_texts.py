"""The texts of a DXF: values and names where the sheets' own search finds room, notes below."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import shapely

from hgmap.decide.model import ZONE_NAMES, ZoneName
from hgmap.report import dxf_looks as looks
from hgmap.report.drawing import CAP_HEIGHT, PT_PER_MM, Frame, Label, Stroke
from hgmap.report.extent import extent
from hgmap.report.legend import READING_WORDS
from hgmap.report.marks import kind_of
from hgmap.report.palette import PAPER
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.room_names import NAME_COLOUR
from hgmap.report.run_facts import MappedFloor, RunFacts, facts_of_floor, facts_of_run
from hgmap.report.tables import place_inside
from hgmap.report.typeset import NO_GLYPH, lacks_letters
from hgmap.report.words import level_value, square_metres
from hgmap.site.building import Floor
from hgmap.site.map_frame import MapFrame
from hgmap.site.textfile import printable

if TYPE_CHECKING:
    from ezdxf.layouts.layout import Modelspace

_BORDER_MM: Final = 20.0
_NOTE_MM: Final = 2.5
_LINE_MM: Final = 4.6
_SIGN_MM: Final = 7.0
_LETTERS: Final = 160
"""Of a line of the notes."""
_LONGEST: Final = 250
"""Characters of a text: some readers cut lines at 255."""
_ON_ITS_HEAD: Final = {
    "LEFT": "TOP_RIGHT", "CENTER": "TOP_CENTER", "RIGHT": "TOP_LEFT",
    "MIDDLE_LEFT": "MIDDLE_RIGHT", "MIDDLE_CENTER": "MIDDLE_CENTER", "MIDDLE_RIGHT": "MIDDLE_LEFT",
    "TOP_LEFT": "RIGHT", "TOP_CENTER": "CENTER", "TOP_RIGHT": "LEFT",
}  # fmt: skip
"""What stands at the place of a text that is turned over, so that it covers the same ground."""
_OFF_MAP_WORDS: Final = "says nothing of the air at this place: reported, not mapped"


class Pencil(NamedTuple):
    """What is drawn into, how the floor lies on the map, and m a mm of paper.

    Texts and marks are laid out on the plan, and turn with it.
    """

    space: Modelspace
    frame: MapFrame | None
    m_per_mm: float

    @property
    def turn_deg(self) -> float:
        """How far texts and marks are turned, counter-clockwise; no text stands on its head."""
        turn = math.remainder(self.frame.angle_deg, 360.0) if self.frame else 0.0
        return math.remainder(turn, 180.0) if self._over else turn

    @property
    def _over(self) -> bool:
        """Whether plan-right runs to the left in the drawing."""
        turn = math.remainder(self.frame.angle_deg, 360.0) if self.frame else 0.0
        return not -90.0 < turn <= 90.0

    def at(
        self, x: float, y: float, offset_pt: tuple[float, float] = (0.0, 0.0)
    ) -> tuple[float, float]:
        """Return where a place of the floor (m) lies in the drawing, moved on paper."""
        step, frame = self.m_per_mm / PT_PER_MM, self.frame
        right, up = offset_pt[0] * step, offset_pt[1] * step
        if frame is None:
            return x + right, y + up
        if not frame.turned:
            return x + frame.origin_x_m + right, y + frame.origin_y_m + up
        ((east, north),) = frame.to_map([(x + right, y + up)]).tolist()
        return east, north

    def align(self, align: str) -> str:
        """Return the part of a text that stands at its place, in DXF's word.

        Examples
        --------
        >>> Pencil(None, MapFrame("EPSG:25832", angle_deg=170.0), 0.1).align("LEFT")
        'TOP_RIGHT'
        """
        return _ON_ITS_HEAD[align] if self._over else align

    def look(self, layer: str) -> dict[str, Any]:
        """Return the layer of a text or mark, and how far it is turned."""
        return {"layer": layer, "rotation": self.turn_deg} if self.turn_deg else {"layer": layer}

    def bounds(self, floor: Floor) -> tuple[float, float, float, float]:
        """Return west, south, east, north of a floor in the drawing."""
        west, south, east, north = extent(floor)
        corners = [self.at(x, y) for x in (west, east) for y in (south, north)]
        x, y = zip(*corners, strict=True)
        return min(x), min(y), max(x), max(y)

    def height_m(self, floor: Floor) -> float:
        """Return how far a floor reaches from south to north in the drawing (m)."""
        west, south, east, north = extent(floor)
        if self.frame is None:
            return north - south
        return float(np.abs(self.frame.matrix[1]) @ (east - west, north - south))


def literal(text: str) -> str:
    r"""Return user text as one line that stands in a drawing as it was written.

    ``%%`` and ``^`` begin control codes there, ``\U+`` a character by number.

    Examples
    --------
    >>> literal("5 %% of a^b\n")
    '5 % % of a^ b'
    """
    line = " ".join(printable(text).split())
    line = line.replace("%%", "% %").replace("^", "^ ").replace("\\U+", "\\ U+")
    return line if len(line) <= _LONGEST else f"{line[: _LONGEST - 1]}…"


def add_plan_texts(pen: Pencil, one: MappedFloor) -> dict[str, tuple[float, float]]:
    """Write room names and values; return where the numbers of places to measure again go.

    The search for room is that of the sheets, so that no two texts overlap.
    """
    west, south, east, north = extent(one.floor)
    mm_per_m, border = 1.0 / pen.m_per_mm, _BORDER_MM * pen.m_per_mm
    frame = Frame(
        (), 0.0, 0.0, (east - west + 2.0 * border) * mm_per_m,
        (north - south + 2.0 * border) * mm_per_m, west - border, south - border, mm_per_m,
    )  # fmt: skip
    drawn = marks_on_plan(one.evidence, one.resample, frame, one.zones).drawing
    numbers = {}
    again = {(place.x, place.y) for place in one.resample.places}
    for item in drawn:
        if isinstance(item, Stroke) and item.pen.colour != PAPER:
            if (item.x, item.y) in again:
                _add_leader(pen, item)
                continue
            start, end = (pen.at(item.x, item.y, pt) for pt in (item.start_pt, item.end_pt))
            pen.space.add_line(start, end, dxfattribs={"layer": looks.VALUES})
        elif isinstance(item, Label) and item.colour == PAPER:
            numbers[item.text] = pen.at(item.x, item.y, item.offset_pt)
        elif isinstance(item, Label) and NO_GLYPH not in item.text:
            _add_label(pen, item)
    for room in one.floor.rooms:
        name = room.name or room.id
        if lacks_letters(name):  # our paper has no such letters; a drawing office may
            _add_text(pen, name, pen.at(*place_inside(room.polygon)), _NOTE_MM, looks.ROOM_NAMES,
                      "MIDDLE_CENTER")  # fmt: skip
    return numbers


def _add_leader(pen: Pencil, stroke: Stroke) -> None:
    """Draw from the place to measure again to the edge of its number, not through it."""
    right, up = stroke.end_pt
    long = math.hypot(right, up)
    kept = long - 1.5 * looks.BADGE_MM * PT_PER_MM
    if kept > 0:
        share = kept / long
        start = pen.at(stroke.x, stroke.y)
        end = pen.at(stroke.x, stroke.y, (right * share, up * share))
        pen.space.add_line(start, end, dxfattribs={"layer": looks.RESAMPLE})


_ACROSS: Final = {"left": "LEFT", "centre": "CENTER", "right": "RIGHT"}


def _add_label(pen: Pencil, label: Label) -> None:
    layer = looks.ROOM_NAMES if label.colour == NAME_COLOUR else looks.VALUES
    across = _ACROSS[label.across]
    align = across if label.up == "baseline" else f"{label.up.upper()}_{across}"
    at = pen.at(label.x, label.y, label.offset_pt)
    _add_text(pen, label.text, at, label.size_pt / PT_PER_MM * CAP_HEIGHT, layer, align)


def _add_text(
    pen: Pencil, text: str, at: tuple[float, float], height_mm: float, layer: str,
    align: str = "LEFT", *, on_plan: bool = True,
) -> None:  # fmt: skip
    from ezdxf.enums import TextEntityAlignment

    look = {"layer": layer, "style": looks.STYLE}
    if on_plan:
        look, align = pen.look(layer) | look, pen.align(align)
    one = pen.space.add_text(literal(text), height=height_mm * pen.m_per_mm, dxfattribs=look)
    one.set_placement(at, align=TextEntityAlignment[align])


def add_notes(pen: Pencil, facts: RunFacts, one: MappedFloor) -> None:
    """Write below the plan what it is, what its signs mean, and what to beware of."""
    mm = pen.m_per_mm
    left, top, _, _ = pen.bounds(one.floor)
    top -= (_BORDER_MM + 10.0) * mm
    items = one.evidence.items
    signs = [(looks.mark_block(kind), f"reading {READING_WORDS.get(kind, _OFF_MAP_WORDS)}")
             for kind in dict.fromkeys(kind_of(item) for item in items)]  # fmt: skip
    if any(item.above for item in items):
        signs.append((looks.ABOVE, "ring: a reading above the level"))
    if one.resample.places:
        signs.append((looks.PLACE_BLOCK, "place to measure again, in the order of the numbers"))
    for name in ZONE_NAMES:
        area = one.zones.area_m2(name)
        if area > 0:
            _add_swatch(pen, name, left, top)
            _add_text(pen, f"{name}: {square_metres(area)}", (left + 16 * mm, top - 5 * mm),
                      _NOTE_MM, looks.NOTES, on_plan=False)  # fmt: skip
            top -= 9.0 * mm
    for block, text in signs:
        pen.space.add_blockref(block, (left + 6 * mm, top - 3.75 * mm),
                               dxfattribs={"layer": looks.NOTES})  # fmt: skip
        _add_text(pen, text, (left + 16 * mm, top - 5 * mm), _NOTE_MM, looks.NOTES,
                  on_plan=False)  # fmt: skip
        top -= _SIGN_MM * mm
    top -= 6.0 * mm
    for line in _lines(facts, one):
        for part in textwrap.wrap(line, _LETTERS):
            _add_text(pen, part, (left, top), _NOTE_MM, looks.NOTES, on_plan=False)
            top -= _LINE_MM * mm


def _add_swatch(pen: Pencil, name: ZoneName, left: float, top: float) -> None:
    mm = pen.m_per_mm
    box = shapely.box(left, top - 7.0 * mm, left + 12.0 * mm, top)
    looks.draw_hatch(pen.space, box, name, mm)
    for ring, _ in looks.rings_of(box):
        pen.space.add_lwpolyline(ring, close=True, dxfattribs={"layer": looks.ZONE_LAYERS[name]})


def _lines(facts: RunFacts, one: MappedFloor) -> Iterator[str]:
    """Go through the notes, each once: the floor's own first."""
    frame, floor = one.floor.map_frame, one.floor
    told = [f"{heading}: {text}" for heading, text in (*facts_of_floor(one), *facts_of_run(facts))]
    told.append(
        f"coordinates: {frame.crs}, metres" if frame
        else "coordinates: plan metres, x to the right, y up"
    )  # fmt: skip
    if floor.north_deg is not None:
        grid = ", the map's grid north" if floor.north_is_grid else ""
        told.append(f"north: {floor.north_deg:g}° clockwise from plan-up{grid}")
    told.append(f"layer {looks.CONTOURS}: where the estimate is {level_value(one.zones.level)}")
    told += [
        f"layer {looks.contour_layer(zones.level)}: where it is {level_value(zones.level)}"
        for zones in one.nested
        if zones.level != one.zones.level
    ]
    told.append(f"layer {looks.ZONE_IDS} (off): the id of each zone, as in zones.csv")
    yield from dict.fromkeys(told)
