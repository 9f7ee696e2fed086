"""An invented house as DXF, and what to spoil on it."""

from __future__ import annotations

import io
import itertools
from collections.abc import Callable
from typing import Any

import ezdxf
import shapely
from ezdxf.document import Drawing as Document

from hgmap.errors import HgmapError
from hgmap.site.importers.drawing import Drawing, Part, Role
from hgmap.site.importers.dxf import draw_dxf

DOORS = (((5, 1), (5, 1.9)), ((5, 4.9), (5, 4)), ((2, 0), (2.9, 0)))
"""Hinge and far jamb of the house's doors (m)."""


def house(
    *, per_metre: float = 1.0, insunits: int = 6, version: str = "R2010", door: float = 0.9
) -> Document:
    """Make two rooms, 10 m × 6 m, with three doors of one block and a name in each room."""
    document = ezdxf.new(version)
    if version != "R12":
        document.header["$INSUNITS"] = insunits
        document.header["$MEASUREMENT"] = 0 if insunits in (1, 2) else 1
    for layer in ("A-WALL", "A-DOOR", "A-AREA-IDEN"):
        document.layers.add(layer)
    k, space = per_metre, document.modelspace()

    def line(*corners: tuple[float, float]) -> None:
        for start, end in itertools.pairwise(corners):
            space.add_line(
                [k * c for c in start], [k * c for c in end], dxfattribs={"layer": "A-WALL"}
            )

    line((2, 0), (0, 0), (0, 6), (10, 6), (10, 0), (2 + door, 0))
    line((5, 0), (5, 1))
    line((5, 1 + door), (5, 4.9 - door))
    line((5, 4.9), (5, 6))
    block = document.blocks.new("LEAF")
    block.add_arc((0, 0), door * k, 0, 90)
    block.add_line((0, 0), (door * k, 0))
    on = {"layer": "A-DOOR"}
    space.add_blockref("LEAF", (5 * k, 1 * k), dxfattribs=on)
    space.add_blockref("LEAF", (5 * k, 4.9 * k), dxfattribs={**on, "rotation": 180})
    space.add_blockref("LEAF", (2 * k, 0), dxfattribs={**on, "rotation": 90, "yscale": -1})
    for x, name in ((2.5, "Lab"), (7.5, "Store")):
        space.add_text(
            name, height=0.3 * k, dxfattribs={"layer": "A-AREA-IDEN", "insert": (x * k, 3 * k)}
        )
    return document


def bytes_of(document: Document, *, sound: bool = False) -> bytes:
    """Write a document; where it is to be sound, ezdxf's own audit finds nothing in it."""
    stream = io.StringIO()
    document.write(stream)
    data = stream.getvalue().encode(document.output_encoding, "surrogateescape")
    if sound:
        again = ezdxf.read(io.StringIO(stream.getvalue()))
        assert not again.audit().errors
    return data


def binary(document: Document) -> bytes:
    """Write a document as binary DXF."""
    stream = io.BytesIO()
    document.write(stream, fmt="bin")
    return stream.getvalue()


def drawn(document: Document, **options: Any) -> Drawing:
    """Read a document that we wrote."""
    (drawing,) = draw_dxf(bytes_of(document), file="a.dxf", **options)
    assert not noted(drawing, "cannot be read")
    return drawing


def drawn_or_not(draw: Callable[[], tuple[Drawing, ...]]) -> Drawing | str:
    """Return the one drawing with its parts, or what our own error says; others go through."""
    try:
        (drawing,) = draw()
    except HgmapError as error:
        return str(error)
    assert drawing.parts
    return drawing


def empty(**header: Any) -> Document:
    """Make a document in metres with nothing in it."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 6
    document.header["$MEASUREMENT"] = 1
    for key, value in header.items():
        document.header[f"${key}"] = value
    return document


def box(space: Any, west: float, south: float, east: float, north: float, layer: str) -> Any:
    """Draw a closed rectangle."""
    corners = [(west, south), (east, south), (east, north), (west, north)]
    return space.add_lwpolyline(corners, close=True, dxfattribs={"layer": layer})


def of_role(drawing: Drawing, *roles: Role) -> list[Part]:
    """Return the parts of these roles."""
    return list(drawing.of_role(*roles))


def ends(part: Part, digits: int = 3) -> frozenset[tuple[float, float]]:
    """Return both ends of a line, whichever comes first."""
    corners = shapely.get_coordinates(part.geometry)
    return frozenset(
        (round(float(x), digits) + 0.0, round(float(y), digits) + 0.0)
        for x, y in (corners[0], corners[-1])
    )


def all_ends(parts: list[Part]) -> set[frozenset[tuple[float, float]]]:
    """Return the ends of all lines."""
    return {ends(part) for part in parts}


def noted(drawing: Drawing, *words: str) -> bool:
    """Tell whether one note has all of these words."""
    return any(all(word in note for word in words) for note in (*drawing.doubts, *drawing.notes))
