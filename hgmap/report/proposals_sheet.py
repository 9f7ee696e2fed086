"""One sheet: a picture, and the walls and door gaps proposed from it, each with its number."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely import LineString

from hgmap.report.drawing import (
    PT_PER_MM,
    Dot,
    Drawing,
    Frame,
    Item,
    Label,
    Path,
    Pen,
    Picture,
    Sheet,
)
from hgmap.report.labels import Paper
from hgmap.report.palette import INK, PAPER, SOFT
from hgmap.report.typeset import width_pt
from hgmap.report.wanted import Wanted
from hgmap.site.wall_finding.proposed import DoorGap, WallProposal, WallProposals

LONG_MM: Final = 400.0
"""Longer side of the picture on the sheet."""

MARGIN_MM: Final = 10.0
HEAD_MM: Final = 16.0
FOOT_MM: Final = 14.0
NARROWEST_MM: Final = 260.0
"""A sheet is as wide as its words at least."""

MOST_PX: Final = 2500
"""A picture with more pixels along a side is shown with so many."""

PALE: Final = 0.55
"""How far the picture is faded to white, so that what is proposed stands out."""

NUMBER_PT: Final = 6.0

# Hues after Okabe and Ito (2008), darkened; value from memory. Widths and dashes tell them apart.
THICK: Final = Pen("#c74a00", 2.2)
THIN: Final = Pen("#00508a", 1.2)
DOOR: Final = Pen("#00694c", 1.8, (3.0, 2.0))
_RIM: Final = 1.4


def proposals_sheet(
    proposals: WallProposals, grey: NDArray[np.uint8], *, title: str, in_plan: str
) -> Sheet:
    """Lay out what is proposed over its picture.

    Parameters
    ----------
    proposals : WallProposals
    grey : array of uint8, shape (rows, columns)
        The picture.
    title : str
        What the sheet is of.
    in_plan : str
        What of it is in the plan.
    """
    wide, high = proposals.size_px
    mm_per_px = LONG_MM / max(wide, high)
    page_wide = max(wide * mm_per_px, NARROWEST_MM) + 2 * MARGIN_MM
    page_high = high * mm_per_px + HEAD_MM + FOOT_MM + 2 * MARGIN_MM
    frame = Frame(
        (), (page_wide - wide * mm_per_px) / 2, MARGIN_MM + FOOT_MM, wide * mm_per_px,
        high * mm_per_px, 0.0, 0.0, mm_per_px,
    )  # fmt: skip
    drawing: Drawing = (
        Picture(_faded(grey), (0.0, 0.0, float(wide), float(high))),
        *_lines(proposals),
        *_numbers(proposals, frame),
    )
    page = (*_head(title, in_plan, page_high), *_foot(proposals))
    return Sheet(page_wide, page_high, (replace(frame, drawing=drawing),), page, title)


def _faded(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    by = -(-max(grey.shape) // MOST_PX)
    rows, columns = (-(-side // by) * by for side in grey.shape)
    padded = np.full((rows, columns), 255, dtype=np.uint8)
    padded[: grey.shape[0], : grey.shape[1]] = grey
    # the darkest of a block: thin lines stay
    small = padded.reshape(rows // by, by, columns // by, by).min(axis=(1, 3))
    pale = np.round(255 - (255 - small.astype(float)) * (1 - PALE)).astype(np.uint8)
    return np.dstack([pale, pale, pale, np.full_like(pale, 255)])


def _on_picture(proposals: WallProposals, one: WallProposal | DoorGap) -> LineString:
    """Return a line in pixels of the picture, y upwards."""
    pixels = proposals.picture.to_pixels([one.start, one.end])
    return LineString(pixels * (1.0, -1.0) + (0.0, float(proposals.size_px[1])))


def _lines(proposals: WallProposals) -> Iterator[Item]:
    drawn = [
        (_on_picture(proposals, one), THIN if one.kind == "line" else THICK)
        for one in proposals.walls
    ]
    drawn += [(_on_picture(proposals, one), DOOR) for one in proposals.doors]
    yield from (Path(line, Pen(PAPER, pen.width_pt + _RIM)) for line, pen in drawn)
    yield from (Path(line, pen) for line, pen in drawn)
    for line, pen in drawn[: len(proposals.walls)]:
        for x, y in line.coords:
            yield Dot(x, y, pen.width_pt + 1.6, "circle", PAPER, Pen(pen.colour, 0.7))


def _numbers(proposals: WallProposals, frame: Frame) -> Iterator[Item]:
    scale = frame.mm_per_m * PT_PER_MM
    paper = Paper((1.0, 1.0, frame.width_mm * PT_PER_MM - 1.0, frame.height_mm * PT_PER_MM - 1.0))
    chosen = [(str(one.number), THIN if one.kind == "line" else THICK, one)
              for one in proposals.walls]  # fmt: skip
    asked: list[tuple[str, Pen, WallProposal | DoorGap]] = [*chosen]
    asked += [(f"d{one.number}", DOOR, one) for one in proposals.doors]
    for text, pen, one in asked:
        line = _on_picture(proposals, one)
        middle = line.interpolate(0.5, normalized=True)
        wide = width_pt(text, NUMBER_PT, bold=True)
        wanted = Wanted(
            middle.x * scale, middle.y * scale, wide + 1.0, NUMBER_PT * 0.9, 3.0, longest=24.0
        )
        spot = paper.place(wanted)
        offset = (0.0, 0.0)
        if spot is not None:
            offset = (spot.centre[0] - wanted.x, spot.centre[1] - wanted.y)
        yield Label(
            middle.x, middle.y, text, NUMBER_PT, pen.colour, True, "centre", "middle", PAPER, offset
        )


def _head(title: str, in_plan: str, page_high: float) -> Iterator[Item]:
    top = page_high - MARGIN_MM
    yield Label(MARGIN_MM, top - 5.0, title, 13.0, INK, True)
    yield Label(MARGIN_MM, top - 11.0, in_plan, 9.0, SOFT)


def _foot(proposals: WallProposals) -> Iterator[Item]:
    at, up = MARGIN_MM, MARGIN_MM + 4.0
    thin = sum(one.kind == "line" for one in proposals.walls)
    entries = (
        (THICK, f"{len(proposals.walls) - thin} thick walls, by their middle"),
        (THIN, f"{thin} single lines"),
        (DOOR, f"{len(proposals.doors)} gaps as wide as a door"),
    )
    for pen, text in entries:
        yield Path(LineString([(at, up), (at + 12.0, up)]), pen)
        yield Label(at + 14.0, up, text, 8.0, INK, up="middle")
        at += 20.0 + width_pt(text, 8.0) / PT_PER_MM
