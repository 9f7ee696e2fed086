"""The sheet of likely sources: the estimate pale, the places numbered, why each is on the list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.decide.design.places import DesignPlace
from hgmap.decide.model import FloorEvidence
from hgmap.decide.origin_model import HINT, LikelySource, Origins
from hgmap.field.surface import Surface
from hgmap.report.column import SMALL_PT, TEXT_PT, Column, line_mm
from hgmap.report.drawing import Area, Dot, Drawing, Frame, Item, Pen, Sheet
from hgmap.report.free_paper import also_clear_of, free_paper, on_paper
from hgmap.report.legend import estimate_block
from hgmap.report.notes import columns_block, columns_height
from hgmap.report.numbered import numbered_places
from hgmap.report.origin_tables import region_of
from hgmap.report.palette import INK, NOTICE, PAPER, SOFT
from hgmap.report.plan_drawing import building, openings
from hgmap.report.plan_page import filled
from hgmap.report.room_names import names_in_rooms, names_outside
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.sheet_page import STRIP_MM, sheet_page
from hgmap.report.sheet_setup import MARGIN_MM
from hgmap.report.typeset import wrap
from hgmap.report.words import number, published_per_computed
from hgmap.site.model import Round, Site

_MOST_BAND: Final = 0.3
_ESTIMATE_MM: Final = 27.0
_KEY_MM: Final = 14.0
_REGION: Final = Pen(INK, 1.0, (3.0, 1.6))
_REGION_RIM: Final = Pen(PAPER, 2.4)


@dataclass(frozen=True, slots=True)
class PaleShades(Shades):
    """The scale of the zone map, so pale that marks and text stand out."""

    def rgba(self, logarithm: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Paint natural logarithms of concentration (published unit); NaN is transparent."""
        # named, since a dataclass with slots is made anew and super() alone would not find it
        colours = Shades.rgba(self, logarithm).astype(np.float64)
        colours[..., :3] = 255.0 - 0.6 * (255.0 - colours[..., :3])
        return np.asarray(np.round(colours), dtype=np.uint8)


def origin_sheet(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    origins: Origins,
    *,
    no_surface: str = "",
    version: str = "",
) -> Sheet:
    """Lay out the likely sources of one floor on A4.

    Parameters
    ----------
    site, round_ : Site, Round
    evidence : FloorEvidence
    surface : Surface or None
        The estimate, shaded; None where ``no_surface`` says why.
    origins : Origins
        Of the same floor.
    version : str
        Of the program.

    Returns
    -------
    Sheet
        Landscape, or portrait where the floor is taller than wide.
    """
    floor = evidence.floor
    laid = sheet_page(
        site, round_, evidence, surface, panels_mm=(70.0, 92.0),
        sheet_line=f"where from, floor {floor.name}, round {round_.name}; hgmap {version}".strip(),
    )  # fmt: skip
    shades = None
    if surface is not None:
        scale = shades_of(surface, evidence)
        shades = PaleShades(scale.low, scale.high)
    panel = laid.panel()
    _panel(panel, origins, evidence, surface, shades)
    notes = tuple(dict.fromkeys((
        *((f"no estimate: {no_surface}",) if no_surface else ()), *origins.cautions,
    )))  # fmt: skip
    low = laid.low_mm
    band = 0.0
    if notes:
        most = laid.most_band(_MOST_BAND)
        band = min(columns_height(laid.plan_mm, notes, STRIP_MM - 1.0) + 2.0, most)
    under = Column(MARGIN_MM, low + band - 1.0, laid.plan_mm, low)
    if notes:
        columns_block(under, notes, STRIP_MM - 1.0)
    frame, _ = laid.frame(band)
    frame = filled(frame, _plan(evidence, surface, shades, origins, frame))
    title = f"{site.name}: {floor.title or floor.name}, where the vapour may come from"
    return laid.done((frame,), (*panel.done(), *under.done()), title)


def _plan(
    evidence: FloorEvidence,
    surface: Surface | None,
    shades: Shades | None,
    origins: Origins,
    frame: Frame,
) -> Drawing:
    floor, scale = evidence.floor, frame.mm_per_m
    ground: list[Item] = []
    if surface is not None and shades is not None:
        factor = published_per_computed(evidence.level)
        ground += pictures(surface, floor, shades, factor, scale)
    grounds = [region_of(one, floor) for one in origins.sources if one.x is not None]
    held = [one for one in grounds if one is not None]
    regions = [Area(one, pen=pen) for one in held for pen in (_REGION_RIM, _REGION)]
    rooms = [on_paper(room.polygon, frame) for room in floor.rooms]
    paper = also_clear_of(free_paper(floor, frame, rooms), [one.boundary for one in held], frame)
    readings = [Dot(x, y, 2.2, "circle", SOFT) for x, y in evidence.xy.tolist()]
    home = {room.id: shape for room, shape in zip(floor.rooms, rooms, strict=True)}
    leaders, circles = numbered_places(
        [(one.rank, _as_place(one, origins)) for one in origins.sources], home, frame, paper
    )
    names = [room.name or room.id for room in floor.rooms]
    named, unset = names_in_rooms(names, rooms, frame, paper)
    outside, lines, _ = names_outside(names, rooms, unset, frame, paper)
    return (
        *ground,
        *building(floor),
        *openings(floor, scale),
        *readings,
        *regions,
        *named,
        *lines,
        *outside,
        *leaders,
        *circles,
    )


def _as_place(one: LikelySource, origins: Origins) -> DesignPlace:
    """Return a place to put a number at; the middle of the room where only that is known."""
    x, y = one.x, one.y
    if x is None or y is None:
        room = next((room for room in origins.floor.rooms if room.id == one.room), None)
        if room is not None:
            spot = room.polygon.representative_point()
            x, y = float(spot.x), float(spot.y)
    return DesignPlace(str(one.rank), one.floor, one.room, one.room_name, x, y, None, "reading", "")


def _panel(
    panel: Column,
    origins: Origins,
    evidence: FloorEvidence,
    surface: Surface | None,
    shades: Shades | None,
) -> None:
    panel.heading("Where the vapour may come from")
    lines = wrap(f"This is {HINT}.", TEXT_PT, panel.width_mm - 4.0, bold=True)
    high = len(lines) * line_mm(TEXT_PT) + 2.6
    box = shapely.box(panel.left_mm, panel.top_mm - high, panel.left_mm + panel.width_mm,
                      panel.top_mm)  # fmt: skip
    panel.draw(Area(box, fill=NOTICE, pen=Pen(INK, 0.6)))
    panel.skip(1.4)
    for line in lines:
        panel.line(line, TEXT_PT, bold=True, indent_mm=2.0)
    panel.skip(2.6)
    kept = _KEY_MM + (_ESTIMATE_MM if shades is not None else 0.0)
    places = Column(panel.left_mm, panel.top_mm, panel.width_mm, panel.bottom_mm + kept)
    if origins.quiet:
        places.text(origins.quiet[0].upper() + origins.quiet[1:], TEXT_PT, bold=True)
        places.skip(1.0)
    _list(places, origins)
    panel.draw(*places.done())
    panel.top_mm = places.top_mm - 1.0
    key = (
        "Numbers: places in order; +: the place itself, where its number stands beside it. "
        "Small dots: readings of the map."
    )
    if origins.draws:
        key += " Broken line: holds 80 % of the highest places of the fields that were drawn."
    panel.text(key, SMALL_PT, colour=SOFT)
    panel.skip(1.0)
    if surface is not None and shades is not None:
        estimate_block(panel, surface, evidence, shades)


def _list(column: Column, origins: Origins) -> None:
    """Set every place with its reasons, as far as the column goes; the rest is counted."""
    step = line_mm(SMALL_PT)
    for done, one in enumerate(origins.sources):
        told = [*one.reasons, *(f"but: {text}" for text in one.cautions)]
        wrapped = sum(min(3, len(wrap(text, SMALL_PT, column.width_mm - 6.6))) for text in told)
        needed = 2.0 * line_mm(TEXT_PT) + wrapped * step + 1.0
        last = done + 1 == len(origins.sources)
        if needed + (0.0 if last else step) > column.left_over_mm:
            left = len(origins.sources) - done
            column.line(f"and {left} more in where-from.csv", SMALL_PT, colour=SOFT)
            return
        column.line(f"{one.rank}  {one.room_name or one.room}", TEXT_PT, bold=True)
        figures = figures_of(one, origins)
        if figures:
            column.line(figures, TEXT_PT, indent_mm=4.0)
        inner = Column(column.left_mm + 4.0, column.top_mm, column.width_mm - 4.0, column.bottom_mm)
        inner.entries(tuple(told), "and {n} more", most_lines=3)
        column.draw(*inner.done())
        column.top_mm = inner.top_mm - 1.0


def figures_of(one: LikelySource, origins: Origins) -> str:
    """Write a place's figures in a line."""
    parts = []
    if one.share is not None:
        parts.append(f"{100.0 * one.share:.0f} % of draws")
    if one.radius_m is not None:
        parts.append(f"80 % within {one.radius_m:.1f} m")
    if one.estimate is not None:
        value = number(one.estimate * published_per_computed(origins.level))
        parts.append(f"{value} {origins.level.unit}")
    if one.height:
        parts.append(one.height)
    return "; ".join(parts)
