"""The marks of readings, and the numbered squares: told apart by shape, not by hue."""

from __future__ import annotations

from typing import Final

from hgmap.decide.model import Evidence
from hgmap.report.drawing import Dot, Drawing, Label, Pen
from hgmap.report.palette import INK, PAPER
from hgmap.report.typeset import width_pt

BADGE_PT: Final = 6.5

MOST_NUMBERED: Final = 20
"""Places to measure again that get a number on the plan; a crowd of numbers hides the zones."""

_MARKS: Final[dict[str, Dot]] = {
    "used": Dot(0, 0, 4.6, "circle", INK, Pen(PAPER, 0.6)),
    "non-detect": Dot(0, 0, 4.6, "circle", PAPER, Pen(INK, 1.0)),
    "other height": Dot(0, 0, 5.4, "triangle", PAPER, Pen(INK, 0.9)),
    "cannot see the level": Dot(0, 0, 4.6, "diamond", PAPER, Pen(INK, 0.9)),
    "held": Dot(0, 0, 4.8, "cross", None, Pen(INK, 1.3)),
}
_RING: Final = Dot(0, 0, 9.0, "circle", None, Pen(INK, 1.1))
_RING_RIM: Final = Dot(0, 0, 9.0, "circle", None, Pen(PAPER, 2.6))


def kind_of(item: Evidence) -> str:
    """Return the kind of mark that a reading gets."""
    return "non-detect" if item.role == "used" and item.reading.qualifier == "<" else item.role


def mark(kind: str, x: float, y: float, *, above: bool = False, shrink: float = 1.0) -> Drawing:
    """Draw the mark of a kind at a place of the drawing; a ring says: above the level."""
    look = _MARKS[kind]
    dot = Dot(x, y, look.size_pt * shrink, look.shape, look.fill, look.edge)
    if kind == "held":
        rim = Dot(x, y, look.size_pt * shrink, look.shape, None, Pen(PAPER, 2.8))
        dots: tuple[Dot, ...] = (rim, dot)
    else:
        dots = (dot,)
    if not above:
        return dots
    rings = tuple(
        Dot(x, y, ring.size_pt * shrink, ring.shape, None, ring.edge) for ring in (_RING_RIM, _RING)
    )
    return (*rings, *dots)


def badge(
    rank: int, x: float, y: float, offset_pt: tuple[float, float] = (0.0, 0.0)
) -> tuple[Dot, Label]:
    """Draw the number of a place to measure again: white in a dark square."""
    side = badge_side_pt(rank)
    return (
        Dot(x, y, side, "square", INK, Pen(PAPER, 0.8), offset_pt),
        Label(
            x,
            y,
            str(rank),
            BADGE_PT,
            PAPER,
            bold=True,
            across="centre",
            up="middle",
            offset_pt=offset_pt,
        ),
    )


def unnumbered(x: float, y: float) -> Dot:
    """Draw a place to measure again that is too far down the list for a number."""
    return Dot(x, y, 4.0, "square", INK, Pen(PAPER, 0.6))


def badge_side_pt(rank: int) -> float:
    """Return the side of a numbered square (pt)."""
    return max(9.5, width_pt(str(rank), BADGE_PT, bold=True) + 3.0)


def half_width_pt(kind: str, *, above: bool, shrink: float = 1.0) -> float:
    """Return half the width of a mark with its rim (pt)."""
    return shrink * (_RING.size_pt if above else _MARKS[kind].size_pt) / 2.0 + 0.5
