"""The layers, line types, hatches and blocks of a DXF: what a drawing office switches on and off.

Sizes are those of the paper at a scale that suits the floor. Plain ink is colour 7, black on paper
and white on a dark screen; zones keep the hues of the sheets, their hatches paler.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

import shapely
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import ZONE_NAMES, ZoneName
from hgmap.report.drawing import PT_PER_MM, Hatch
from hgmap.report.palette import ZONE_LOOKS
from hgmap.site.model import ActionLevel

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

STYLE: Final = "plain"
INK: Final = 7
GREY: Final = 8
_OF_LAYER: Final = 256
MARK_MM: Final = 0.9
"""Half the width of a reading's mark, on paper."""
BADGE_MM: Final = 1.65
"""Half the side of a numbered square, on paper."""
ATTRIBUTE_MM: Final = 1.7
"""Height of an attribute's letters, on paper."""
_SCALES: Final = ((25.0, 50.0), (70.0, 100.0), (150.0, 200.0))
"""Up to which length of a floor (m) which scale; beyond, 1:500."""

ROOMS, ROOM_NAMES, WALLS = "rooms", "room-names", "walls"
OPENING_LAYERS: Final = {one: f"openings-{one}" for one in ("open", "closed", "sealed")}
ZONE_LAYERS: Final[dict[ZoneName, str]] = {
    name: f"zones-{name.replace(' ', '-')}" for name in ZONE_NAMES
}
ZONE_IDS, CONTOURS, READINGS, VALUES = "zone-ids", "contours", "readings", "reading-values"
RESAMPLE, NOTES = "resample-places", "notes"

# marks of readings: told apart by shape, as on the sheets
MARKS: Final = (
    "used", "non-detect", "other height", "cannot see the level", "held", "off the map",
)  # fmt: skip
_OF_READING: Final = ("ID", "VALUE", "HEIGHT_M", "TIME", "ROLE", "VERDICT", "REASONS")
ABOVE: Final = "above-level"
ZONE_BLOCK: Final = "zone"
PLACE_BLOCK: Final = "resample-place"


def mark_block(kind: str) -> str:
    """Name the block of a kind of reading.

    Examples
    --------
    >>> mark_block("other height")
    'reading-other-height'
    """
    return f"reading-{kind.replace(' ', '-')}"


def draw_hatch(space: Modelspace, part: BaseGeometry, name: ZoneName, m_per_mm: float) -> None:
    """Hatch one polygon as its zone; a clear one is left bare."""
    look = ZONE_LOOKS[name].hatch
    if look is None:
        return
    hatch = space.add_hatch(dxfattribs={"layer": hatch_layer(name)})
    hatch.set_pattern_fill(f"HGMAP_{look.name.upper()}", color=_OF_LAYER,
                           definition=hatch_lines(look, m_per_mm))  # fmt: skip
    for ring, outer in rings_of(part):
        hatch.paths.add_polyline_path(ring, is_closed=True, flags=1 if outer else 16)


def rings_of(shape: BaseGeometry) -> Iterator[tuple[list[tuple[float, float]], bool]]:
    """Go through the rings of polygons (without their last point), and say which are outer."""
    for part in shapely.get_parts(shape):
        for ring in (part.exterior, *part.interiors):
            yield [(x, y) for x, y in list(ring.coords)[:-1]], ring is part.exterior


def contour_layer(level: ActionLevel) -> str:
    """Name the layer of a further level's contours; no sign in it that DXF forbids.

    The micro sign is written u: layer names are typed.
    """
    unit = level.unit.replace("µ", "u").replace("³", "3").replace("²", "2").replace("/", "-per-")
    return f"contours-at-{level.value:g}-{re.sub('[^0-9A-Za-z.-]+', '-', unit)}"


def scale_for(long_m: float) -> float:
    """Return how many metres a millimetre of paper stands for, for a floor as long as this (m).

    Examples
    --------
    >>> scale_for(12.0), scale_for(45.0), scale_for(900.0)
    (0.05, 0.1, 0.5)
    """
    return next((scale for most, scale in _SCALES if long_m <= most), 500.0) / 1000.0


def hatch_layer(name: ZoneName) -> str:
    """Name the layer of a zone's hatch, which hides less when it is off."""
    return f"{ZONE_LAYERS[name]}-hatch"


def set_up(document: Document, m_per_mm: float) -> None:
    """Make style, line types, layers and blocks; ``m_per_mm`` is the scale (m a mm of paper)."""
    document.styles.add(STYLE, font="arial.ttf")
    for name, look in ZONE_LOOKS.items():
        dashes = [one / PT_PER_MM * m_per_mm for one in look.pen.dashes]
        if dashes:
            signed = [one if k % 2 == 0 else -one for k, one in enumerate(dashes)]
            document.linetypes.add(ZONE_LAYERS[name], [sum(dashes), *signed],
                                   description=f"edge of zones: {name}")  # fmt: skip
    for layer, colour, weight in (
        (ROOMS, GREY, 18), (ROOM_NAMES, INK, 18), (WALLS, INK, 35), (CONTOURS, INK, 50),
        (READINGS, INK, 25), (VALUES, INK, 18), (RESAMPLE, INK, 25), (NOTES, INK, 18),
        *((one, INK, 25) for one in OPENING_LAYERS.values()),
    ):  # fmt: skip
        document.layers.add(layer, color=colour, lineweight=weight)
    for name, look in ZONE_LOOKS.items():
        layer = ZONE_LAYERS[name]
        line_type = layer if look.pen.dashes else "Continuous"
        document.layers.add(layer, true_color=_true_colour(look.pen.colour), lineweight=50,
                            linetype=line_type)  # fmt: skip
        if look.hatch is not None:
            pale = _true_colour(look.hatch.colour, white=0.5)
            document.layers.add(hatch_layer(name), true_color=pale, lineweight=13)
    # on paper they would hide the readings; every piece has its id there to be switched on
    document.layers.add(ZONE_IDS, color=INK).off()
    _add_blocks(document, m_per_mm)


def _true_colour(colour: str, white: float = 0.0) -> int:
    """Return a colour as DXF has it, with a share of white mixed in."""
    parts = bytes.fromhex(colour.removeprefix("#"))
    return int.from_bytes(bytes(round(one + white * (255 - one)) for one in parts))


def hatch_lines(hatch: Hatch, m_per_mm: float) -> list[Any]:
    """Return a hatch as DXF has it: families of lines by angle, base, offset and dashes."""
    step = hatch.spacing_pt / PT_PER_MM * m_per_mm * 1.5  # wider than on the sheets
    if hatch.name == "dots":
        return [[0.0, (0.0, 0.0), (step / 2.0, step / 2.0), [0.0, -step]]]
    slope = step / math.sqrt(2.0)
    lines = [[45.0, (0.0, 0.0), (-slope, slope), []]]
    if hatch.name == "cross":
        lines.append([135.0, (0.0, 0.0), (-slope, -slope), []])
    return lines


def _add_blocks(document: Document, m_per_mm: float) -> None:
    r = MARK_MM * m_per_mm
    blocks = {kind: document.blocks.new(mark_block(kind)) for kind in MARKS}
    blocks["used"].add_circle((0, 0), r)
    disc = blocks["used"].add_hatch(color=0)
    disc.paths.add_edge_path().add_arc((0, 0), r, 0.0, 360.0)
    blocks["non-detect"].add_circle((0, 0), r)
    blocks["other height"].add_lwpolyline([(-r, -r), (r, -r), (0, 1.2 * r)], close=True)
    blocks["cannot see the level"].add_lwpolyline(
        [(0, -1.3 * r), (1.3 * r, 0), (0, 1.3 * r), (-1.3 * r, 0)], close=True
    )
    for end in ((r, r), (r, -r)):
        blocks["held"].add_line((-end[0], -end[1]), end)
    blocks["off the map"].add_lwpolyline([(-r, -r), (r, -r), (r, r), (-r, r)], close=True)
    for kind in MARKS:
        _attributes(
            blocks[kind],
            m_per_mm,
            ("ID", "VALUE", "HEIGHT_M", "TIME", "ROLE", "VERDICT", "REASONS"),
        )
    document.blocks.new(ABOVE).add_circle((0, 0), 1.75 * r)
    b = BADGE_MM * m_per_mm
    badge = document.blocks.new(PLACE_BLOCK)
    badge.add_lwpolyline([(-b, -b), (b, -b), (b, b), (-b, b)], close=True)
    _attributes(badge, m_per_mm, ("RANK", "ROOM", "HEIGHT_M", "READINGS", "REASONS"))
    zone = document.blocks.new(ZONE_BLOCK)
    zone.add_circle((0, 0), 0.4 * m_per_mm)
    _attributes(zone, m_per_mm, ("ID", "ZONE", "ROOM", "AREA_M2", "TAPE_M", "REASONS"))


def _attributes(block: Any, m_per_mm: float, tags: tuple[str, ...]) -> None:
    """Say which attributes a block has, so that an office can list them."""
    for tag in tags:
        one = block.add_attdef(
            tag, (0, 0), height=ATTRIBUTE_MM * m_per_mm, dxfattribs={"style": STYLE}
        )
        one.is_invisible = True
