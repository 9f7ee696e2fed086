"""A page for diagnostic plots: head, foot, axes in millimetres, a key, texts that keep clear."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hgmap.decide.model import FloorEvidence
from hgmap.report.diagnostic_scales import ticks
from hgmap.report.drawing import PT_PER_MM
from hgmap.report.ground import Ground
from hgmap.report.labels import Paper
from hgmap.report.palette import INK, NOTICE, PAPER, RULE, SOFT
from hgmap.report.title_block import INVENTED, caution
from hgmap.report.typeset import LINE_SPACING, fit, font_file, printable, width_mm, width_pt, wrap
from hgmap.report.wanted import Wanted
from hgmap.report.words import band_line, number, round_line
from hgmap.site.model import Round, Site

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

WIDTH_MM: Final = 297.0
HEIGHT_MM: Final = 210.0
MARGIN_MM: Final = 12.0
TOP_MM: Final = 175.0
"""Below this the plots begin; the head stands above."""

TEXT_PT: Final = 8.5
SMALL_PT: Final = 7.0
DPI: Final = 150.0

SETTINGS: Final[Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT_PT,
    "pdf.fonttype": 42,
    "axes.unicode_minus": True,
    "text.usetex": False,
    "path.effects": [],
    "path.sketch": None,
    "savefig.bbox": None,
}


class Page:
    """One page of A4, across, whose texts stand on an axes in millimetres."""

    def __init__(self, site: Site, round_: Round, evidence: FloorEvidence, title: str) -> None:
        from matplotlib.figure import Figure

        self.figure: Figure = Figure(
            figsize=(WIDTH_MM / 25.4, HEIGHT_MM / 25.4), dpi=72.0, facecolor=PAPER
        )
        self.sheet = self._sheet(0.0)
        self._over: Axes | None = None
        floor = evidence.floor
        self.title = f"{site.name}: {floor.title or floor.name}, {title}"
        kept = self._invented() if site.invented else 0.0
        wide = WIDTH_MM - 2.0 * MARGIN_MM - kept
        where = "  ·  ".join(
            (
                floor.title or floor.name,
                round_line(round_),
                band_line(evidence.band, site.height_bands),
            )
        )
        self.text(MARGIN_MM, 196.0, fit(site.name, 14.0, wide, bold=True), 14.0, bold=True)
        self.text(MARGIN_MM, 189.6, fit(where, 9.0, wide), 9.0)
        self.text(MARGIN_MM, 181.2, title, 11.0, bold=True)
        self.line((MARGIN_MM, WIDTH_MM - MARGIN_MM), (186.6, 186.6), RULE, 0.8)
        self.text(MARGIN_MM, 8.0, caution(site), SMALL_PT, colour=SOFT)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        size_pt: float = TEXT_PT,
        *,
        bold: bool = False,
        colour: str = INK,
        across: str = "left",
        over: bool = False,
    ) -> None:
        """Set a line of text on its baseline; ``over`` sets it above the plots."""
        from matplotlib.font_manager import FontProperties

        look: dict[str, Any] = {
            "fontproperties": FontProperties(fname=str(font_file(bold)), size=size_pt),
            "ha": across, "va": "baseline", "color": colour, "parse_math": False,
        }  # fmt: skip
        (self.over if over else self.sheet).text(x_mm, y_mm, printable(text), **look)

    def paragraph(self, x_mm: float, y_mm: float, wide_mm: float, text: str,
                  size_pt: float = TEXT_PT, *, bold: bool = False) -> float:  # fmt: skip
        """Set text in lines of a width, the first at a baseline; return the next baseline."""
        for line in wrap(text, size_pt, wide_mm, bold=bold):
            self.text(x_mm, y_mm, line, size_pt, bold=bold)
            y_mm -= LINE_SPACING * size_pt / PT_PER_MM
        return y_mm

    def key(self, x_mm: float, y_mm: float, wide_mm: float, text: str, **look: Any) -> float:
        """Set a line of a key: a mark as matplotlib's lines look, and what it means."""
        ends = (x_mm, x_mm + 8.0) if look.get("linestyle", "none") != "none" else (x_mm + 4.0,)
        self.line(ends, (y_mm + 1.0,) * len(ends), **look)
        return self.paragraph(x_mm + 11.0, y_mm, wide_mm - 11.0, text) - 1.2

    def line(self, x_mm: Sequence[float], y_mm: Sequence[float], colour: str = INK,
             width_pt: float = 1.0, **look: Any) -> None:  # fmt: skip
        """Draw a line or marks on the page (mm)."""
        self.sheet.plot(x_mm, y_mm, **{"color": colour, "linewidth": width_pt, **look})

    def axes(self, left: float, bottom: float, wide: float, high: float) -> Axes:
        """Return axes in a box (mm) without a frame at its top and right."""
        box = (left / WIDTH_MM, bottom / HEIGHT_MM, wide / WIDTH_MM, high / HEIGHT_MM)
        axes = self.figure.add_axes(box)
        axes.set_facecolor("none")
        axes.spines[["top", "right"]].set_visible(False)
        axes.spines[["left", "bottom"]].set_color(SOFT)
        axes.tick_params(colors=SOFT, labelcolor=INK, labelsize=TEXT_PT, width=0.8)
        return axes

    def scale(self, axes: Axes, which: str, low: float, high: float, label: str, *,
              log: bool = False) -> None:  # fmt: skip
        """Set limits, ticks written as plain numbers, and the label of an axis ("x" or "y")."""
        from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

        axis = axes.xaxis if which == "x" else axes.yaxis
        axes.set(**{f"{which}scale": "log" if log else "linear"})
        axes.set(**{f"{which}lim": (low, high)})
        axis.set_major_locator(FixedLocator(ticks(low, high, log=log)))
        axis.set_minor_locator(NullLocator())
        axis.set_major_formatter(FuncFormatter(lambda value, _: number(value)))
        axis.set_label_text(label, size=9.0, color=INK, parse_math=False)

    def label(
        self,
        axes: Axes,
        places: Floats,
        texts: Sequence[str],
        *,
        gap_pt: Floats,
        marks: Floats,
        lines: Sequence[BaseGeometry] = (),
        walls: Sequence[BaseGeometry] = (),
        rooms: Sequence[BaseGeometry] = (),
        home: NDArray[np.int64] | None = None,
    ) -> int:
        """Write texts beside places (n, 2), the first ones choosing first; return how many fit.

        ``marks`` are boxes (k, 4) that nothing is written over; ``lines``, ``walls`` and the
        outlines of ``rooms`` are kept clear of where that can be; all in the units of the axes.
        ``home`` is the position of each place's room, ``gap_pt`` the distance to its text.
        """
        at = axes.transData.transform(np.reshape(places, (-1, 2)))
        edge = tuple(float(one) for one in axes.bbox.extents)

        def on_paper(shape: BaseGeometry) -> BaseGeometry:
            return shapely.transform(shape, axes.transData.transform)

        paper = Paper(
            (edge[0], edge[1], edge[2], edge[3]),
            Ground(
                [on_paper(one) for one in rooms],
                [on_paper(one) for one in walls],
                [on_paper(one) for one in lines],
            ),
        )
        corners = axes.transData.transform(np.reshape(marks, (-1, 2))).reshape(-1, 4)
        paper.take(corners)
        middles = (corners[:, :2] + corners[:, 2:]) / 2.0
        written = 0
        homes = [None] * len(at) if home is None else [paper.ground.rooms[one] for one in home]
        for (x, y), text, gap, own in zip(at, texts, gap_pt, homes, strict=True):
            wanted = Wanted(
                x, y, width_pt(text, TEXT_PT) + 2.0, TEXT_PT, gap, own,
                margin=1.0, longest=70.0,
            )  # fmt: skip
            # a leader may start on its own mark
            nearest = corners[int(np.argmin(np.hypot(*(middles - (x, y)).T)))]
            mark = (float(nearest[0]), float(nearest[1]), float(nearest[2]), float(nearest[3]))
            spot = (
                None
                if not text
                else paper.place(wanted, mark) or paper.place(replace(wanted, over=True), mark)
            )
            if spot is None:
                continue
            written += 1
            middle = spot.centre
            if spot.leader is not None:
                start, end = np.array(spot.leader)
                start = start + (end - start) * min(1.0, gap / float(np.hypot(*(end - start))))
                ends = np.array([start, end]) / PT_PER_MM
                self.over.plot(ends[:, 0], ends[:, 1], color=SOFT, linewidth=0.6)
            self.text(middle[0] / PT_PER_MM, (middle[1] - 0.36 * TEXT_PT) / PT_PER_MM, text,
                      across="center", over=True)  # fmt: skip
        return written

    @property
    def over(self) -> Axes:
        """The axes in millimetres that lie above the plots; made when first asked for."""
        if self._over is None:
            self._over = self._sheet(10.0)
        return self._over

    def _sheet(self, order: float) -> Axes:
        axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0), label=f"sheet {order:g}", zorder=order)
        axes.set_axis_off()
        axes.set(xlim=(0.0, WIDTH_MM), ylim=(0.0, HEIGHT_MM))
        axes.set_autoscale_on(False)
        return axes

    def _invented(self) -> float:
        """Draw the banner of invented data; return its width with a gap (mm)."""
        wide = width_mm(INVENTED, 11.0, bold=True) + 8.0
        right = WIDTH_MM - MARGIN_MM
        self.sheet.fill([right - wide, right, right, right - wide], [191.0, 191.0, 199.5, 199.5],
                        facecolor=NOTICE, edgecolor=INK, linewidth=1.4)  # fmt: skip
        self.text(right - wide / 2.0, 193.8, INVENTED, 11.0, bold=True, across="center")
        return wide + 4.0


def boxes(axes: Axes, points: Floats, radius_pt: Floats | float) -> Floats:
    """Return the boxes (n, 4) of marks, in the units of the axes."""
    at = axes.transData.transform(np.reshape(points, (-1, 2)))
    reach = np.broadcast_to(np.reshape(radius_pt, (-1, 1)), at.shape)
    back = axes.transData.inverted().transform
    return np.hstack([back(at - reach), back(at + reach)])


def named_words(named: int, wanted: int, which: str) -> str:
    """Say how many marks have their name beside them.

    Examples
    --------
    >>> named_words(10, 10, "largest"), named_words(8, 10, "largest")
    ('The 10 largest are named.', 'Of the 10 largest, 8 are named.')
    """
    if named == wanted:
        return f"The {wanted} {which} are named."
    return f"Of the {wanted} {which}, {named} are named."


def pdf_of(pages: Sequence[Page], author: str) -> bytes:
    """Return a PDF of all pages; no date is written."""
    from matplotlib.backends.backend_pdf import FigureCanvasPdf, PdfPages

    stream = io.BytesIO()
    about = {"Title": pages[0].title, "Author": author or None, "Creator": "hgmap",
             "CreationDate": None}  # fmt: skip
    with PdfPages(stream, metadata=about) as file:
        for page in pages:
            FigureCanvasPdf(page.figure)
            file.savefig(page.figure, dpi=72)
    return stream.getvalue()


def png_of(page: Page) -> bytes:
    """Return a PNG of a page."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    stream = io.BytesIO()
    page.figure.set_dpi(DPI)
    canvas: Any = FigureCanvasAgg(page.figure)
    canvas.print_png(stream, metadata={"Title": page.title, "Software": "hgmap"})
    return stream.getvalue()
