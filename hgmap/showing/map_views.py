"""Views of one floor, from the drawings of the sheets and of the window."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.decide.change_model import FloorChange
from hgmap.decide.design.visits import FloorWalk
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.stop import stop_sentence
from hgmap.field.raster import Raster
from hgmap.field.surface import Surface
from hgmap.floor_map import FloorMap
from hgmap.report import legend
from hgmap.report.change_legend import change_panel
from hgmap.report.change_plan import change_ground, pair_marks, room_labels
from hgmap.report.change_shades import DOUBT_HATCH, GROUND_PENS, UNKNOWN_HATCH, change_shades
from hgmap.report.column import SMALL_PT, Column, line_mm
from hgmap.report.drawing import Area, Dot, Drawing, Path, Pen, Picture
from hgmap.report.field_sheet import WAY, walk_on_plan
from hgmap.report.marks import badge
from hgmap.report.palette import INK, SOFT, ZONE_LOOKS
from hgmap.report.plan_drawing import building, openings
from hgmap.report.shades import Shades, shades_of
from hgmap.report.words import count, number, per_cent
from hgmap.scene.floor_scene import NOWHERE, Shown, floor_scene
from hgmap.scene.key import TALL_MM, Key, key_of
from hgmap.scene.plan_scene import plan_scene
from hgmap.scene.probability import STOPS, probability_rgba
from hgmap.scene.screen import PX_PER_INCH, screen_frame
from hgmap.showing.view import Scale, Sign, View, bounds_of
from hgmap.site.building import Floor

_SHOWS: Final[dict[str, frozenset[str]]] = {
    "zones": frozenset({"readings", "zones", "estimate", "next places"}),
    "estimate": frozenset({"readings", "estimate"}),
    "chance": frozenset({"readings", "probability"}),
    "readings": frozenset({"readings"}),
}
_WORDS: Final = {
    "zones": "zones and where to measure again",
    "estimate": "estimate of the concentration",
    "chance": "chance of being above the level",
    "readings": "readings",
}
_ZONES: Final = tuple(
    Sign(name, look.hatch, look.pen) for name, look in reversed(ZONE_LOOKS.items())
)
_CHANGE: Final = (
    Sign("rose", None, GROUND_PENS["rose"]),
    Sign("fell", None, GROUND_PENS["fell"]),
    Sign("cannot tell", DOUBT_HATCH, GROUND_PENS["cannot tell"]),
    Sign("not read in both rounds", UNKNOWN_HATCH, GROUND_PENS["cannot tell"]),
)
COMPUTED: Final = "µg/m³ of air (bulk mg/kg, surfaces µg/100 cm²)"
_EDGE: Final = Pen("#33373b", 0.9)
_DOUBT_INKS: Final = ((255, 255, 255), (230, 234, 230), (194, 203, 198), (140, 154, 148))


def plan_view(floor: Floor) -> View:
    """Show a floor with nothing on it."""

    def key(column: Column) -> None:
        column.heading("On the plan")
        column.line(f"{count(len(floor.rooms), 'room')}, {floor.area_m2:.0f} m²", SMALL_PT)
        legend.openings_row(column, floor)

    return View(
        _title(floor), (), _names(floor), bounds_of(floor),
        lambda mm_per_m, pad_mm: (plan_scene(floor, (), _px(mm_per_m)), _key(key)),
    )  # fmt: skip


def evidence_view(evidence: FloorEvidence) -> View:
    """Show the readings that a map is made of, and those that are set aside."""
    shown = Shown(evidence.floor, evidence)
    title = f"{_title(evidence.floor)}, {evidence.round}: readings"
    return View(title, (), _names(evidence.floor), bounds_of(evidence.floor),
                _scene(shown, "readings"), beware=evidence.notes)  # fmt: skip


def zones_view(zones: Zones) -> View:
    """Show zones alone."""
    shown = Shown(zones.floor, zones=zones)
    return View(f"{_title(zones.floor)}: zones", (), _names(zones.floor), bounds_of(zones.floor),
                _scene(shown, "zones"), _ZONES)  # fmt: skip


def floor_map_view(one: FloorMap, show: str, visit: str = "") -> View:
    """Show a floor's map: its zones, its estimate, the chance, or its readings."""
    again = one.resample if show == "zones" else NOWHERE
    shown = Shown(one.floor, one.evidence, one.surface, one.zones, again)
    stop = one.resample.stop
    beware = (*((stop_sentence(stop),) if stop is not None and show == "zones" else ()),
              *one.warnings)  # fmt: skip
    title = f"{_title(one.floor)}, {visit or one.evidence.round}: {_WORDS[show]}"
    return View(
        title, (), _names(one.floor), bounds_of(one.floor), _scene(shown, show),
        _ZONES if show == "zones" else (), beware, scale=_scale_shown(one, show),
    )  # fmt: skip


def _scale_shown(one: FloorMap, show: str) -> Scale | None:
    if one.surface is None or show == "readings":
        return None
    if show == "chance":
        ramp = probability_rgba(np.linspace(0.0, 1.0, 256))
        return Scale("chance of being above the level", ramp,
                     tuple((share, per_cent(share)) for share in STOPS))  # fmt: skip
    shades = shades_of(one.surface, one.evidence)
    what = "estimate, median" if one.surface.scale == "log" else "estimate, mean"
    return _scale_of(shades, what, one.evidence.level.unit)


def _scene(shown: Shown, show: str) -> Callable[[float, float], tuple[Drawing, Key]]:
    views = _SHOWS[show]

    def draw(mm_per_m: float, pad_mm: float) -> tuple[Drawing, Key]:
        scene = floor_scene(shown, _px(mm_per_m), views, pad_mm)
        return scene.drawing, lambda width_mm: key_of(shown, scene, views, width_mm)

    return draw


def change_view(change: FloorChange, rounds: tuple[str, str] | None = None) -> View:
    """Show what became of the air between two rounds."""
    floor = change.after.evidence.floor
    shades = None if change.cells is None else change_shades(change.cells.log_ratio)

    def draw(mm_per_m: float, pad_mm: float) -> tuple[Drawing, Key]:
        drawing = (
            *change_ground(change, shades, mm_per_m),
            *building(floor),
            *openings(floor, mm_per_m),
            *pair_marks(change.pairs),
            *room_labels(change, mm_per_m),
        )
        return drawing, _key(lambda column: change_panel(column, change, shades))

    reasons = (f"{one.room.name or one.room.id}: {text}" for one in change.rooms
               if one.rebounded for text in one.reasons)  # fmt: skip
    first, last = rounds or (change.before.evidence.round, change.after.evidence.round)
    title = f"{_title(floor)}: change from {first} to {last}"
    return View(title, (), _names(floor), bounds_of(floor), draw, _CHANGE, tuple(reasons))


def walk_view(design: FloorWalk) -> View:
    """Show numbered places in the order of the walk."""
    floor = design.floor

    def key(column: Column) -> None:
        column.heading("Places, in the order of the walk")
        column.line(f"{count(design.places, 'place')}, {count(len(design.visits), 'reading')}, "
                    f"{design.route_m:.0f} m on foot", SMALL_PT)  # fmt: skip
        if design.way:
            y = column.top_mm - 1.0
            line = shapely.LineString([(column.left_mm, y), (column.left_mm + 8.0, y)])
            column.draw(Path(line, WAY))
            column.line("the walk", SMALL_PT, indent_mm=10.0)
        if design.source_room:
            column.text(f"{design.source_room} comes last: the highest air is expected there",
                        SMALL_PT)  # fmt: skip
        column.skip(0.8)
        if floor.openings:
            column.heading("On the plan")
            legend.openings_row(column, floor)

    def draw(mm_per_m: float, pad_mm: float) -> tuple[Drawing, Key]:
        frame = screen_frame(floor, _px(mm_per_m), pad_mm)
        return walk_on_plan(design, frame, 1, design.places, None)[0], _key(key)

    beware = tuple(f"no way on foot to {name}" for name in design.unreachable)
    return View(f"{_title(floor)}: places to read", (), _names(floor), bounds_of(floor), draw,
                beware=beware)  # fmt: skip


def places_view(resample: ResampleList) -> View:
    """Show places to measure again without a plan: the list does not know it."""
    places = resample.places
    xs, ys = [one.x for one in places], [one.y for one in places]
    bounds = (min(xs) - 1.0, min(ys) - 1.0, max(xs) + 1.0, max(ys) + 1.0)
    drawing = tuple(item for one in reversed(places) for item in badge(one.rank, one.x, one.y))

    def key(column: Column) -> None:
        column.heading("On the plan")
        column.draw(*badge(1, column.left_mm + 3.0, column.top_mm - 0.95))
        column.line("measure again here, number 1 first", SMALL_PT, indent_mm=8.0)

    said = () if resample.stop is None else (stop_sentence(resample.stop),)
    return View(
        "Where to measure again", (), tuple(dict.fromkeys(one.floor for one in places)), bounds,
        lambda mm_per_m, pad_mm: (drawing, _key(key)), beware=said, alone=False,
    )  # fmt: skip


def surface_view(surface: Surface, show: str) -> View:
    """Show an estimate cell by cell; it knows where rooms end, but neither doors nor a level."""
    raster = surface.raster
    west, south = raster.west_m, raster.south_m
    bounds = (west, south, west + raster.shape[1] * raster.cell_m,
              south + raster.shape[0] * raster.cell_m)  # fmt: skip
    if show == "uncertainty":
        known = np.where(np.isfinite(surface.mean), surface.sd, np.nan)
        top = float(np.nanmax(known)) if np.isfinite(known).any() else 0.0
        top = top or 1.0
        # shades by the square root: one room that nobody has read would leave the rest white
        rgba = _doubt(np.sqrt(known / top))
        title = "Uncertainty of the estimate"
        unit = ("sd of the estimate's natural logarithm" if surface.scale == "log"
                else "sd of the estimate, unit of computing")  # fmt: skip
        shares = (0.0, 0.25, 0.5, 0.75, 1.0)
        scale = Scale(unit, _doubt(np.linspace(0.0, 1.0, 256)),
                      tuple((share, number(share**2 * top, 2)) for share in shares))  # fmt: skip
    else:
        held = surface.concentration()
        positive = held[np.isfinite(surface.mean) & (held > 0.0)]
        low = float(positive.min()) if positive.size else 1.0
        high = max(float(positive.max()) if positive.size else 1.0, 1.5 * low)
        shades = Shades(max(low, high / 1e5), high)
        with np.errstate(divide="ignore", invalid="ignore"):
            rgba = shades.rgba(np.log(np.maximum(held, shades.low)))
        title = "Estimate of the concentration"
        scale = _scale_of(shades, "median" if surface.scale == "log" else "mean", COMPUTED)
    drawing: Drawing = (
        Picture(np.ascontiguousarray(rgba[::-1]), bounds),
        Path(_room_edges(raster), _EDGE),
        *(Dot(float(x), float(y), 5.5, "plus", None, Pen(INK, 1.1)) for x, y in surface.xy),
    )  # fmt: skip

    def key(column: Column) -> None:
        column.heading("Shades")
        column.text(scale.label, SMALL_PT, colour=SOFT)
        column.skip(0.6)
        _bar(column, scale)
        column.line("+ places that made it", SMALL_PT)
        column.line(f"{surface.method}, cells of {raster.cell_m:g} m", SMALL_PT, colour=SOFT)

    return View(title, (), (), bounds, lambda mm_per_m, pad_mm: (drawing, _key(key)),
                beware=surface.notes, scale=scale)  # fmt: skip


def _scale_of(shades: Shades, what: str, unit: str) -> Scale:
    steps = np.linspace(math.log(shades.low), math.log(shades.high), 256)
    ticks = tuple((shades.place(one), number(one)) for one in shades.ticks(6))
    return Scale(f"{what}, {unit}", shades.rgba(steps), ticks)


def _bar(column: Column, scale: Scale) -> None:
    left, width = column.left_mm + 1.5, column.width_mm - 3.0
    top, bottom = column.top_mm, column.top_mm - 4.2
    column.draw(
        Picture(scale.ramp[None, :, :], (left, bottom, left + width, top)),
        Area(shapely.box(left, bottom, left + width, top), pen=Pen(INK, 0.5)),
    )
    legend.draw_ticks(column, [(left + width * share, text) for share, text in scale.ticks], bottom)
    column.skip(4.2 + 1.5 + line_mm(SMALL_PT) + 0.6)


def _doubt(share: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Shade 0 to 1 from white to grey-green, as the sheet of the uncertainty does."""
    inks = np.array(_DOUBT_INKS, dtype=np.float64)
    rgba = np.empty((*share.shape, 4))
    for channel in range(3):
        rgba[..., channel] = np.interp(np.nan_to_num(share), np.linspace(0.0, 1.0, len(inks)),
                                       inks[:, channel])  # fmt: skip
    rgba[..., 3] = 255.0 * np.isfinite(share)
    return np.asarray(np.round(rgba), dtype=np.uint8)


def _room_edges(raster: Raster) -> shapely.MultiLineString:
    """Return the sides of cells that have another room, or none, on their other side (m)."""
    index = np.pad(raster.room_index, 1, constant_values=-1)
    step, west, south = raster.cell_m, raster.west_m, raster.south_m
    row, column = np.nonzero(index[:, 1:] != index[:, :-1])
    x, y = west + column * step, south + (row - 1) * step
    upright = np.stack([np.stack([x, y], -1), np.stack([x, y + step], -1)], 1)
    row, column = np.nonzero(index[1:] != index[:-1])
    x, y = west + (column - 1) * step, south + row * step
    flat = np.stack([np.stack([x, y], -1), np.stack([x + step, y], -1)], 1)
    merged = shapely.line_merge(shapely.multilinestrings(
        shapely.linestrings(np.concatenate([upright, flat]))))  # fmt: skip
    return shapely.MultiLineString(list(shapely.get_parts(merged)))


def _key(fill: Callable[[Column], None]) -> Key:
    def key(width_mm: float) -> tuple[Drawing, float]:
        column = Column(0.0, TALL_MM, width_mm, 0.0)
        fill(column)
        return column.done(), TALL_MM - column.top_mm

    return key


def _px(mm_per_m: float) -> float:
    return mm_per_m * PX_PER_INCH / 25.4


def _title(floor: Floor) -> str:
    return floor.title or floor.name


def _names(floor: Floor) -> tuple[str, ...]:
    return (floor.name, floor.title)
