"""Pages that are filled from the top with text, tables and figures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.document.content import Bullets, Facts, Figure, Heading, Paragraph, Signatures
from hgmap.report.document.style import HouseStyle
from hgmap.report.drawing import Area, Frame, Item, Label, Path, Pen
from hgmap.report.palette import INK, NOTICE, SOFT
from hgmap.report.sheet_setup import A4, PaperSize
from hgmap.report.typeset import fit, wrap

MARGIN_MM: Final = 18.0
SIGN_MM: Final = 17.0
"""Height of a line to sign on, with the room to sign in."""
LOW_MM: Final = 22.0
TEXT_PT: Final = 9.0
SMALL_PT: Final = 7.0
_HEAD_PT: Final = {1: 14.0, 2: 10.5}
_NAMES_MM: Final = 44.0
_MOST_NAME_LINES: Final = 3
_BULLET_MM: Final = 4.0
_PAD_MM: Final = 2.5
_WITH_HEADING_MM: Final = {1: 34.0, 2: 20.0}
"""What has to fit under a heading, so that none stands alone at the foot of a page."""


def inner_mm(paper: PaperSize) -> float:
    """Return the width of the text on a paper that stands upright (mm)."""
    return paper.short_mm - 2.0 * MARGIN_MM


@dataclass
class Page:
    """One page while it is filled; its section is the last that it begins or goes on with."""

    items: list[Item] = field(default_factory=list)
    frames: list[Frame] = field(default_factory=list)
    section: str = ""
    begins: list[str] = field(default_factory=list)


@dataclass
class Flow:
    """Pages in the making; ``top`` is where the next thing goes (mm from the foot)."""

    running: str
    style: HouseStyle
    pages: list[Page] = field(default_factory=list)
    top: float = 0.0
    fresh: bool = True
    paper: PaperSize = A4

    @property
    def inner_mm(self) -> float:
        """Width of the text (mm)."""
        return inner_mm(self.paper)

    @property
    def page(self) -> Page:
        """The page that is filled."""
        return self.pages[-1]

    @property
    def left_over(self) -> float:
        """Height that is still free (mm)."""
        return self.top - LOW_MM

    def turn(self) -> None:
        """Begin a page under its running head."""
        section = self.page.section if self.pages else ""
        self.pages.append(Page(section=section))
        self.top = self.paper.long_mm - 12.0
        self._label(MARGIN_MM, fit(self.running, SMALL_PT, self.inner_mm), SMALL_PT, colour=SOFT)
        self.top -= line_mm(SMALL_PT) + 1.0
        self.rule()
        self.top -= 5.0
        self.fresh = True

    def need(self, height_mm: float) -> bool:
        """Begin a page where a height no longer fits; say whether one was begun."""
        if height_mm <= self.left_over or self.fresh:
            return False
        self.turn()
        return True

    def rule(self, colour: str = "", width_pt: float = 0.6) -> None:
        """Draw a line across the text."""
        ends = [(MARGIN_MM, self.top), (MARGIN_MM + self.inner_mm, self.top)]
        pen = Pen(colour or self.style.rule, width_pt)
        self.page.items.append(Path(shapely.LineString(ends), pen))

    def lines(
        self, texts: Sequence[str], size_pt: float, *, bold: bool = False, colour: str = INK,
        indent_mm: float = 0.0,
    ) -> None:  # fmt: skip
        """Set lines that were broken already, over as many pages as they take."""
        for text in texts:
            self.need(line_mm(size_pt))
            self._label(MARGIN_MM + indent_mm, text, size_pt, bold=bold, colour=colour)
            self.down(line_mm(size_pt))

    def down(self, height_mm: float) -> None:
        """Leave the place that was filled."""
        self.top -= height_mm
        self.fresh = False

    def _label(
        self, x: float, text: str, size_pt: float, *, bold: bool = False, colour: str = INK
    ) -> None:
        self.page.items.append(Label(x, self.top, text, size_pt, colour, bold, up="top"))

    def heading(self, part: Heading) -> None:
        """Set a heading with room for what follows it."""
        size = _HEAD_PT[part.depth]
        lines = wrap(part.text, size, self.inner_mm, bold=True, most_lines=2)
        high = len(lines) * line_mm(size)
        if not self.fresh:
            self.top -= 6.0 if part.depth == 1 else 3.0
        self.need(high + max(_WITH_HEADING_MM[part.depth], part.room_mm))
        if part.depth == 1:
            self.page.section = part.text
            self.page.begins.append(part.text)
        self.lines(lines, size, bold=True, colour=self.style.heading)
        self.down(0.8)
        if part.depth == 1:
            self.rule(self.style.heading, 1.0)
            self.down(3.0)

    def paragraph(self, part: Paragraph) -> None:
        """Set a paragraph; a caution in a frame that is not broken."""
        if part.look == "caution":
            self.framed(part.text)
            return
        size = 8.0 if part.look == "soft" else TEXT_PT
        bold = part.look == "strong"
        lines = wrap(part.text, size, self.inner_mm, bold=bold)
        self.need(min(3, len(lines)) * line_mm(size))
        self.lines(lines, size, bold=bold, colour=SOFT if part.look == "soft" else INK)
        self.down(1.8)

    def framed(self, text: str) -> None:
        """Set a text in a frame."""
        lines = wrap(text, TEXT_PT, self.inner_mm - 2.0 * _PAD_MM, most_lines=60)
        high = len(lines) * line_mm(TEXT_PT) + 2.0 * _PAD_MM - 0.6
        self.need(high)
        box = shapely.box(MARGIN_MM, self.top - high, MARGIN_MM + self.inner_mm, self.top)
        self.page.items.append(Area(box, fill=NOTICE, pen=Pen(INK, 0.9)))
        self.top -= _PAD_MM
        for line in lines:
            self._label(MARGIN_MM + _PAD_MM, line, TEXT_PT)
            self.top -= line_mm(TEXT_PT)
        self.down(_PAD_MM - 0.6 + 1.8)

    def bullets(self, part: Bullets) -> None:
        """Set a list; what is flagged stands bold."""
        for place, text in enumerate(part.texts):
            bold = place in part.flagged
            lines = wrap(text, TEXT_PT, self.inner_mm - _BULLET_MM, bold=bold)
            if not lines:
                continue
            self.need(min(3, len(lines)) * line_mm(TEXT_PT))
            self._label(MARGIN_MM + 1.0, "·", TEXT_PT, bold=True)
            self.lines(lines, TEXT_PT, bold=bold, indent_mm=_BULLET_MM)
            self.down(0.8)
        self.down(1.2)

    def facts(self, part: Facts, most_lines: int = 60) -> None:
        """Set names on the left and what belongs to them beside."""
        size = 8.0
        for name, text in part.rows:
            left = wrap(name, size, _NAMES_MM - 3.0, most_lines=_MOST_NAME_LINES)
            right = wrap(text, size, self.inner_mm - _NAMES_MM, most_lines=most_lines)
            self.need(max(len(left), len(right)) * line_mm(size))
            start = self.top
            for x, colour, lines in ((0.0, SOFT, left), (_NAMES_MM, INK, right)):
                self.top = start
                for line in lines:
                    self._label(MARGIN_MM + x, line, size, colour=colour)
                    self.top -= line_mm(size)
            self.top = start
            self.down(max(len(left), len(right)) * line_mm(size) + 0.5)
        self.down(1.8)

    def figure(self, part: Figure) -> None:
        """Put a drawing into the text, smaller where a page would not hold it."""
        most = self.paper.long_mm - 12.0 - LOW_MM - 20.0
        scale = min(1.0, self.inner_mm / part.width_mm, most / part.height_mm)
        wide, high = part.width_mm * scale, part.height_mm * scale
        self.need(high)
        self.page.frames.append(
            Frame(part.drawing, MARGIN_MM, self.top - high, wide, high, 0.0, 0.0, scale)
        )
        self.down(high + 3.0)

    def signatures(self, part: Signatures) -> None:
        """Draw lines to sign on: name, signature, date."""
        self.need(len(part.rows) * SIGN_MM)
        widths = (0.42, 0.34, 0.24)
        for what, name in part.rows:
            self.down(SIGN_MM - 6.0)
            left = MARGIN_MM
            texts = (f"{what}: {name}" if name else f"{what} (name)", "signature", "date")
            for share, text in zip(widths, texts, strict=True):
                wide = share * self.inner_mm - 5.0
                line = shapely.LineString([(left, self.top), (left + wide, self.top)])
                self.page.items.append(Path(line, Pen(INK, 0.7)))
                cut = fit(text, SMALL_PT, wide)
                self.page.items.append(
                    Label(left, self.top - 1.2, cut, SMALL_PT, SOFT, up="top")
                )  # fmt: skip
                left += share * self.inner_mm
            self.down(6.0)
