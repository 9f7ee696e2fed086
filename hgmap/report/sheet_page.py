"""What every sheet with a panel beside its plan has: size, head, foot, and where the plan is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from hgmap.decide.model import FloorEvidence
from hgmap.report import title_block
from hgmap.report.cells import set_row
from hgmap.report.column import TEXT_PT, Column, line_mm
from hgmap.report.drawing import Frame, Label
from hgmap.report.extent import extent
from hgmap.report.sheet import LONG_MM, MARGIN_MM, SHORT_MM
from hgmap.site.building import Floor
from hgmap.site.model import Round, Site

STRIP_MM: Final = 15.0
"""Between the foot and the plan: scale bar and arrow."""

_GUTTER_MM: Final = 6.0
_CAUTION_MM: Final = 5.5
_PAD_MM: Final = 2.5
_CELL_LINES: Final = 4


@dataclass(frozen=True)
class SheetPage:
    """A page with its head and foot set; lengths in mm from the lower left corner.

    ``top_mm`` is the lower edge of the head, ``strip_mm`` the upper edge of the foot, ``bottom_mm``
    its lower edge.
    """

    floor: Floor
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

    def panel(self) -> Column:
        """Return the column beside the plan, still empty."""
        return Column(
            self.width_mm - MARGIN_MM - self.panel_mm, self.top_mm - 2.0, self.panel_mm,
            self.bottom_mm + 1.0,
        )  # fmt: skip

    def frame(self, band_mm: float = 0.0) -> tuple[Frame, float]:
        """Return the frame of the plan above ``band_mm`` of notes, and its mm for a metre."""
        low, high = self.strip_mm + STRIP_MM + band_mm, self.top_mm - 2.0
        west, south, east, north = extent(self.floor)
        scale = title_block.denominator(
            east - west, north - south, self.plan_mm - 2.0 * _PAD_MM, high - low - 2.0 * _PAD_MM
        )
        mm_per_m = 1000.0 / scale
        frame = Frame(
            (), MARGIN_MM, low, self.plan_mm, high - low,
            (west + east - self.plan_mm / mm_per_m) / 2.0,
            (south + north - (high - low) / mm_per_m) / 2.0,
            mm_per_m,
        )  # fmt: skip
        return frame, mm_per_m


def is_tall(floor: Floor) -> bool:
    """Tell whether a floor is taller than wide: its sheet is then portrait."""
    west, south, east, north = extent(floor)
    return north - south > east - west


def sheet_page(
    site: Site, titled: Round, evidence: FloorEvidence, method: str, sheet_line: str,
    panel_mm: float,
) -> SheetPage:  # fmt: skip
    """Set the head and the foot of a sheet.

    Parameters
    ----------
    site, titled : Site, Round
        The round with the title that the head has.
    evidence : FloorEvidence
    method, sheet_line : str
        For their cells of the foot.
    panel_mm : float
        Width of the panel beside the plan.
    """
    floor = evidence.floor
    width, height = (SHORT_MM, LONG_MM) if is_tall(floor) else (LONG_MM, SHORT_MM)
    inner = width - 2.0 * MARGIN_MM
    plan_mm = inner - panel_mm - _GUTTER_MM
    head = Column(MARGIN_MM, height - MARGIN_MM, inner, 0.0)
    title_block.head(head, site, titled, evidence)
    caution = title_block.caution_labels(title_block.caution(site), MARGIN_MM, MARGIN_MM, inner)
    bottom = MARGIN_MM + _CAUTION_MM + (len(caution) - 1) * line_mm(TEXT_PT)
    rows = title_block.foot_rows(site, method, sheet_line, plan_mm, _CELL_LINES)
    foot = Column(MARGIN_MM, bottom + sum(row.height_mm for row in rows), plan_mm, bottom)
    strip = foot.top_mm
    for row in rows:
        set_row(foot, row)
    return SheetPage(
        floor, width, height, panel_mm, plan_mm, head.top_mm, strip, bottom, head, foot,
        tuple(caution),
    )  # fmt: skip
