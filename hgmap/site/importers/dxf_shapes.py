"""What is drawn on a DXF's model space: shapes and texts in world coordinates, blocks exploded.

Each block definition is read once and its shapes are moved to each place where it is inserted, so
that a drawing with ten thousand doors costs ten thousand matrix products and no more. Curves stay
curves until the unit is known (``flatten``).
"""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from operator import itemgetter
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_entities import Label, Shape, attribute_of, labels_of, shapes_of
from hgmap.site.importers.dxf_plain import PlainShapes

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

MOST_SHAPES: Final = 1_000_000
"""A drawing with more shapes than this, once its blocks are exploded, is refused."""
MOST_DEPTH: Final = 16
"""Blocks inside blocks, so deep at most."""

FROZEN: Final = "frozen"
INVISIBLE: Final = "made invisible"
TEXTS: Final = frozenset({"TEXT", "MTEXT", "ATTRIB"})
Left = Counter[tuple[str, str, str]]
"""How many entities were left out, by layer, type, and why (nothing where the layer says why)."""


@dataclass(slots=True)
class Content:
    """What a layout or a block holds, all of its blocks exploded.

    Attributes
    ----------
    shapes : list of Shape
    labels : list of Label
    left : Counter
        How many entities were left out, by layer, type and reason.
    groups : int
        How many inserted blocks the shapes come from; a shape's ``group`` counts from 1.
    notes : list of str
        A line for each block that could not be used.
    doubts : list of str
        A line for each drawing that is only referred to: its walls may be missing.
    """

    shapes: list[Shape] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    left: Left = field(default_factory=Counter)
    groups: int = 0
    notes: list[str] = field(default_factory=list)
    doubts: list[str] = field(default_factory=list)


class Exploding:
    """Reads the model space of a document.

    Parameters
    ----------
    document : ezdxf.document.Drawing
    plain : PlainShapes
        Shapes of the model space that the document has no longer.
    hidden : callable
        Tells of a layer why it is not shown; an empty text where it is.
    wanted : callable
        Tells of a layer, and of whether it is asked for a text, whether it matters; what does
        not is only counted.
    file : str
        Named in messages.
    """

    def __init__(
        self,
        document: Document,
        plain: PlainShapes,
        *,
        hidden: Callable[[str], str],
        wanted: Callable[[str, bool], bool],
        file: str,
    ) -> None:
        self._document = document
        self._plain = plain
        self._hidden = hidden
        self._wanted = wanted
        self._file = file
        self._blocks: dict[str, Content] = {}

    def model_space(self) -> Content:
        """Return what is drawn; paper space is not looked at.

        Raises
        ------
        PlanError
            If blocks lie too deep inside one another, or there are too many shapes.
        """
        sizes: dict[str, int] = {}
        space = self._document.modelspace()
        size = self._size(space, within=(), sizes=sizes) + len(self._plain.shapes)
        if size > MOST_SHAPES:
            raise PlanError(
                f"has more than {MOST_SHAPES} shapes once its blocks are exploded",
                where=self._file,
                todo="export one floor, with walls, doors, windows and room names only",
            )
        content = self._read(self._in_order(space), within=())
        self._blocks.clear()
        return content

    def _in_order(self, space: Iterable[Any]) -> Iterable[Any]:
        """Yield plain shapes and all other entities as they stand in the file."""
        rank = self._plain.rank
        if not rank:
            return space
        plain = ((rank[shape.handle], shape) for shape in self._plain.shapes)
        other = ((rank.get(one.dxf.handle, -1), one) for one in space)
        return (one for _, one in heapq.merge(plain, other, key=itemgetter(0)))

    def _size(
        self, entities: Iterable[Any], *, within: tuple[str, ...], sizes: dict[str, int]
    ) -> int:
        """Count what a layout comes to before it is exploded; ``sizes`` keeps each block's."""
        size = 0
        for entity in entities:
            size += 1
            if entity.dxftype() != "INSERT":
                continue
            name = attribute_of(entity, "name", "")
            key = name.casefold()
            layout: Any = self._document.blocks.get(name)
            if layout is None or key in within:
                continue
            if len(within) >= MOST_DEPTH:
                raise PlanError(
                    f"has blocks inside blocks more than {MOST_DEPTH} deep ({name!r})",
                    where=self._file,
                    todo="explode the blocks before the export",
                )
            if key not in sizes:
                sizes[key] = self._size(layout, within=(*within, key), sizes=sizes)
            columns, rows = _places(entity)
            size += columns * rows * sizes[key]
        return size

    def _read(self, entities: Iterable[Any], *, within: tuple[str, ...]) -> Content:
        content = Content()
        reasons: dict[str, str | None] = {}
        for entity in entities:
            if isinstance(entity, Shape):
                if entity.layer not in reasons:
                    reasons[entity.layer] = self._not_read(entity.layer, entity.kind, inside=False)
                if (reason := reasons[entity.layer]) is None:
                    content.shapes.append(entity)
                else:
                    content.left[entity.layer, entity.kind, reason] += 1
                continue
            kind, layer = entity.dxftype(), attribute_of(entity, "layer", "0")
            if kind == "INSERT":
                self._insert(entity, layer, content, within=within)
                continue
            reason = self._not_read(layer, kind, inside=bool(within))
            if attribute_of(entity, "invisible", 0):
                reason = INVISIBLE
            if reason is not None:
                content.left[layer, kind, reason] += 1
                continue
            shapes: list[Shape] = []
            labels: list[Label] = []
            try:
                if kind in TEXTS:
                    labels = labels_of(entity)
                else:
                    shapes = shapes_of(entity, block=within[-1] if within else "")
            except Exception:  # one broken entity must not cost the others; ezdxf raises anything
                content.left[layer, kind, "cannot be read"] += 1
                continue
            drawn = [shape for shape in shapes if not shape.is_empty]
            sound = [shape for shape in drawn if shape.is_sound]
            named = [label for label in labels if label.is_sound]
            if len(sound) < len(drawn) or len(named) < len(labels):
                content.left[layer, kind, "a coordinate that is no number"] += 1
            elif not sound and not named:
                content.left[layer, kind, "without a length" if shapes else ""] += 1
            content.shapes += sound
            content.labels += named
        return content

    def _not_read(self, layer: str, kind: str, *, inside: bool) -> str | None:
        """Say why a layer's entities are not read; None where they are.

        What lies on layer 0 of a block lies on the layer that the block is inserted on.
        """
        if inside and layer == "0":
            return None
        if hidden := self._hidden(layer):
            return hidden
        return None if self._wanted(layer, kind in TEXTS) else ""

    def _insert(
        self, insert: Any, layer: str, content: Content, *, within: tuple[str, ...]
    ) -> None:
        name, inside = attribute_of(insert, "name", ""), bool(within)
        hidden = "" if inside and layer == "0" else self._hidden(layer)
        if attribute_of(insert, "invisible", 0) or hidden == FROZEN:
            content.left[layer, "INSERT", hidden or INVISIBLE] += 1
            return
        block = self._block(name, within=within, content=content)
        if block is None:
            content.left[layer, "INSERT", "without a block that can be used"] += 1
            return
        self._attributes(insert, layer, content, inside=inside)
        columns, rows = _places(insert)
        for one in insert.multi_insert() if columns * rows > 1 else (insert,):
            self._place(one, layer, block, content, inside=inside)

    def _attributes(self, insert: Any, layer: str, content: Content, *, inside: bool) -> None:
        for attribute in insert.attribs:
            on = attribute_of(attribute, "layer", "0")
            on = layer if on == "0" else on
            reason = self._not_read(on, "ATTRIB", inside=inside)
            if attribute.is_invisible:
                reason = INVISIBLE
            if reason is not None:
                content.left[on, "ATTRIB", reason] += 1
                continue
            content.labels += [
                replace(label, layer=on, group=content.groups + 1)
                for label in labels_of(attribute)
                if label.is_sound
            ]

    def _place(
        self, insert: Any, layer: str, block: Content, content: Content, *, inside: bool
    ) -> None:
        matrix = insert.matrix44()
        rows = np.array(list(matrix), dtype=np.float64).reshape(4, 4)
        first = content.groups + 1
        content.groups += block.groups + 1
        reasons: dict[tuple[str, bool], str | None] = {}

        def kept(one: Shape | Label) -> str:
            """Return the layer that it lies on here; empty where it is left out."""
            on = layer if one.layer == "0" else one.layer
            key = (on, isinstance(one, Label))
            if key not in reasons:
                reasons[key] = self._not_read(on, one.kind, inside=inside)
            reason = reasons[key]
            if reason is not None:
                content.left[on, one.kind, reason] += 1
                return ""
            return on

        for shape in block.shapes:
            if on := kept(shape):
                group = first + shape.group
                content.shapes.append(shape.moved(matrix, rows, layer=on, group=group))
        for label in block.labels:
            if on := kept(label):
                content.labels.append(label.moved(rows, layer=on, group=first + label.group))
        for (left, kind, reason), n in block.left.items():
            content.left[layer if left == "0" else left, kind, reason] += n

    def _block(self, name: str, *, within: tuple[str, ...], content: Content) -> Content | None:
        """Return what a block holds; None where it is missing, or inserts itself."""
        key = name.casefold()
        if key in map(str.casefold, within):
            _say_once(content.notes, f"block {name!r} holds itself; that was left out")
            return None
        if key in self._blocks:
            return self._blocks[key]
        layout = self._document.blocks.get(name)
        if layout is None:
            _say_once(content.notes, f"block {name!r} is inserted and is not in the file")
            return None
        if layout.block is not None and (layout.block.is_xref or layout.block.is_xref_overlay):
            _say_once(
                content.doubts,
                f"block {name!r} is another drawing that is only referred to, and is missing: "
                "walls may be missing with it; bind it before the export if it has any",
            )
            return None
        block = self._read(layout, within=(*within, name))
        self._blocks[key] = block
        content.notes += [note for note in block.notes if note not in content.notes]
        content.doubts += [doubt for doubt in block.doubts if doubt not in content.doubts]
        return block


def _say_once(notes: list[str], line: str) -> None:
    if line not in notes:
        notes.append(line)


def _places(insert: Any) -> tuple[int, int]:
    """Return in how many columns and rows a block is inserted."""
    columns, rows = (int(attribute_of(insert, f"{way}_count", 1)) for way in ("column", "row"))
    return max(1, columns), max(1, rows)
