"""The sheet of doubt: how well the air is known everywhere, and where more readings help."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.decide.exceedance import excess_at
from hgmap.decide.model import FloorEvidence, ResampleList, ResamplePlace, ZoneName, Zones
from hgmap.decide.stop import stop_sentence
from hgmap.field.surface import Surface
from hgmap.report import title_block
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import PT_PER_MM, Area, Dot, Frame, Label, Pen, Picture, Sheet
from hgmap.report.legend import draw_ticks, openings_row
from hgmap.report.marks import MOST_NUMBERED, badge, unnumbered
from hgmap.report.notes import MORE, notes_block, notes_of
from hgmap.report.palette import INK, PAPER, SOFT, ZONE_LOOKS
from hgmap.report.plan_drawing import building, openings, unknown_ground, zone_areas
from hgmap.report.plan_marks import marks_on_plan
from hgmap.report.shades import painted_rooms
from hgmap.report.sheet_page import sheet_page
from hgmap.report.sheet_setup import PLAIN, SheetSetup
from hgmap.report.typeset import fit, width_mm
from hgmap.report.wanted import Box
from hgmap.report.words import number, published_per_computed, square_metres
from hgmap.site.model import Round, Site

_INKS: Final = ((255, 255, 255), (230, 234, 230), (194, 203, 198), (140, 154, 148))
"""From white to grey green: darker is known less; no hue of the estimate or of a zone."""

_HIGHEST: Final = (1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0, 1000.0)
_TICKS: Final = (1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0, 30.0, 100.0, 300.0, 1000.0)
_DOT_PT: Final = 3.0
_LEAST_M2: Final = 0.05


@dataclass(frozen=True, slots=True)
class DoubtShades:
    """From nothing to the highest half width of the 95 % interval on the working scale.

    The shade goes by the root, so that small ones are told apart beside a room that nobody read.

    ``log`` tells that half widths are logarithms of a factor; else they are concentrations, which
    ``factor`` takes to the unit of the level.
    """

    high: float
    log: bool
    factor: float

    def rgba(self, half: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Paint half widths; NaN is transparent."""
        share = np.sqrt(np.clip(np.nan_to_num(half) / self.high, 0.0, 1.0))
        stops = np.linspace(0.0, 1.0, len(_INKS))
        inks = np.array(_INKS, dtype=np.float64)
        found = np.empty((*half.shape, 4))
        for channel in range(3):
            found[..., channel] = np.interp(share, stops, inks[:, channel])
        found[..., 3] = 255.0 * np.isfinite(half)
        return np.asarray(np.round(found), dtype=np.uint8)

    def ticks(self) -> list[tuple[float, str]]:
        """Return places on the scale, 0 to 1, and what stands there."""
        if self.log:
            top = math.exp(self.high) * (1.0 + 1e-9)
            return [(math.sqrt(math.log(one) / self.high), f"{one:g}") for one in _TICKS
                    if one <= top]  # fmt: skip
        return [(share, number(share**2 * self.high * self.factor)) for share in (0.0, 0.5, 1.0)]


def half_widths(surface: Surface) -> NDArray[np.float64]:
    """Return half the 95 % interval of each cell (working scale); NaN where nothing is known."""
    reach = excess_at(0.975, max(surface.degrees_of_freedom, 1))
    return np.where(np.isfinite(surface.mean), reach * surface.sd, np.nan)


def doubt_shades(
    surface: Surface, half: NDArray[np.float64], evidence: FloorEvidence
) -> DoubtShades:
    """Choose the scale that holds all half widths, as far as a thousandfold."""
    held = half[np.isfinite(half)]
    most = float(held.max()) if held.size else 1.0
    factor = published_per_computed(evidence.level)
    if surface.scale != "log":
        return DoubtShades(most or 1.0, False, factor)
    top = next((one for one in _HIGHEST if math.log(one) >= most), _HIGHEST[-1])
    return DoubtShades(math.log(top), True, factor)


def uncertainty_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface,
    zones: Zones,
    resample: ResampleList,
    *,
    warnings: tuple[str, ...] = (),
    cautions: tuple[str, ...] = (),
    version: str = "",
    setup: SheetSetup = PLAIN,
) -> Sheet:
    """Lay out how well the air of one floor is known, and where to measure again.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence, surface : FloorEvidence, Surface
    zones, resample : Zones, ResampleList
        What is in doubt, and the places that are expected to settle it.
    warnings, cautions : tuple of str
        Printed first among the notes, and after them.
    version : str
        Of the program.
    setup : SheetSetup, optional

    Raises
    ------
    HgmapError
        If the plan does not fit the paper at the scale that was asked for.
    """
    floor = evidence.floor
    titled = replace(
        round_,
        title=f"{round_.title or round_.name}, uncertainty and where more readings help",
    )
    page = sheet_page(
        site, titled, evidence, surface, setup=setup, panels_mm=(66.0, 78.0),
        sheet_line=f"uncertainty, {title_block.where_line(floor.name, round_.name, version)}",
    )  # fmt: skip
    frame, mm_per_m = page.frame()
    shades, pictures = None, tuple[Picture, ...]()
    if surface.method != "idw":
        half = half_widths(surface)
        shades = doubt_shades(surface, half, evidence)
        pictures = painted_rooms(
            surface.raster, half, floor, shades.rgba, mm_per_m, unknown_ground(zones)
        )
    doubt = replace(
        zones, zones=tuple(one for one in zones.zones if one.name in ("resample", "no data"))
    )
    bare = replace(evidence, items=())
    marks = marks_on_plan(
        bare, resample, frame, replace(zones, contours=()), taken=_dot_boxes(evidence, frame)
    )
    dots = [Dot(x, y, _DOT_PT, "circle", INK, Pen(PAPER, 0.5)) for x, y in evidence.xy.tolist()]
    drawing = (
        *pictures,
        *zone_areas(doubt, mm_per_m),
        *building(floor),
        *openings(floor, mm_per_m),
        *dots,
        *marks.drawing,
    )
    panel = page.panel()
    _stop(panel, resample)
    _known(panel, evidence, shades)
    _key(panel, zones, resample)
    openings_row(panel, floor)
    _helps(panel, resample)
    notes = notes_of(site, round_, bare, surface, marks, warnings, cautions)
    notes_block(panel, notes, MORE)
    title = f"{site.name}: {floor.title or floor.name}, {titled.title}"
    return page.done((replace(frame, drawing=drawing),), panel.done(), title)


def _dot_boxes(evidence: FloorEvidence, frame: Frame) -> list[Box]:
    scale, half = frame.mm_per_m * PT_PER_MM, 0.5 * _DOT_PT + 0.5
    at = (evidence.xy - (frame.west_m, frame.south_m)) * scale
    return [(x - half, y - half, x + half, y + half) for x, y in at.tolist()]


def _stop(panel: Column, resample: ResampleList) -> None:
    """Say when there is little enough doubt."""
    if resample.stop is None:
        return
    said = stop_sentence(resample.stop)
    panel.text(f"{said[:1].upper()}{said[1:]}.", 8.0, bold=True, most_lines=6)
    panel.line("an expectation of the estimate, no promise", SMALL_PT, colour=SOFT)
    panel.skip(2.0)


def _known(panel: Column, evidence: FloorEvidence, shades: DoubtShades | None) -> None:
    """Draw the scale of the shades."""
    panel.heading("How well the air is known")
    if shades is None:
        panel.text(
            "Inverse distance weighting has no error model: nothing is shaded, and nobody knows "
            "how far off this estimate may be.",
            TEXT_PT,
        )
        panel.skip(1.4)
        return
    said = "95 % interval: the air lies within this factor of the estimate, up or down"
    if not shades.log:
        said = f"95 % interval: the air lies within so many {evidence.level.unit} of the estimate"
    panel.text(f"{said} (interpretation)", SMALL_PT, colour=SOFT)
    panel.skip(0.8)
    left, width, top = panel.left_mm + 1.5, panel.width_mm - 3.0, panel.top_mm
    steps = shades.high * np.linspace(0.0, 1.0, 256)[None, :] ** 2
    box = (left, top - 4.2, left + width, top)
    panel.draw(Picture(shades.rgba(steps), box), Area(shapely.box(*box), pen=Pen(INK, 0.5)))
    draw_ticks(panel, [(left + width * at, text) for at, text in shades.ticks()], top - 4.2)
    panel.skip(4.2 + 1.5 + line_mm(SMALL_PT) + 1.4)


def _key(panel: Column, zones: Zones, resample: ResampleList) -> None:
    panel.heading("On the plan")
    words: dict[ZoneName, str] = {
        "resample": "in doubt: measure again",
        "no data": "no data: no reading speaks here",
    }
    for name, meaning in words.items():
        area = zones.area_m2(name)
        if area <= 0.0:
            continue
        look, top = ZONE_LOOKS[name], panel.top_mm
        swatch = shapely.box(panel.left_mm, top - 3.6, panel.left_mm + 10.0, top)
        panel.draw(Area(swatch, hatch=look.hatch, pen=look.pen))
        right = panel.left_mm + panel.width_mm
        said = square_metres(area)
        panel.skip(0.8)
        panel.draw(Label(right, panel.top_mm, said, SMALL_PT, INK, across="right", up="top"))
        panel.line(meaning, SMALL_PT, indent_mm=12.5, right_mm=16.0)
        panel.skip(1.6)
    panel.draw(Dot(panel.left_mm + 3.0, panel.top_mm - 0.95, _DOT_PT, "circle", INK))
    panel.line("reading of this map", SMALL_PT, indent_mm=8.0)
    panel.skip(0.8)
    if resample.places:
        panel.draw(*badge(1, panel.left_mm + 3.0, panel.top_mm - 0.95))
        panel.line("measure again here, number 1 first", SMALL_PT, indent_mm=8.0)
        panel.skip(0.8)
        if len(resample.places) > MOST_NUMBERED:
            panel.draw(unnumbered(panel.left_mm + 3.0, panel.top_mm - 0.95))
            panel.line("and here: numbered in the resample list", SMALL_PT, indent_mm=8.0)
            panel.skip(0.6)


def _helps(panel: Column, resample: ResampleList) -> None:
    """List what each place is expected to settle, in their order."""
    panel.heading("Where more readings help")
    if not resample.places:
        panel.line("there is no place to measure again", SMALL_PT, colour=SOFT)
        panel.skip(1.0)
        return
    bottom = panel.bottom_mm + 0.3 * panel.left_over_mm  # the rest is for the notes
    for done, place in enumerate(resample.places):
        left = len(resample.places) - done
        if panel.top_mm - (2 if left > 1 else 1) * line_mm(SMALL_PT) < bottom:
            panel.line(f"and {left} more, in the resample list", SMALL_PT,
                       colour=SOFT)  # fmt: skip
            break
        panel.draw(
            Label(panel.left_mm, panel.top_mm, str(place.rank), SMALL_PT, INK, True, up="top")
        )
        said = fit(settles(place), SMALL_PT, 0.62 * panel.width_mm)
        right = panel.left_mm + panel.width_mm
        panel.draw(Label(right, panel.top_mm, said, SMALL_PT, INK, across="right", up="top"))
        kept = 2.0 + width_mm(said, SMALL_PT)
        panel.line(place.room_name or place.room, SMALL_PT, indent_mm=5.0, right_mm=kept)
    panel.skip(1.4)


def settles(place: ResamplePlace) -> str:
    """Say what a reading at a place is expected to move out of doubt; else why it is listed."""
    if place.expected_m2 < _LEAST_M2:
        return "; ".join(place.reasons)
    said = f"settles {square_metres(place.expected_m2)}"
    if place.left_m2 is not None:
        said += f", leaves {square_metres(place.left_m2)}"
    return said
