"""A floor from a DXF file: walls, doors, windows, rooms and their names, by layer."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.collector import collector_off
from hgmap.site.importers.drawing import Drawing, Part, Role
from hgmap.site.importers.dxf_doors import doors_of, widths_of
from hgmap.site.importers.dxf_entities import Label, Shape, attribute_of
from hgmap.site.importers.dxf_file import open_dxf
from hgmap.site.importers.dxf_heights import boxes_of, far_off, one_storey
from hgmap.site.importers.dxf_layers import Layer, LayerRole, layers_as_said
from hgmap.site.importers.dxf_parts import area_parts, wall_parts
from hgmap.site.importers.dxf_plain import PlainShapes
from hgmap.site.importers.dxf_report import first_few, layer_lines, no_layer_known
from hgmap.site.importers.dxf_shapes import FROZEN, Content, Exploding, Left
from hgmap.site.importers.dxf_swings import Swing, swings_of
from hgmap.site.importers.dxf_texts import mirrored_note, text_parts
from hgmap.site.importers.dxf_unit import DOORS, Unit, judge_unit

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_UNKNOWN: Final = Layer(None)
_AREAS: Final[tuple[Role, ...]] = ("room", "walkable", "outline")
_ROOMY: Final = ("wall", "room", "walkable")
"""Layers without which there is no plan."""


@collector_off()
def draw_dxf(
    data: bytes,
    *,
    file: str,
    layers: Mapping[str, str] | None = None,
    unit: str | None = None,
) -> tuple[Drawing, ...]:
    """Read the model space of a DXF file, text or binary, of any version that ezdxf reads.

    Parameters
    ----------
    data : bytes
        The file.
    file : str
        Named in messages.
    layers : mapping of str to str, optional
        Role to patterns of layer names: ``{"wall": "A-WALL*;COLS"}``; the role ``"ignore"`` leaves
        layers out. Roles that are not said are told by the names of layers.
    unit : str, optional
        Unit of the coordinates (mm, cm, dm, m, in, ft, yd); otherwise told by the header and by
        how wide the doors are.

    Returns
    -------
    tuple of Drawing
        One: a file with several storeys is refused.

    Raises
    ------
    PlanError
        If the file cannot be read, no layer is known, the unit cannot be told, or storeys lie over
        one another.
    """
    document, plain, doubts = open_dxf(data, file=file)
    space = document.modelspace()
    if not len(space) and not plain.shapes:
        raise PlanError(
            "has nothing in its model space", where=file,
            todo="export the model, not the sheet of paper",
        )  # fmt: skip
    known = layers_as_said(_layer_names(document, plain), layers or {}, file=file)
    hidden = _hidden_layers(document, known)
    content = Exploding(
        document,
        plain,
        hidden=lambda layer: hidden.get(layer.casefold(), ""),
        wanted=lambda layer, is_text: _wanted(known.get(layer, _UNKNOWN), is_text=is_text),
        file=file,
    ).model_space()
    notes = list(content.notes)
    if not any(_role_of(shape, known) in _ROOMY for shape in content.shapes):
        raise no_layer_known(content, known, hidden, file=file)
    boxes = boxes_of(content.shapes)
    away = far_off(boxes)
    shapes, boxes = _only(content.shapes, away == 0), boxes[away == 0]
    swings = swings_of(shape for shape in shapes if _role_of(shape, known) == "door")
    unit_found = _unit(document, shapes, boxes, swings, known, said=unit, file=file)
    metres = unit_found.metres
    storey = one_storey(shapes, boxes, metres=metres, file=file)
    shapes = _only(shapes, storey.kept)
    left: Left = Counter()
    parts, more = _parts(shapes, swings, known, metres=metres, left=left)
    labels, said_of_labels = _labels(content, known)
    texts, figures = text_parts(labels)
    notes += (*unit_found.notes, *storey.notes)
    notes += first_few([f"{one.label}: lies {far * metres:.0f} m off the rest and was left out"
                        for one, far in zip(content.shapes, away, strict=True) if far],
                       "shapes")  # fmt: skip
    notes += (*first_few(more, "doors and areas"), *figures, *said_of_labels)
    notes += mirrored_note(content.labels)
    notes += layer_lines(known, content, shapes, labels, left)
    if not any(part.role in _ROOMY for part in parts):
        raise PlanError("has no wall or room that can be used", where=file,
                        todo="; ".join(notes[-3:]))  # fmt: skip
    return (
        Drawing(
            (*parts, *texts),
            file,
            metres,
            elevation_m=storey.elevation_m,
            notes=tuple(notes),
            doubts=(*doubts, *content.doubts, *unit_found.doubts),
        ),
    )


def _role_of(shape: Shape, known: Mapping[str, Layer]) -> LayerRole | None:
    return known.get(shape.layer, _UNKNOWN).role


def _only(shapes: list[Shape], kept: NDArray[np.bool_]) -> list[Shape]:
    return [shape for shape, keep in zip(shapes, kept.tolist(), strict=True) if keep]


def _unit(
    document: Document,
    shapes: list[Shape],
    boxes: NDArray[np.float64],
    swings: list[Swing],
    known: Mapping[str, Layer],
    *,
    said: str | None,
    file: str,
) -> Unit:
    doors = [shape for shape in shapes if _role_of(shape, known) == "door"]
    of_floor = boxes[[_role_of(shape, known) in (*_ROOMY, "outline") for shape in shapes]]
    sides = of_floor[:, 3:5].max(axis=0) - of_floor[:, :2].min(axis=0)
    measurement = document.header.get("$MEASUREMENT", None)
    return judge_unit(
        insunits=int(document.header.get("$INSUNITS", 0)),
        measurement=None if measurement is None else int(measurement),
        doors=widths_of(swings, doors, enough=DOORS),
        span=float(sides.max()),
        said=said,
        file=file,
    )


def _parts(
    shapes: list[Shape],
    swings: list[Swing],
    known: Mapping[str, Layer],
    *,
    metres: float,
    left: Left,
) -> tuple[list[Part], list[str]]:
    """Return all parts but texts, and a line for each door or area that was left out or mended."""
    by_role: dict[LayerRole | None, list[Shape]] = {}
    for shape in shapes:
        by_role.setdefault(_role_of(shape, known), []).append(shape)
    lines: list[str] = []
    windows = wall_parts(by_role.get("window", ()), role="window", metres=metres, left=left)
    areas = [
        part
        for role in _AREAS
        for part in area_parts(
            by_role.get(role, ()), role=role, metres=metres, left=left, notes=lines
        )
    ]
    free = sum(part.geometry.area for part in areas if part.role == "walkable")
    walls = wall_parts(
        by_role.get("wall", ()), role="wall", metres=metres, left=left, solid_below=free / 2
    )
    beside = [part.geometry for part in walls]
    beside += [part.geometry.boundary for part in areas if part.role != "outline"]
    drawn = by_role.get("door", [])
    of_storey = {id(shape) for shape in drawn}
    swings = [one for one in swings if id(one.shape) in of_storey]
    doors, doubts = doors_of(swings, drawn, beside, metres=metres)
    found = [Part("door", door.line, door.shape.label) for door in doors]
    return [*walls, *windows, *found, *areas], lines + doubts


def _labels(content: Content, known: Mapping[str, Layer]) -> tuple[list[Label], list[str]]:
    """Return the texts of layers of texts and rooms; of unknown layers where there are none."""
    roles = {label.layer: known.get(label.layer, _UNKNOWN).role for label in content.labels}
    sure = [label for label in content.labels if roles[label.layer] is not None]
    if sure or not content.labels:
        return sure, []
    return content.labels, ["no layer is known to hold room names: texts of all layers were taken"]


def _layer_names(document: Document, plain: PlainShapes) -> list[str]:
    """Return the layers that something lies on; their table may name many more, or fewer."""
    spaces = (document.modelspace(), *document.blocks)
    used = {shape.layer for shape in plain.shapes}
    for space in spaces:
        for entity in space:
            used.add(attribute_of(entity, "layer", "0"))
            if entity.dxftype() == "INSERT":
                used |= {attribute_of(attribute, "layer", "0") for attribute in entity.attribs}
    return sorted(used)


def _hidden_layers(document: Document, known: Mapping[str, Layer]) -> dict[str, str]:
    """Return why layers are not shown, by folded name; those named by a person are."""
    said = {name.casefold() for name, layer in known.items() if layer.why == "as said"}
    hidden: dict[str, str] = {}
    for layer in document.layers:
        name = layer.dxf.name.casefold()
        if name not in said and (layer.is_frozen() or layer.is_off()):
            hidden[name] = FROZEN if layer.is_frozen() else "switched off"
    return hidden


def _wanted(layer: Layer, *, is_text: bool) -> bool:
    if is_text:
        return layer.role in (None, "text", "room", "walkable", "outline")
    return layer.role not in (None, "ignore", "text")
