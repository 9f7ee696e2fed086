"""Plain lines of a DXF, read by columns: most of a large drawing, and most of ezdxf's time.

A LINE is *plain* where nothing about it needs a second look: a handle of its own, a layer, two
ends, and none but the usual group codes. Everything else is left to ezdxf, and what comes out is
the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import compress
from typing import Final

import numpy as np

from hgmap.site.importers.dxf_entities import MOST_UNITS, Shape

_ENDS: Final = ((10, 20, 30, 11, 21, 31), (10, 20, 11, 21))
_INTEGERS: Final = frozenset({62, 370, 420})
"""Colour, line weight, true colour."""
_USUAL: Final = _INTEGERS | {0, 5, 330, 100, 8, 6, *_ENDS[0]}
"""Also the type, handle, owner, subclasses, layer, line type, and both ends."""
_WITHOUT_Z: Final = 4


@dataclass(frozen=True, slots=True)
class PlainLines:
    """Lines in the order of the file.

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

    def not_on(self, layout: str) -> PlainLines:
        """Return the lines that are not on a layout, which is named by its handle."""
        kept = [owner != layout for owner in self.owners]
        return PlainLines(
            tuple(compress(self.shapes, kept)), tuple(compress(self.owners, kept)), self.rank
        )


@dataclass(frozen=True, slots=True)
class _Places:
    """Where the tags of a plain line stand in it."""

    layer: int
    ends: int
    has_z: bool
    has_owner: bool
    integers: tuple[int, ...]


def plain_lines(
    codes: Sequence[str], values: Sequence[str]
) -> tuple[PlainLines, list[bool]] | None:
    """Find the plain lines of a text DXF.

    Parameters
    ----------
    codes, values : sequence of str
        Group codes and values of the whole file as they stand there, without the ends of lines.

    Returns
    -------
    lines : PlainLines
    rest : list of bool
        Which codes and values belong to something else, and are for ezdxf.

    None where the order of the file would be lost (an entity without a handle, two of one handle),
    and where a number is none, so that ezdxf may complain.
    """
    try:
        return _plain_lines(codes, values)
    except (ValueError, IndexError):
        return None


def _plain_lines(
    codes: Sequence[str], values: Sequence[str]
) -> tuple[PlainLines, list[bool]] | None:
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
    shown: dict[tuple[str, ...], _Places | None] = {}
    rank: dict[str, int] = {}
    lines: list[tuple[int, _Places]] = []
    rest = [True] * len(codes)
    for at in range(begins[0] + 1, names.index("ENDSEC", begins[0])):
        start, end = starts[at], starts[at + 1]
        handle = values[start + 1]
        if number[codes[start + 1]] != 5 or not handle.isalnum() or not int(handle, 16):
            return None
        if handle in rank:
            return None
        rank[handle] = at
        if names[at] != "LINE":
            continue
        key = tuple(codes[start:end])
        if key not in shown:
            shown[key] = _places([number[code] for code in key])
        places = shown[key]
        if places is None or "\\" in values[start + places.layer]:
            continue
        for place in places.integers:
            int(values[start + place])
        lines.append((start, places))
        rest[start:end] = [False] * (end - start)
    ends = np.array(
        [_ends(values, start + places.ends, has_z=places.has_z) for start, places in lines],
        dtype=np.float64,
    ).reshape(-1, 2, 3)
    if not (np.abs(ends) <= MOST_UNITS).all():
        return None
    shapes = [
        Shape((both,), False, values[start + places.layer], "LINE", values[start + 1])
        for (start, places), both in zip(lines, ends, strict=True)
    ]
    owners = [values[start + 2] if places.has_owner else "" for start, places in lines]
    return PlainLines(tuple(shapes), tuple(owners), rank), rest


def _ends(values: Sequence[str], at: int, *, has_z: bool) -> list[float]:
    if has_z:
        return [float(value) for value in values[at : at + 6]]
    x, y, u, v = (float(value) for value in values[at : at + _WITHOUT_Z])
    return [x, y, 0.0, u, v, 0.0]


def _places(codes: list[int]) -> _Places | None:
    """Tell where a line's tags stand, by its group codes; None where it is not plain."""
    single = [code for code in codes if code != 100]
    if not _USUAL.issuperset(codes) or len(set(single)) < len(single):
        return None
    if 8 not in codes or 10 not in codes or (330 in codes and codes[2] != 330):
        return None
    at = codes.index(10)
    ends = tuple(code for code in codes if code in _ENDS[0])
    if ends not in _ENDS or tuple(codes[at : at + len(ends)]) != ends:
        return None
    integers = tuple(n for n, code in enumerate(codes) if code in _INTEGERS)
    return _Places(codes.index(8), at, ends == _ENDS[0], 330 in codes, integers)
