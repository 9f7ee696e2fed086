"""Places by a grid that was chalked on the floor: ``C4`` is letter C, number 4."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from hgmap.site.building import NamedGrid

_SQUARE = re.compile(
    r"(?:(?P<grid>.*[^\s:/])\s*[\s:/]\s*)?(?P<letters>[A-Za-z]{1,2})\s*-?\s*(?P<number>\d{1,3})"
)


def grid_place(text: str, grids: Sequence[NamedGrid]) -> tuple[float, float] | str:
    """Return the place (m, floor's frame) that a grid name means, or why it means none.

    Letters run A to Z, then AA, AB and so on; numbers begin with 1. ``A1`` is the grid's origin.
    A floor with several grids needs the grid's name before it, as in ``hall: C4``.

    Examples
    --------
    >>> grid = NamedGrid("", 1.0, 2.0, 3.0, 3.0)
    >>> grid_place("C4", [grid])
    (7.0, 11.0)
    >>> grid_place("4C", [grid])
    "grid place '4C' is not a letter and a number, as C4"
    """
    match = _SQUARE.fullmatch(text.strip())
    if match is None or int(match["number"]) == 0:
        return f"grid place {text!r} is not a letter and a number, as C4"
    if not grids:
        return f"grid place {text!r}: the floor has no grid; add [[floors.grids]] to site.toml"
    name = (match["grid"] or "").casefold()
    found = [one for one in grids if one.name.casefold() == name or not name]
    if len(found) != 1:
        known = ", ".join(repr(one.name) for one in grids)
        return f"grid place {text!r}: which grid? the floor has {known}"
    grid = found[0]
    across = _column(match["letters"])
    along = int(match["number"]) - 1
    half = 0.5 if grid.point == "centre" else 0.0
    u, v = (across + half) * grid.pitch_x_m, (along + half) * grid.pitch_y_m
    turn = math.radians(grid.angle_deg)
    x = grid.origin_x_m + u * math.cos(turn) - v * math.sin(turn)
    y = grid.origin_y_m + u * math.sin(turn) + v * math.cos(turn)
    return x, y


def _column(letters: str) -> int:
    """Count letters from 0: A, B, ..., Z, AA."""
    count = 0
    for letter in letters.upper():
        count = count * 26 + ord(letter) - ord("A") + 1
    return count - 1
