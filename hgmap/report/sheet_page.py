"""What every sheet with a panel beside its plan has: size, head, foot, and where the plan is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from hgmap.decide.model import FloorEvidence
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.cells import set_row
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Drawing, Frame, Label, Sheet
from hgmap.report.extent import extent, view_start
from hgmap.report.notes import columns_of
from hgmap.report.palette import SOFT
from hgmap.report.settings_digest import settings_digest
from hgmap.report.sheet_setup import MARGIN_MM, PAD_MM, PLAIN, SheetSetup, scale_that_fits
from hgmap.site.building import Floor
from hgmap.site.model import Round, Site

STRIP_MM: Final = 15.0
"""Between the foot and the plan: scale bar and arrow."""

NUMBER_MM: Final = 24.0
"""Kept free at the foot's right for the sheet's number."""

_GUTTER_MM: Final = 6.0
_ARROW_MM: Final = 88.0
_ARROW_HALF_MM: Final = 7.5
_CAUTION_MM: Final = 5.5
_CELL_LINES: Final = 4

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class SheetPage:
    """A page with its head and foot set; lengths in mm from the lower left corner.

    ``top_mm`` is the lower edge of the head, ``strip_mm`` the upper edge of the foot, ``bottom_mm``
    its lower edge.
    """

    site: Site
    floor: Floor
    setup: SheetSetup
    width_mm: float
    height_mm: float
    panel_mm: float
    plan_mm: float
    top_mm: float
    strip_mm: float
    bottom_mm: float
    head: Column
    foot: Column
    caution: tuple[Label, ...]

    @property
    def low_mm(self) -> float:
        """Lower edge of what is free for the plan and for notes under it."""
        return self.strip_mm + STRIP_MM

    @property
    def high_mm(self) -> float:
        """Upper edge of it."""
        return self.top_mm - 2.0

    @property
    def _arrow_mm(self) -> float:
        """Where the arrow stands: notes of a second column go on into the strip beside it."""
        if columns_of(self.plan_mm) == 1:
            return _ARROW_MM
        return min(_ARROW_MM, 0.5 * self.plan_mm - _ARROW_HALF_MM)

    def panel(self) -> Column:
        """Return the column beside the plan, still empty."""
        return Column(
            self.width_mm - MARGIN_MM - self.panel_mm, self.top_mm - 2.0, self.panel_mm,
            self.bottom_mm + 1.0,
        )  # fmt: skip

    def scale(self, band_mm: float = 0.0, bounds: Bounds | None = None) -> float:
        """Return n of the scale 1 : n at which a part of the floor (m) is drawn; all of it if None.

        Raises
        ------
        HgmapError
            If the scale that was asked for does not fit.
        """
        west, south, east, north = bounds or extent(self.floor)
        room = (
            self.plan_mm - 2.0 * PAD_MM, self.high_mm - self.low_mm - band_mm - 2.0 * PAD_MM,
        )  # fmt: skip
        return scale_that_fits(
            self.setup, f"the plan of {self.floor.title or self.floor.name}",
            (east - west, north - south), room, self.height_mm > self.width_mm,
        )  # fmt: skip

    def most_band(self, share: float) -> float:
        """Return how high (mm) notes under the plan may be: a share, and what a fixed scale leaves.

        Raises
        ------
        HgmapError
            If the scale that was asked for does not fit, notes or none.
        """
        most = share * (self.high_mm - self.low_mm)
        if self.setup.scale is None:
            return most
        _, south, _, north = extent(self.floor)
        tall = (north - south) * 1000.0 / self.scale()
        return min(most, self.high_mm - self.low_mm - tall - 2.0 * PAD_MM)

    def frame(self, band_mm: float = 0.0, bounds: Bounds | None = None) -> tuple[Frame, float]:
        """Return the frame of the plan above ``band_mm`` of notes, and its mm for a metre.

        ``bounds`` (m) is the part of the floor in its middle; all of it where None.
        """
        west, south, east, north = bounds or extent(self.floor)
        mm_per_m = 1000.0 / self.scale(band_mm, bounds)
        low = self.low_mm + band_mm
        whole, pad = extent(self.floor), PAD_MM / mm_per_m
        frame = Frame(
            (), MARGIN_MM, low, self.plan_mm, self.high_mm - low,
            view_start((west, east), self.plan_mm / mm_per_m, (whole[0] - pad, whole[2] + pad)),
            view_start((south, north), (self.high_mm - low) / mm_per_m,
                       (whole[1] - pad, whole[3] + pad)),
            mm_per_m,
        )  # fmt: skip
        return frame, mm_per_m

    def done(self, frames: Sequence[Frame], texts: Drawing, title: str) -> Sheet:
        """Return the sheet: its first frame holds the plan, ``texts`` what stands beside it.

        Items of ``texts`` lie on top of head and foot.
        """
        plan = frames[0]
        page = (
            *self.head.done(),
            title_block.thin_rule(MARGIN_MM, self.width_mm - MARGIN_MM, self.top_mm),
            *self.foot.done(),
            *title_block.scale_bar(
                MARGIN_MM + 2.0, self.strip_mm + 6.0, title_block.bar_width_mm(plan),
                plan.mm_per_m, f"{self.setup.paper.title} paper",
            ),
            *title_block.north_arrow(MARGIN_MM + self._arrow_mm, self.strip_mm + 7.4, self.floor),
            *texts,
            *self.caution,
        )  # fmt: skip
        author = self.site.title_block.prepared_by
        return Sheet(self.width_mm, self.height_mm, tuple(frames), page, title, author)


def _tall(bounds: Bounds) -> bool:
    west, south, east, north = bounds
    return north - south > east - west


def sheet_page(
    site: Site, titled: Round, evidence: FloorEvidence, surface: Surface | None, *,
    sheet_line: str, panels_mm: tuple[float, float], setup: SheetSetup = PLAIN,
    method: str = "", bounds: Bounds | None = None,
) -> SheetPage:  # fmt: skip
    """Set the head and the foot of a sheet.

    Parameters
    ----------
    site, titled : Site, Round
        The round with the title that the head has.
    evidence, surface : FloorEvidence, Surface or None
        What the sheet is made of; their settings have a digest in the foot.
    sheet_line : str
        Which sheet this is, and what made it.
    panels_mm : tuple of float
        Width of the panel beside the plan, on an upright sheet and across.
    setup : SheetSetup, optional
    method : str
        How the estimate was made, where the sheet says more than its surface does.
    bounds : tuple of float, optional
        The part of the floor that is shown (m).
    """
    tall = _tall(bounds or extent(evidence.floor))
    width, height = setup.paper.sides(tall)
    inner = width - 2.0 * MARGIN_MM
    panel_mm = panels_mm[0 if tall else 1] + setup.paper.wider_panel_mm
    plan_mm = inner - panel_mm - _GUTTER_MM
    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    title_block.head(head, site, titled, evidence)
    caution = title_block.caution_labels(
        title_block.caution(site), MARGIN_MM, MARGIN_MM, inner - NUMBER_MM
    )
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    digest = settings_digest(site, evidence, surface)
    rows = title_block.foot_rows(
        site, evidence, method or title_block.method_line(surface, evidence),
        f"{sheet_line}; settings {digest}", plan_mm, _CELL_LINES,
    )  # fmt: skip
    foot = Column(MARGIN_MM, bottom + sum(row.height_mm for row in rows), plan_mm, bottom)
    strip = foot.top_mm
    for row in rows:
        set_row(foot, row)
    return SheetPage(
        site, evidence.floor, setup, width, height, panel_mm, plan_mm, head.top_mm, strip, bottom,
        head, foot, tuple(caution),
    )  # fmt: skip


def numbered(sheets: Sequence[Sheet]) -> tuple[Sheet, ...]:
    """Set "sheet n of m" into the foot of each of some sheets that belong together."""
    return tuple(
        replace(
            sheet,
            page=(
                *sheet.page,
                Label(sheet.width_mm - MARGIN_MM, MARGIN_MM, f"sheet {n} of {len(sheets)}",
                      SMALL_PT, SOFT, across="right"),
            ),
        )
        for n, sheet in enumerate(sheets, start=1)
    )  # fmt: skip
