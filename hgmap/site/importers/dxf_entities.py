"""One entity of a DXF: the shapes it draws, or the text it writes."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from hgmap.site.importers.dxf_curves import Loop, Points, corners, flat, moved

if TYPE_CHECKING:
    from ezdxf.math import Matrix44

MOST_UNITS: Final = 1e12
"""A coordinate beyond this is none."""
_WIDTH_OF_LETTER: Final = 0.7
"""Of its height, on the average; common practice, no source."""
_CURVES: Final = frozenset({"ARC", "CIRCLE", "ELLIPSE", "SPLINE"})
_FACES: Final = frozenset({"SOLID", "TRACE", "3DFACE"})
_HATCHES: Final = frozenset({"HATCH", "MPOLYGON"})
_NEVER: Final = frozenset(
    {"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "MLEADER",
     "TOLERANCE", "ACAD_TABLE", "VIEWPORT", "IMAGE", "WIPEOUT", "POINT", "RAY", "XLINE", "ATTDEF",
     "OLE2FRAME", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY", "LIGHT", "SUN", "HELIX", "TEXT",
     "MTEXT", "ATTRIB"}
)  # fmt: skip
"""They draw no part of a building (texts are labels)."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A line, a curve, or an area.

    Attributes
    ----------
    loops : tuple
        One, or for a hatch several: an array of shape (n, 3), or curves that are not flat yet.
    closed : bool
        Whether the last point goes on to the first.
    filled : bool
        Whether the inside is drawn solid.
    layer, kind, handle, block : str
        Where it comes from.
    group : int
        The inserted block that it comes from; 0 for none.
    width : float
        Of a line that is drawn as wide as it is thick (units of the drawing).
    """

    loops: tuple[Loop, ...]
    closed: bool
    layer: str
    kind: str
    handle: str
    filled: bool = False
    block: str = ""
    group: int = 0
    width: float = 0.0

    @property
    def is_empty(self) -> bool:
        """Whether it has no point: an arc without a radius, or a line without corners."""
        return not any(len(loop) for loop in self.loops)

    @property
    def is_sound(self) -> bool:
        """Whether all coordinates are numbers."""
        return all(_sound(loop) for loop in self.loops)

    @property
    def label(self) -> str:
        """How a message calls it."""
        block = f" of block {self.block!r}" if self.block else ""
        return f"{self.kind} {self.handle}{block} on layer {self.layer}"

    def moved(self, matrix: Matrix44, rows: Points, *, layer: str, group: int) -> Shape:
        """Return the shape where a block is inserted; ``rows`` is ``matrix`` as an array."""
        loops = tuple(moved(loop, matrix, rows) for loop in self.loops)
        width = self.width and self.width * float(abs(np.linalg.det(rows[:2, :2]))) ** 0.5
        return Shape(
            loops, self.closed, layer, self.kind, self.handle, self.filled, self.block, group, width
        )

    def flat(self, chord: float) -> list[Points]:
        """Return each loop as points that stay within ``chord`` (units) of the curve."""
        return [flat(loop, chord) for loop in self.loops]


@dataclass(frozen=True, slots=True)
class Label:
    """A text.

    Attributes
    ----------
    at : ndarray
        About the middle of the text, shape (3,).
    lines : tuple of str
        Without control codes.
    mirrored : bool
        Whether it reads as in a mirror.
    tag : str
        Of an attribute of a block.
    """

    at: Points
    lines: tuple[str, ...]
    layer: str
    kind: str
    handle: str
    group: int = 0
    tag: str = ""
    mirrored: bool = False

    @property
    def is_sound(self) -> bool:
        """Whether its place is one."""
        return _sound(self.at)

    @property
    def label(self) -> str:
        """How a message calls it."""
        return f"{self.kind} {self.handle} on layer {self.layer}"

    def moved(self, rows: Points, *, layer: str, group: int) -> Label:
        """Return the text where a block is inserted."""
        flipped = bool(np.linalg.det(rows[:2, :2]) < 0)
        return replace(
            self, at=self.at @ rows[:3, :3] + rows[3, :3], layer=layer, group=group,
            mirrored=self.mirrored != flipped,
        )  # fmt: skip


def attribute_of(entity: Any, name: str, otherwise: Any) -> Any:
    """Return an attribute; ``otherwise`` where it is not there, or of no such type."""
    try:
        value = entity.dxf.get(name)
    except AttributeError:
        return otherwise
    return otherwise if value is None else value


def shapes_of(entity: Any, *, block: str = "") -> list[Shape]:
    """Return what an entity draws; nothing for a text, and for types that are no part of a plan."""
    kind = entity.dxftype()
    if kind in _NEVER:
        return []
    layer, handle = attribute_of(entity, "layer", "0"), attribute_of(entity, "handle", "?")
    if kind == "LINE":
        start, end = entity.dxf.start, entity.dxf.end
        points = np.array([(start.x, start.y, start.z), (end.x, end.y, end.z)])
        return [Shape((points,), False, layer, kind, handle, block=block)]
    if kind in ("LWPOLYLINE", "POLYLINE"):
        return _polyline(entity, layer, kind, handle, block)
    if kind in _CURVES:
        from ezdxf.path import make_path

        curve = make_path(entity, segments=_pieces(entity, kind))
        closed = bool(curve.is_closed) or kind == "CIRCLE"
        return [Shape((curve,), closed, layer, kind, handle, block=block)]
    if kind in _FACES:
        corners = np.array([tuple(corner) for corner in entity.wcs_vertices()])
        return [Shape((corners,), True, layer, kind, handle, filled=True, block=block)]
    if kind in _HATCHES:
        return _hatch(entity, layer, kind, handle, block)
    if hasattr(entity, "__virtual_entities__"):
        return _drawn_by_others(entity, layer, kind, handle, block)
    return []


def labels_of(entity: Any) -> list[Label]:
    """Return the text of a TEXT, MTEXT or ATTRIB; nothing for other types, or for no text."""
    kind = entity.dxftype()
    if kind not in ("TEXT", "MTEXT", "ATTRIB"):
        return []
    if kind == "ATTRIB" and getattr(entity, "has_embedded_mtext_entity", False):
        lines = tuple(entity.virtual_mtext_entity().plain_text(split=True))
    elif kind == "MTEXT":
        lines = tuple(entity.plain_text(split=True))
    else:
        lines = (entity.plain_text(),)
    lines = tuple(kept for line in lines if (kept := " ".join(line.split())))
    if not lines:
        return []
    at, mirrored = _middle_of_mtext(entity, lines) if kind == "MTEXT" else _middle_of_text(entity)
    layer, handle = attribute_of(entity, "layer", "0"), attribute_of(entity, "handle", "?")
    place = np.array([at.x, at.y, at.z])
    tag = attribute_of(entity, "tag", "")
    return [Label(place, lines, layer, kind, handle, tag=tag, mirrored=mirrored)]


def _sound(loop: Loop) -> bool:
    return bool((np.abs(corners(loop)) <= MOST_UNITS).all())  # NaN is not


def _polyline(entity: Any, layer: str, kind: str, handle: str, block: str) -> list[Shape]:
    if kind == "POLYLINE" and not (entity.is_2d_polyline or entity.is_3d_polyline):
        return []
    closed = bool(entity.is_closed)
    if kind == "LWPOLYLINE":
        points = np.array(entity.lwpoints.values, dtype=np.float64).reshape(-1, 5)
        width = float(attribute_of(entity, "const_width", 0.0)) or _same(points[:, 2:4])
        if not points[:, 4].any() and not entity.dxf.hasattr("extrusion"):
            z = np.full((len(points), 1), attribute_of(entity, "elevation", 0.0))
            flat = np.hstack([points[:, :2], z])
            return [Shape((flat,), closed, layer, kind, handle, block=block, width=width)]
    else:
        width = float(attribute_of(entity, "default_start_width", 0.0))
    from ezdxf.path import make_path

    curve = make_path(entity, segments=8)  # of a whole turn
    loop = curve if curve.has_curves else corners(curve)
    return [Shape((loop,), closed, layer, kind, handle, block=block, width=width)]


def _pieces(entity: Any, kind: str) -> int:
    """Return by how many curves an arc is drawn: of 45 degrees, true to 4e-6 of its radius."""
    if kind != "ARC":
        return 8
    sweep = (float(entity.dxf.end_angle) - float(entity.dxf.start_angle)) % 360.0
    return max(1, math.ceil((sweep or 360.0) / 45.0))


def _same(widths: Points) -> float:
    """Return the one width that all corners have, else 0: a tapered line is an arrow."""
    return float(widths[0, 0]) if len(widths) and (widths == widths[0, 0]).all() else 0.0


def _hatch(entity: Any, layer: str, kind: str, handle: str, block: str) -> list[Shape]:
    """Return the outlines of a solid hatch; the lines of a pattern are none of a wall's."""
    if not attribute_of(entity, "solid_fill", 0):
        return []
    from ezdxf.path import from_hatch

    loops = tuple(
        curve if curve.has_curves else corners(curve) for curve in from_hatch(entity) if len(curve)
    )
    return [Shape(loops, True, layer, kind, handle, filled=True, block=block)] if loops else []


def _drawn_by_others(entity: Any, layer: str, kind: str, handle: str, block: str) -> list[Shape]:
    """Return what an object of another program draws, where the file says it in plain entities."""
    return [
        replace(shape, layer=layer, kind=kind, handle=handle)
        for part in _virtual(entity)
        for shape in shapes_of(part, block=block)
    ]


def _virtual(entity: Any) -> Iterator[Any]:
    from ezdxf.protocols import virtual_entities

    for part in virtual_entities(entity):
        if part.dxftype() == "INSERT":
            yield from virtual_entities(part)  # type: ignore[arg-type]
        else:
            yield part


def _middle_of_text(entity: Any) -> tuple[Any, bool]:
    from ezdxf.math import Vec3

    alignment, first, second = entity.get_placement()
    height = float(attribute_of(entity, "height", 0.0))
    letters = len(entity.plain_text()) * float(attribute_of(entity, "width", 1.0))
    width = height * letters * _WIDTH_OF_LETTER
    name = alignment.name
    if second is not None and name in ("ALIGNED", "FIT"):
        middle, right, up = (first + second) / 2, 0.0, height / 2
    else:
        middle = first
        right = width * (0.5 if name.endswith("LEFT") else -0.5 if name.endswith("RIGHT") else 0)
        up = height * (-0.5 if name.startswith("TOP") else 0.0 if "MIDDLE" in name else 0.5)
    flags = int(attribute_of(entity, "text_generation_flag", 0))
    right, up = (-right if flags & 2 else right), (-up if flags & 4 else up)
    offset = Vec3(right, up).rotate_deg(float(attribute_of(entity, "rotation", 0.0)))
    mirrored = bool(flags & 2) != bool(flags & 4)
    ocs = entity.ocs()
    return ocs.to_wcs(middle + offset), mirrored != (ocs.uz.z < 0)


def _middle_of_mtext(entity: Any, lines: tuple[str, ...]) -> tuple[Any, bool]:
    dxf = entity.dxf
    height = float(attribute_of(entity, "char_height", 0.0))
    width = height * _WIDTH_OF_LETTER * max(len(line) for line in lines)
    tall = height * (1 + 5 / 3 * (len(lines) - 1))  # single line spacing of the DXF reference
    row, column = divmod(int(attribute_of(entity, "attachment_point", 1)) - 1, 3)
    frame = entity.ucs()
    middle = dxf.insert + frame.ux * (width * (1 - column) / 2) + frame.uy * (tall * (row - 1) / 2)
    return middle, bool(frame.uz.z < 0)
