"""Texts set down a column of the page, from the top, each in the room that is left."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import shapely

from hgmap.report.drawing import PT_PER_MM, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import INK, RULE, SOFT
from hgmap.report.typeset import LINE_SPACING, fit, wrap

HEADING_PT: Final = 8.0
TEXT_PT: Final = 7.0
SMALL_PT: Final = 6.0


def line_mm(size_pt: float) -> float:
    """Return the distance between baselines (mm)."""
    return size_pt * LINE_SPACING / PT_PER_MM


def heading_mm() -> float:
    """Return how much a heading takes (mm)."""
    return 2.2 + line_mm(HEADING_PT)


@dataclass
class Column:
    """A place on the page that is filled from ``top_mm`` down to ``bottom_mm``."""

    left_mm: float
    top_mm: float
    width_mm: float
    bottom_mm: float
    items: list[Item] = field(default_factory=list)

    @property
    def left_over_mm(self) -> float:
        """Height that is still free."""
        return self.top_mm - self.bottom_mm

    def skip(self, height_mm: float) -> None:
        """Leave a gap."""
        self.top_mm -= height_mm

    def draw(self, *items: Item) -> None:
        """Put items on the page; the place in the column does not move."""
        self.items.extend(items)

    def heading(self, text: str) -> None:
        """Set a heading under a thin rule."""
        right = self.left_mm + self.width_mm
        rule = shapely.LineString([(self.left_mm, self.top_mm), (right, self.top_mm)])
        self.draw(Path(rule, Pen(RULE, 0.6)))
        self.skip(1.6)
        self.line(text, HEADING_PT, bold=True)
        self.skip(0.6)

    def line(
        self,
        text: str,
        size_pt: float = TEXT_PT,
        *,
        bold: bool = False,
        colour: str = INK,
        indent_mm: float = 0.0,
        right_mm: float = 0.0,
    ) -> None:
        """Set one line, cut where it is too wide; ``right_mm`` is kept free at its end."""
        cut = fit(text, size_pt, self.width_mm - indent_mm - right_mm, bold)
        self.draw(
            Label(self.left_mm + indent_mm, self.top_mm, cut, size_pt, colour, bold, up="top")
        )
        self.skip(line_mm(size_pt))

    def text(
        self,
        text: str,
        size_pt: float = TEXT_PT,
        *,
        bold: bool = False,
        colour: str = INK,
        indent_mm: float = 0.0,
        most_lines: int | None = None,
    ) -> int:
        """Set a text over as many lines as fit; return how many that were."""
        room = int((self.left_over_mm + 0.3 * line_mm(size_pt)) / line_mm(size_pt))
        most = room if most_lines is None else min(room, most_lines)
        lines = wrap(text, size_pt, self.width_mm - indent_mm, bold=bold, most_lines=most)
        for one in lines:
            self.line(one, size_pt, bold=bold, colour=colour, indent_mm=indent_mm)
        return len(lines)

    def entries(
        self, texts: tuple[str, ...], more: str, size_pt: float = SMALL_PT, most_lines: int = 4
    ) -> int:
        """Set a list with a dot before each text; what does not fit is counted in ``more``.

        ``more`` may hold ``{n}``; a text longer than ``most_lines`` ends in an ellipsis. Returns
        how many were set.
        """
        step = line_mm(size_pt)
        for done, text in enumerate(texts):
            lines = min(most_lines, len(wrap(text, size_pt, self.width_mm - 2.6)))
            last = done == len(texts) - 1
            if (lines + (not last)) * step > self.left_over_mm:
                spare = int(self.left_over_mm / step) - 1
                if spare >= 1 and done == 0:
                    self._entry(text, size_pt, spare)
                    done = 1
                if done < len(texts):
                    self.line(more.format(n=len(texts) - done), size_pt, colour=SOFT)
                return done
            self._entry(text, size_pt, lines)
        return len(texts)

    def _entry(self, text: str, size_pt: float, most_lines: int) -> None:
        middle = self.top_mm
        self.draw(Label(self.left_mm + 0.4, middle, "·", size_pt, INK, bold=True, up="top"))
        self.text(text, size_pt, indent_mm=2.6, most_lines=most_lines)

    def done(self) -> Drawing:
        """Return what was set."""
        return tuple(self.items)
