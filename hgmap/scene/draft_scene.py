"""A plan while somebody draws it: what is sound as on every plan, what is not in a broken pen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

import shapely

from hgmap.editing.plan_draft import PlanDraft, PlanFeature
from hgmap.report.drawing import Area, Dot, Drawing, Item, Label, Path, Pen
from hgmap.report.palette import PAPER, SOFT
from hgmap.report.plan_drawing import building, openings
from hgmap.scene.screen import mm_per_m
from hgmap.site.building import Floor
from hgmap.site.plan_findings import PlanFinding

EMPTY_M: Final = (0.0, 0.0, 20.0, 15.0)
"""West, south, east, north (m) of the paper while nothing is drawn."""

MOST_NEW: Final = 40
"""More openings than these are not worked out in full while somebody draws."""

_BAD: Final = "#a83a00"
_BAD_PEN: Final = Pen(_BAD, 2.0, (5.0, 3.0))
_NAME_PT: Final = 8.0
_LEAST_PT: Final = 34.0
"""A room narrower than this on the screen (pt) has no name written in it."""


def draft_extent(draft: PlanDraft) -> tuple[float, float, float, float] | None:
    """Return west, south, east, north (m) of what is drawn; None where nothing is."""
    shapes = [one.geometry for one in draft.features if one.geometry is not None]
    if not shapes:
        return None
    west, south, east, north = (float(one) for one in shapely.total_bounds(shapes))
    if not all(map(_finite, (west, south, east, north))):
        return None
    return west, south, max(east, west + 0.5), max(north, south + 0.5)


def draft_scene(
    draft: PlanDraft, px_per_m: float, drawn: dict[object, Drawing] | None = None
) -> Drawing:
    """Draw a plan as far as it goes, for a screen (pixels for a metre).

    ``drawn`` keeps openings from one time to the next: an edit moves few of hundreds.
    """
    floor = draft_floor(draft)
    items: list[Item] = []
    if floor.rooms:
        items += building(floor)
        items += _openings(floor, mm_per_m(px_per_m), {} if drawn is None else drawn)
    elif floor.walls:
        items.append(Path(shapely.MultiLineString(list(floor.walls)), Pen("#33373b", 1.5)))
    if not floor.rooms:
        items += [Path(one.line, Pen("#33373b", 2.0)) for one in floor.openings]
    bad = [one for one in draft.features if one.complaint and one.geometry is not None]
    for one in bad:
        items += _bad(one)
    for one in draft.rooms:
        if one.geometry is not None and not one.geometry.is_empty:
            items += _name(one, px_per_m)
    return tuple(items)


def fault_signs(findings: Sequence[PlanFinding[Any]]) -> Drawing:
    """Draw where a plan is not read for something that no single feature shows, as an overlap."""
    return tuple(
        Area(one.place, fill=_BAD + "30", pen=_BAD_PEN)
        for one in findings
        if one.severity == "error"
        and one.place is not None
        and not one.place.is_empty
        and one.place.geom_type.endswith("Polygon")
    )


def draft_floor(draft: PlanDraft) -> Floor:
    """Return a floor of what is sound."""
    walls: list[shapely.LineString] = []
    for one in draft.walls:
        if one.geometry is not None and not one.complaint:
            parts = shapely.get_parts(one.geometry)
            walls += [part for part in parts if isinstance(part, shapely.LineString)]
    return Floor(
        "draft", "", tuple(draft.sound_rooms.values()), tuple(walls),
        tuple(draft.sound_openings.values()),
    )  # fmt: skip


def _openings(floor: Floor, scale: float, drawn: dict[object, Drawing]) -> Drawing:
    keys: list[object] = [(one.line.wkb, one.state, one.rooms, scale) for one in floor.openings]
    missing = [n for n, key in enumerate(keys) if key not in drawn]
    if len(missing) > MOST_NEW:
        return _plain_openings(floor)
    for n in missing:
        drawn[keys[n]] = openings(replace(floor, openings=(floor.openings[n],)), scale)
    kept = {key: drawn[key] for key in keys}
    drawn.clear()
    drawn.update(kept)
    return tuple(item for one in kept.values() for item in one)


def _plain_openings(floor: Floor) -> Drawing:
    """Draw hundreds of openings at once: a gap is open, a bar closed, a broken bar sealed."""
    lines = shapely.MultiLineString([one.line for one in floor.openings])
    items: list[Item] = [Path(lines, Pen(PAPER, 4.0))]
    for state, dashes in (("closed", ()), ("sealed", (1.5, 1.5))):
        some = [one.line for one in floor.openings if one.state == state]
        if some:
            items.append(Path(shapely.MultiLineString(some), Pen("#33373b", 1.2, dashes)))
    return tuple(items)


def _bad(feature: PlanFeature) -> Drawing:
    shape = feature.geometry
    assert shape is not None
    if shape.is_empty:
        return ()
    if shape.geom_type in ("Point", "MultiPoint"):
        at = shape.representative_point()
        return (Dot(at.x, at.y, 9.0, "cross", None, Pen(_BAD, 2.0)),)
    if shape.geom_type.endswith("Polygon"):
        return (Area(shape, fill=_BAD + "14"), Path(shape.boundary, _BAD_PEN))
    return (Path(shape, _BAD_PEN),)


def _name(feature: PlanFeature, px_per_m: float) -> Drawing:
    shape = feature.geometry
    assert shape is not None
    west, south, east, north = shape.bounds
    wide_pt = (east - west) * px_per_m * 0.75
    if not wide_pt >= _LEAST_PT or not (north - south) * px_per_m * 0.75 >= _NAME_PT:
        return ()
    sound = shape.is_valid
    at = shape.representative_point() if sound else shape.envelope.centroid
    text = feature.name or feature.id
    most = max(int(wide_pt / (_NAME_PT * 0.6)), 2)
    if len(text) > most:
        text = text[: most - 1] + "…"
    colour = SOFT if sound else _BAD
    return (
        Label(at.x, at.y, text, _NAME_PT, colour, across="centre", up="middle", halo=PAPER),
    )  # fmt: skip


def _finite(value: float) -> bool:
    return abs(value) < 1e7
