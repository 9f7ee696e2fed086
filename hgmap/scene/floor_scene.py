"""A floor as the window shows it: the items of the printed sheet, laid out for a screen's scale."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Final

import shapely

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.field.surface import Surface
from hgmap.report.drawing import Drawing, Frame, Item
from hgmap.report.plan_drawing import building, contour_lines, openings, zone_areas
from hgmap.report.plan_marks import Marks, marks_on_plan
from hgmap.report.shades import Shades, pictures, shades_of
from hgmap.report.words import published_per_computed
from hgmap.scene.plan_scene import plain_readings, room_names
from hgmap.scene.probability import probability_pictures
from hgmap.scene.screen import PAD_MM, screen_frame
from hgmap.scene.views import USUAL
from hgmap.site.building import Floor
from hgmap.site.reading import Reading

NOWHERE: Final = ResampleList(())


@dataclass(frozen=True, slots=True)
class Shown:
    """What is known of a floor so far; each piece may still be missing."""

    floor: Floor
    evidence: FloorEvidence | None = None
    surface: Surface | None = None
    zones: Zones | None = None
    resample: ResampleList = NOWHERE
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True)
class Scene:
    """What is painted, and what its key has to explain."""

    drawing: Drawing
    marks: Marks | None
    shades: Shades | None
    frame: Frame


def floor_scene(
    shown: Shown, px_per_m: float, views: Collection[str] = USUAL, pad_mm: float = PAD_MM
) -> Scene:
    """Lay a floor out for a screen.

    Parameters
    ----------
    shown : Shown
    px_per_m : float
        Pixels (of the window's own size) for a metre.
    views : collection of str
        What to show of it; see :data:`hgmap.scene.views.VIEWS`.
    pad_mm : float
        Left round the floor (mm).
    """
    floor, frame = shown.floor, screen_frame(shown.floor, px_per_m, pad_mm)
    scale = frame.mm_per_m
    ground, shades = _ground(shown, views, scale)
    items: list[Item] = [*ground]
    if shown.zones is not None and "zones" in views:
        items += zone_areas(shown.zones, scale)
        if "estimate" in views:
            items += contour_lines(shown.zones)
    elif shown.zones is not None and "probability" in views:
        items += zone_areas(_unknown(shown.zones), scale)
    items += building(floor)
    items += openings(floor, scale)
    marks = _marks(shown, frame, views)
    if marks is not None:
        items += marks.drawing
    else:
        items += room_names(floor, frame)
        if "readings" in views:
            items += plain_readings(shown.readings)
    return Scene(tuple(items), marks, shades, frame)


def _ground(shown: Shown, views: Collection[str], scale: float) -> tuple[Drawing, Shades | None]:
    """Paint the estimate, else the probability; nothing over ground that nothing speaks for."""
    surface, evidence = shown.surface, shown.evidence
    if surface is None or evidence is None:
        return (), None
    unknown = None
    if shown.zones is not None:
        unknown = shapely.union_all([one.geometry for one in _unknown(shown.zones).zones])
    if "probability" in views:
        return probability_pictures(surface, shown.floor, evidence.level, scale, unknown), None
    if "estimate" not in views:
        return (), None
    shades = shades_of(surface, evidence)
    factor = published_per_computed(evidence.level)
    return pictures(surface, shown.floor, shades, factor, scale, unknown), shades


def _unknown(zones: Zones) -> Zones:
    """Return only the ground that nothing speaks for: a shade there would look like knowledge."""
    return replace(zones, zones=tuple(one for one in zones.zones if one.name == "no data"))


def _marks(shown: Shown, frame: Frame, views: Collection[str]) -> Marks | None:
    """Set marks, numbers, names and values so that they keep clear of one another."""
    evidence = shown.evidence
    if evidence is None or "readings" not in views:
        return None
    zones = shown.zones or Zones(shown.floor, evidence.level, (), (), 0.5, 0.05)
    resample = shown.resample if "next places" in views else NOWHERE
    return marks_on_plan(evidence, resample, frame, zones, near=True)
