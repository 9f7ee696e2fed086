"""The quality pages: the record in words, then a timeline for each analyser and day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Final

import shapely

from hgmap.report.column import line_mm
from hgmap.report.drawing import Area, Item, Label, Path, Pen, Sheet
from hgmap.report.palette import INK, NOTICE, RULE, SOFT
from hgmap.report.paper import pdf_bytes, png_bytes
from hgmap.report.timeline import KEY, draw_day, height_mm
from hgmap.report.timeline_days import HeldSpan, days_of
from hgmap.report.title_block import INVENTED
from hgmap.report.typeset import fit, width_mm, wrap
from hgmap.report.words import count
from hgmap.site.cautions import screening
from hgmap.site.files import write_bytes
from hgmap.site.instruments.model import InstrumentLog
from hgmap.site.model import Medium
from hgmap.site.quality.quality import QualityReport
from hgmap.site.quality.sections import Section, sections, what_to_do
from hgmap.site.reading import Reading

WIDTH_MM: Final = 210.0
HEIGHT_MM: Final = 297.0
MARGIN_MM: Final = 14.0
INNER_MM: Final = WIDTH_MM - 2.0 * MARGIN_MM
_LOW_MM: Final = 18.0
_TEXT_PT: Final = 8.0
_SMALL_PT: Final = 6.5
_INDENT_MM: Final = 5.0
_MOST_LINES: Final = 60
"""Lines of one section on paper; the rest of a longer one is counted."""


def write_quality_pages(
    path_pdf: FilePath,
    path_png: FilePath,
    report: QualityReport,
    readings: Sequence[Reading],
    log: InstrumentLog | None,
    spans: Sequence[HeldSpan] = (),
    *,
    title: str = "",
    invented: bool = False,
    medium: Medium = "air",
    author: str = "",
    dpi: float = 150.0,
) -> list[FilePath]:
    """Write the quality pages: a PDF of all, and a PNG of each.

    Parameters
    ----------
    path_pdf, path_png : Path
        The first PNG has this name, the others ``-2``, ``-3`` before the ending.
    report : QualityReport
    readings : sequence of Reading
        Those that the timelines show; of other rounds than the report's none is shown.
    log : InstrumentLog or None
    spans : sequence of (instrument, start, end, why)
        When readings of an analyser are held.
    title : str
        The site; its name as the report has it where left out.
    invented : bool
        Whether the data are made up, which is printed.
    medium : str
        Of the site.
    author : str
        Who prepared it, for the file's own record.
    dpi : float
        Of the PNG.

    Returns
    -------
    list of Path
        Every file, the PDF first; each is replaced whole.

    Raises
    ------
    HgmapError
        If a folder cannot be written.
    """
    sheets = quality_sheets(
        report, readings, log, spans, title=title, invented=invented, medium=medium, author=author
    )
    write_bytes(path_pdf, pdf_bytes(sheets))
    files = [path_pdf]
    for number, sheet in enumerate(sheets, start=1):
        name = path_png if number == 1 else path_png.with_stem(f"{path_png.stem}-{number}")
        write_bytes(name, png_bytes(sheet, dpi))
        files.append(name)
    return files


def quality_sheets(
    report: QualityReport,
    readings: Sequence[Reading],
    log: InstrumentLog | None,
    spans: Sequence[HeldSpan] = (),
    *,
    title: str = "",
    invented: bool = False,
    medium: Medium = "air",
    author: str = "",
) -> list[Sheet]:
    """Lay out the quality pages on upright A4; see :func:`write_quality_pages`."""
    name = title or report.measures.site
    pages = _Pages(name, ", ".join(report.measures.rounds) or "no round", invented)
    _verdict(pages, report)
    for section in (*what_to_do(report), *sections(report)):
        _section(pages, section)
    shown = [one for one in readings if report.round in ("", one.round)]
    days, without = days_of(shown, log, spans)
    if days:
        key = wrap(KEY, _TEXT_PT, INNER_MM)
        above = line_mm(9.0) + (len(key) + 2) * line_mm(_TEXT_PT) + 3.0
        if pages.top - above - height_mm(days[0], INNER_MM) < _LOW_MM:
            pages.turn("Timeline of each analyser and day")
        else:  # the first day fits below the words
            pages.heading("Timeline of each analyser and day")
        for text in key:
            pages.line(text, _TEXT_PT, colour=SOFT)
        if without:
            text = f"{count(without, 'reading')} without a time not drawn."
            pages.line(text, _TEXT_PT, bold=True)
        pages.top -= 3.0
    elif shown:
        pages.heading("Timeline")
        pages.line("no reading has a time, and there is no instrument log", _TEXT_PT)
    for day in days:
        high = height_mm(day, INNER_MM)
        if high > pages.top - _LOW_MM and not pages.fresh:
            pages.turn("Timeline of each analyser and day, continued")
        pages.items.extend(draw_day(day, MARGIN_MM, pages.top, INNER_MM))
        pages.top -= high
        pages.fresh = False
    return pages.done(screening(medium), author)


@dataclass
class _Pages:
    """Pages that are filled from the top; ``fresh`` while only the head stands on one."""

    name: str
    where: str
    invented: bool
    top: float = 0.0
    fresh: bool = True
    items: list[Item] = field(default_factory=list)
    full: list[list[Item]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._head("Can the readings be trusted?")

    def _head(self, what: str) -> None:
        self.top = HEIGHT_MM - MARGIN_MM
        kept = self._banner() if self.invented else 0.0
        for text, size, bold in ((self.name, 14.0, True), (self.where, 9.0, False),
                                 (what, 11.0, True)):  # fmt: skip
            cut = fit(text, size, INNER_MM - kept, bold)
            self.items.append(Label(MARGIN_MM, self.top, cut, size, INK, bold, up="top"))
            self.top -= line_mm(size) + 0.6
        self.top -= 0.4
        self.rule()
        self.top -= 3.0
        self.fresh = True

    def _banner(self) -> float:
        wide = width_mm(INVENTED, 11.0, bold=True) + 8.0
        right = WIDTH_MM - MARGIN_MM
        box = shapely.box(right - wide, self.top - 8.5, right, self.top)
        self.items.append(Area(box, fill=NOTICE, pen=Pen(INK, 1.4)))
        self.items.append(Label(right - wide / 2.0, self.top - 4.25, INVENTED, 11.0, INK, True,
                                across="centre", up="middle"))  # fmt: skip
        return wide + 4.0

    def rule(self) -> None:
        line = shapely.LineString([(MARGIN_MM, self.top), (WIDTH_MM - MARGIN_MM, self.top)])
        self.items.append(Path(line, Pen(RULE, 0.6)))

    def turn(self, what: str) -> None:
        """Begin a page."""
        self.full.append(self.items)
        self.items = []
        self._head(what)

    def room(self, height: float) -> None:
        """Begin a page where a height (mm) no longer fits."""
        if self.top - height < _LOW_MM and not self.fresh:
            self.turn("Can the readings be trusted? Continued")

    def heading(self, text: str) -> None:
        self.room(line_mm(9.0) + 2.5 * line_mm(_TEXT_PT))
        self.top -= 1.5
        self.line(text, 9.0, bold=True)

    def line(self, text: str, size: float, *, bold: bool = False, indent: float = 0.0,
             colour: str = INK) -> None:  # fmt: skip
        self.room(line_mm(size))
        self.items.append(Label(MARGIN_MM + indent, self.top, text, size, colour, bold, up="top"))
        self.top -= line_mm(size)
        self.fresh = False

    def done(self, caution: str, author: str) -> list[Sheet]:
        pages = [*self.full, self.items]
        sheets = []
        for number, items in enumerate(pages, start=1):
            foot = list(_foot(caution, f"page {number} of {len(pages)}"))
            title = f"{self.name}: {self.where}, quality of the readings"
            sheets.append(Sheet(WIDTH_MM, HEIGHT_MM, (), (*items, *foot), title, author))
        return sheets


def _verdict(pages: _Pages, report: QualityReport) -> None:
    """Set the sentence in a frame; the frame is heavy where the readings are not fit."""
    lines = wrap(report.fitness.sentence, 10.0, INNER_MM - 8.0, bold=True)
    high = len(lines) * line_mm(10.0) + 4.0
    heavy = report.fitness.verdict == "not fit"
    right = WIDTH_MM - MARGIN_MM
    box = shapely.box(MARGIN_MM, pages.top - high, right, pages.top)
    plain = report.fitness.verdict == "fit to map"
    pages.items.append(
        Area(box, fill=None if plain else NOTICE, pen=Pen(INK, 2.4 if heavy else 0.9))
    )
    pages.top -= 2.4
    for text in lines:
        pages.line(text, 10.0, bold=True, indent=4.0)
    pages.top -= 3.4
    pages.line("! stands before what somebody has to act on.", _SMALL_PT, colour=SOFT)


def _section(pages: _Pages, section: Section) -> None:
    pages.heading(section.title)
    for line in section.lines[:_MOST_LINES]:
        texts = wrap(line.text, _TEXT_PT, INNER_MM - _INDENT_MM)
        for k, text in enumerate(texts):
            if k == 0:
                pages.room(min(len(texts), 6) * line_mm(_TEXT_PT))  # a short one stays together
                mark = Label(MARGIN_MM + 1.5, pages.top, "!" if line.flagged else "·", _TEXT_PT,
                             INK, True, up="top")  # fmt: skip
                pages.items.append(mark)
            pages.line(text, _TEXT_PT, indent=_INDENT_MM)
    more = len(section.lines) - _MOST_LINES
    if more > 0:
        pages.line(f"and {more} more", _TEXT_PT, indent=_INDENT_MM, colour=SOFT)


def _foot(caution: str, page: str) -> Iterator[Item]:
    lines = wrap(caution, _SMALL_PT, INNER_MM - 24.0)
    y = MARGIN_MM - 4.0 + line_mm(_SMALL_PT) * (len(lines) - 1)
    for text in lines:
        yield Label(MARGIN_MM, y, text, _SMALL_PT, SOFT)
        y -= line_mm(_SMALL_PT)
    right = WIDTH_MM - MARGIN_MM
    yield Label(right, MARGIN_MM - 4.0, page, _SMALL_PT, SOFT, across="right")
