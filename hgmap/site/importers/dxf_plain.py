"""Plain lines and arcs of a DXF, read by columns: most of a large drawing, and of ezdxf's time.

A LINE or an ARC is *plain* where nothing about it needs a second look: a handle of its own, a
layer, its numbers, and none but the usual group codes. Everything else is left to ezdxf, and what
comes out is the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from typing import Final

import numpy as np
from numpy.typing import NDArray

from hgmap.site.importers.dxf_arcs import are_usual, cubics_of
from hgmap.site.importers.dxf_curves import Loop
from hgmap.site.importers.dxf_entities import MOST_UNITS, Shape

Floats = NDArray[np.float64]

_PLACES: Final = {"LINE": ((10, 20, 30), (11, 21, 31)), "ARC": ((10, 20, 30),)}
"""Codes of the places of each type: three, or two where there is no height."""
_SIZES: Final = {"LINE": (), "ARC": (40, 50, 51)}
"""Codes of its other numbers: radius, angles of both ends (degrees)."""
_INTEGERS: Final = frozenset({62, 370, 420})
"""Colour, line weight, true colour."""
_USUAL: Final = _INTEGERS | {0, 5, 330, 100, 8, 6}
"""Also the type, handle, owner, subclasses, layer, line type."""


@dataclass(frozen=True, slots=True)
class PlainShapes:
    """Lines and arcs in the order of the file.

    Attributes
    ----------
    shapes : tuple of Shape
    owners : tuple of str
        The handle of the layout that each lies on; empty where the file does not say.
    rank : dict of str to int
        The place in the file of every entity, by its handle.
    """

    shapes: tuple[Shape, ...] = ()
    owners: tuple[str, ...] = ()
    rank: dict[str, int] | None = None

    def not_on(self, layout: str) -> PlainShapes:
        """Return the shapes that are not on a layout, which is named by its handle."""
        kept = [owner != layout for owner in self.owners]
        return PlainShapes(
            tuple(compress(self.shapes, kept)), tuple(compress(self.owners, kept)), self.rank
        )


@dataclass(frozen=True, slots=True)
class _Form:
    """A row of group codes, and where in it the tags of a plain entity stand.

    ``numbers`` are x, y, z of each place (z is -1 where it is not written), then its sizes.
    """

    kind: str
    length: int
    layer: int
    numbers: tuple[int, ...]
    has_owner: bool
    integers: tuple[int, ...]


def plain_shapes(
    codes: Sequence[str], values: Sequence[str]
) -> tuple[PlainShapes, list[bool]] | None:
    """Find the plain lines and arcs of a text DXF.

    Parameters
    ----------
    codes, values : sequence of str
        Group codes and values of the whole file as they stand there, without the ends of lines.

    Returns
    -------
    found : PlainShapes
    rest : list of bool
        Which codes and values belong to something else, and are for ezdxf.

    None where the order of the file would be lost (an entity without a handle, two of one handle),
    and where a number is none, so that ezdxf may complain.
    """
    try:
        return _plain_shapes(codes, values)
    except (ValueError, IndexError):
        return None


def _plain_shapes(
    codes: Sequence[str], values: Sequence[str]
) -> tuple[PlainShapes, list[bool]] | None:
    number = {code: int(code) for code in set(codes)}
    zeros = {code for code, n in number.items() if n == 0}
    starts = [at for at, code in enumerate(codes) if code in zeros]
    names = [values[at].strip() for at in starts]
    begins = [
        at for at, name in enumerate(names)
        if name == "SECTION" and values[starts[at] + 1].strip() == "ENTITIES"
    ]  # fmt: skip
    if len(begins) != 1:
        return None
    shown: dict[tuple[str, ...], _Form | None] = {}
    rank: dict[str, int] = {}
    alike: dict[_Form, list[int]] = {}
    for at in range(begins[0] + 1, names.index("ENDSEC", begins[0])):
        start, end = starts[at], starts[at + 1]
        handle = values[start + 1]
        if number[codes[start + 1]] != 5 or not handle.isalnum() or not int(handle, 16):
            return None
        if handle in rank:
            return None
        rank[handle] = at
        if names[at] not in _PLACES:
            continue
        key = (names[at], *codes[start:end])
        if key not in shown:
            shown[key] = _form(names[at], [number[code] for code in key[1:]])
        form = shown[key]
        if form is not None and "\\" not in values[start + form.layer]:
            alike.setdefault(form, []).append(start)
    return _read(alike, rank, values, [True] * len(codes))


def _read(
    alike: dict[_Form, list[int]], rank: dict[str, int], values: Sequence[str], rest: list[bool]
) -> tuple[PlainShapes, list[bool]] | None:
    """Read the entities of each form at once; strike them out of the rest."""
    found: list[tuple[int, Shape, str]] = []
    for form, starts in alike.items():
        for place in form.integers:
            for start in starts:
                int(values[start + place])
        numbers = np.zeros((len(form.numbers), len(starts)))
        for row, place in zip(numbers, form.numbers, strict=True):
            if place >= 0:
                row[:] = [float(values[start + place]) for start in starts]
        if not (np.abs(numbers) <= MOST_UNITS).all():
            return None
        for start, shape in _shapes(form, starts, numbers.T, values):
            rest[start : start + form.length] = [False] * form.length
            found.append((start, shape, values[start + 2] if form.has_owner else ""))
    found.sort(key=lambda one: one[0])
    shapes = tuple(shape for _, shape, _ in found)
    return PlainShapes(shapes, tuple(owner for _, _, owner in found), rank), rest


def _shapes(
    form: _Form, starts: list[int], numbers: Floats, values: Sequence[str]
) -> list[tuple[int, Shape]]:
    loops: Sequence[Loop]
    if form.kind == "LINE":
        loops = list(numbers.reshape(-1, 2, 3))
    else:
        centres, (radii, first, last) = numbers[:, :3], numbers[:, 3:].T
        radii = np.abs(radii)
        usual = are_usual(centres, radii, first, last)
        starts = list(compress(starts, usual.tolist()))
        loops = cubics_of(centres[usual], radii[usual], first[usual], last[usual])
    return [
        (start, Shape((loop,), False, values[start + form.layer], form.kind, values[start + 1]))
        for start, loop in zip(starts, loops, strict=True)
    ]


def _form(kind: str, codes: list[int]) -> _Form | None:
    """Tell where the tags of an entity stand, by its group codes; None where it is not plain."""
    single = [code for code in codes if code != 100]
    wanted = {code for place in _PLACES[kind] for code in place} | {*_SIZES[kind]}
    if not (_USUAL | wanted).issuperset(codes) or len(set(single)) < len(single):
        return None
    if 8 not in codes or (330 in codes and codes[2] != 330):
        return None
    where = {code: at for at, code in enumerate(codes)}
    numbers: list[int] = []
    flat = _PLACES[kind][0][2] not in where
    for x, y, z in _PLACES[kind]:
        # ezdxf makes a place of what follows its x
        together = (x, y) if flat else (x, y, z)
        if x not in where or tuple(codes[where[x] : where[x] + len(together)]) != together:
            return None
        if flat and z in where:
            return None
        numbers += [where[x], where[x] + 1, -1 if flat else where[x] + 2]
    if not set(_SIZES[kind]) <= where.keys():
        return None
    numbers += [where[code] for code in _SIZES[kind]]
    integers = tuple(at for at, code in enumerate(codes) if code in _INTEGERS)
    return _Form(kind, len(codes), where[8], tuple(numbers), 330 in where, integers)
