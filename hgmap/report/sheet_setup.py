"""What a sheet is printed on: paper, scale and dots per inch, and whether a plan fits there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from hgmap.errors import HgmapError
from hgmap.report.title_block import denominator
from hgmap.report.words import grouped, number

MARGIN_MM: Final = 10.0
PAD_MM: Final = 2.5
"""Between a plan and the edge of its frame."""

_LEAST_MM: Final = 15.0
"""A plan that is shorter than this on paper cannot be read."""

_WIDE_MM: Final = 18.0
_DPI: Final = (36.0, 1200.0)


@dataclass(frozen=True, slots=True)
class PaperSize:
    """A size of paper; sides in mm."""

    name: str
    title: str
    short_mm: float
    long_mm: float

    def sides(self, tall: bool) -> tuple[float, float]:
        """Return width and height (mm)."""
        return (self.short_mm, self.long_mm) if tall else (self.long_mm, self.short_mm)

    @property
    def wider_panel_mm(self) -> float:
        """What the column beside the plan has more than on a small paper."""
        return _WIDE_MM if self.long_mm > 400.0 else 0.0


# ISO 216 and ANSI/ASME Y14.1, values from memory: 8.5 in by 11 in, and 11 in by 17 in.
A4: Final = PaperSize("a4", "A4", 210.0, 297.0)
LETTER: Final = PaperSize("letter", "Letter", 215.9, 279.4)
PAPERS: Final = (
    A4,
    PaperSize("a3", "A3", 297.0, 420.0),
    LETTER,
    PaperSize("tabloid", "Tabloid", 279.4, 431.8),
)


def text_paper(paper: PaperSize) -> PaperSize:
    """Return what text is printed on where sheets are on ``paper``: its half where it is large."""
    return LETTER if paper.name in ("letter", "tabloid") else A4


@dataclass(frozen=True, slots=True)
class SheetSetup:
    """How sheets are printed; see :func:`sheet_setup`.

    Attributes
    ----------
    paper : PaperSize
    scale : float or None
        The plan is drawn at 1 : ``scale``; None takes the largest round one that fits.
    dpi : float
        Dots per inch of a PNG.
    """

    paper: PaperSize = A4
    scale: float | None = None
    dpi: float = 200.0


PLAIN: Final = SheetSetup()
"""A4, the largest plan that fits."""


def sheet_setup(paper: str = "a4", scale: float | None = None, dpi: float = 200.0) -> SheetSetup:
    """Return a setup from what a person asked for.

    Raises
    ------
    HgmapError
        If there is no such paper, or the scale or the dots per inch cannot be.

    Examples
    --------
    >>> sheet_setup("A3", 100.0).paper.title
    'A3'
    """
    found = next((one for one in PAPERS if one.name == paper.strip().casefold()), None)
    if found is None:
        known = ", ".join(one.name for one in PAPERS)
        raise HgmapError(f"no paper {paper!r}", where="--paper", todo=f"known: {known}")
    if scale is not None and not (math.isfinite(scale) and scale >= 1.0):
        raise HgmapError(
            f"1 : {scale:g} is no scale for a plan", where="--scale", todo="for 1 : 100 give 100"
        )
    if not _DPI[0] <= dpi <= _DPI[1]:
        low, high = _DPI
        raise HgmapError(
            f"{dpi:g} dots per inch cannot be printed", where="--dpi",
            todo=f"give {low:g} to {high:g}",
        )  # fmt: skip
    return SheetSetup(found, scale, dpi)


def scale_that_fits(
    setup: SheetSetup, what: str, size_m: tuple[float, float], room_mm: tuple[float, float],
    tall: bool,
) -> float:  # fmt: skip
    """Return the number of the scale for a plan: the one asked for, else the largest that fits.

    Parameters
    ----------
    setup : SheetSetup
    what : str
        The plan, for a refusal.
    size_m : tuple of float
        Width and height of the plan (m).
    room_mm : tuple of float
        What the sheet leaves for it.
    tall : bool
        Whether the sheet stands upright.

    Raises
    ------
    HgmapError
        If the plan does not fit at the scale asked for, or cannot be read at it; it says which
        scale or which paper would do.
    """
    fitting = denominator(*size_m, *room_mm)
    if setup.scale is None:
        return fitting
    plan = tuple(1000.0 * side / setup.scale for side in size_m)
    if max(plan) < _LEAST_MM:
        raise HgmapError(
            f"{what} is {max(plan):.2g} mm long at {_ratio(setup.scale)}, too small to read",
            where="--scale", todo=f"use --scale {_plain(fitting)}",
        )  # fmt: skip
    if _holds(room_mm, plan):
        return setup.scale
    papers = [one.name for one in PAPERS if one is not setup.paper
              and _holds(_room_on(one, setup.paper, room_mm, tall), plan)]  # fmt: skip
    other = (
        f", or --paper {' or '.join(papers)}"
        if papers
        else f" (no other paper holds {_ratio(setup.scale)})"
    )
    raise HgmapError(
        f"{what} does not fit {setup.paper.title} at {_ratio(setup.scale)}: it is "
        f"{plan[0]:.0f} by {plan[1]:.0f} mm there, and the sheet has {room_mm[0]:.0f} by "
        f"{room_mm[1]:.0f} mm for it",
        where="--scale", todo=f"use --scale {_plain(fitting)}{other}",
    )  # fmt: skip


def _holds(room_mm: tuple[float, ...], plan_mm: tuple[float, ...]) -> bool:
    return all(room + 1e-6 >= side for room, side in zip(room_mm, plan_mm, strict=True))


def _room_on(
    paper: PaperSize, now: PaperSize, room_mm: tuple[float, float], tall: bool
) -> tuple[float, float]:
    """Return what another paper would leave: head and foot take there no more than here."""
    wide, high = (there - here for there, here in zip(paper.sides(tall), now.sides(tall),
                                                      strict=True))  # fmt: skip
    panel = paper.wider_panel_mm - now.wider_panel_mm
    return room_mm[0] + wide - panel, room_mm[1] + high


def _ratio(scale: float) -> str:
    return f"1 : {grouped(scale) if scale == round(scale) else number(scale)}"


def _plain(scale: float) -> str:
    """Write a scale as it is typed.

    Examples
    --------
    >>> _plain(250.0), _plain(12.5), _plain(3500000.0)
    ('250', '12.5', '3500000')
    """
    return str(round(scale)) if scale == round(scale) else repr(scale)
