"""Laying a building on the map: control points fitted, judged, drawn, written into site.toml."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import shapely

from hgmap.editing.frame_edits import set_frame
from hgmap.editing.save import save
from hgmap.editing.site_files import SiteFiles, read_site_files, site_of
from hgmap.editing.toml_edit import table_of
from hgmap.errors import SiteError
from hgmap.georeference_model import Fitted, Georeferenced, GeoreferenceOptions
from hgmap.site.buildings import footprints, problems_of_buildings
from hgmap.site.control.chosen import points_without, refuse_blunder, said_of_choice
from hgmap.site.control.corners import read_deed_file, write_corners
from hgmap.site.control.doubts import doubts_of_fit, refuse_fit
from hgmap.site.control.fit import Fit, fit_points
from hgmap.site.control.on_map import grid_scale_at
from hgmap.site.control.points import (
    ControlPoint,
    places_of,
    plain_point,
    read_control_points,
)
from hgmap.site.control.traverse import Traverse, doubt_of_closure
from hgmap.site.control.words import frame_line
from hgmap.site.files import read_bytes
from hgmap.site.georef import check_map_crs
from hgmap.site.map_frame import MapFrame
from hgmap.site.model import Problem, Site
from hgmap.site.store import SITE_FILE

if TYPE_CHECKING:
    import pyproj

    from hgmap.report.drawing import Sheet
    from hgmap.site.schema import SiteTable

MOST_BYTES: Final = 64 * 2**20
NORTH_APART_DEG: Final = 15.0
"""A stated north that is farther from the map's belongs to another plan. Ours, no source."""
FAR_BEYOND: Final = 2.0
"""A plan that reaches so many times as far as its control points is held badly at its ends."""


def georeference_site(folder: Path | str, options: GeoreferenceOptions) -> Georeferenced:
    """Fit a building of a site to its control points, and write how it lies into site.toml.

    Raises
    ------
    SiteError
        If the site, the points or the deed cannot be used, the points cannot be what they say, or
        one of them stands out that is not to be kept. Nothing was written.
    HgmapError
        If a file cannot be written; site.toml is then as it was.
    """
    options = replace(
        options, without=tuple(map(plain_point, options.without)),
        keep=tuple(map(plain_point, options.keep)),
    )  # fmt: skip
    before = read_site_files(folder)
    table = table_of(before)
    _check_asked(options)
    traverse, problems = _deed(options)
    if options.points is None:
        written = _write_corners(traverse, options, options.crs or _crs_of(table))
        return Georeferenced(site_of(before), traverse, None, tuple(problems), written)
    crs = _check_site(table, options, where=before.place(SITE_FILE))
    where = str(options.points)
    found = read_control_points(
        read_bytes(options.points, where=where, most_bytes=MOST_BYTES), where=where,
        known=traverse.places if traverse else None,
    )  # fmt: skip
    problems += found.problems
    points = points_without(found.points, options.without, options.keep, where=where)
    fit = fit_points(options.fit, *places_of(points), names=[one.name for one in points],
                     where=where)  # fmt: skip
    refuse_fit(points, fit, where=where)
    if not options.dry_run:
        refuse_blunder(points, fit, options.keep, where=where)
    grid_scale, doubt = grid_scale_at(crs, points, where=where)
    if doubt:
        problems.append(Problem("warning", where, doubt, "check the map's system, and which column "
                                "is east"))  # fmt: skip
    problems += [Problem("warning", where, text, todo)
                 for text, todo in doubts_of_fit(points, fit, grid_scale)]  # fmt: skip
    chosen, notes = said_of_choice(options.without, options.keep, points, fit)
    problems += notes
    frame = fit.frame(options.crs or _crs_of(table) or "", _said(fit) + chosen)
    after = set_frame(before, frame, building=options.building, floors=options.floors)
    site = site_of(after)
    fitted = _fitted(site, site_of(before), options.building, frame, points, fit, grid_scale)
    problems += problems_of_buildings(site.floors)
    problems += _remarks(site, fitted, options, where)
    written = _write(options, before, after, site, fitted, traverse)
    problems.sort(key=lambda one: one.severity == "note")
    return Georeferenced(site, traverse, fitted, tuple(problems), written)


def _check_asked(options: GeoreferenceOptions) -> None:
    for given, name, needs, other in (
        (options.picture, "--picture", options.points, "--points"),
        (options.floors, "--floor", options.building, "--building"),
        (options.corners, "--corners", options.deed, "--deed"),
        (options.start, "--start", options.deed, "--deed"),
        (options.without, "--without", options.points, "--points"),
        (options.keep, "--keep", options.points, "--points"),
    ):
        if given and not needs:
            raise SiteError(f"it needs {other}", where=name, todo=f"give {other} too")
    if options.points is None and options.deed is None:
        raise SiteError("nothing to fit", where="--points", todo="give control points, or a deed")
    if options.points is not None and options.deed is not None and options.start is None:
        raise SiteError(
            "the deed's corners have no place on the map without its first one",
            where="--deed",
            todo="give --start EAST,NORTH in metres",
        )


def _check_site(table: SiteTable, options: GeoreferenceOptions, *, where: str) -> pyproj.CRS:
    """Return the map's system; refuse what would leave a floor or building at a wrong place."""
    own = _crs_of(table)
    if options.crs is None and own is None:
        raise SiteError(
            "the site has no map yet", where="--crs", todo="name its system, as EPSG:25832"
        )
    crs = check_map_crs(options.crs or own or "", where="--crs" if options.crs else where)
    known = [floor.name for floor in table.floors]
    for name in options.floors:
        if name not in known:
            raise SiteError(
                f"there is no floor {name!r}", where="--floor", todo=f"known: {', '.join(known)}"
            )
    others = [one.name for one in table.buildings if one.name != options.building]
    for name in others:
        if name.casefold() == options.building.casefold():
            raise SiteError(
                f"the site has a building {name!r}, and none {options.building!r}",
                where="--building",
                todo="write it as the site does, or choose a name that differs",
            )
    rest = [
        floor.name for floor in table.floors
        if floor.building is None and floor.name not in options.floors
    ]  # fmt: skip
    changed = own is not None and options.crs is not None and crs != check_map_crs(own, where=where)
    if changed and (others or (options.building and rest)):
        raise SiteError(
            f"the site's map is {own}, and other floors lie on it",
            where="--crs",
            todo=f"give control points in {own}, or leave --crs out",
        )
    if options.building and own is None and rest:
        raise SiteError(
            f"floors without a building would come to lie at the map's origin: {', '.join(rest)}",
            where="--building",
            todo="say --floor NAME for each that lies in it, or georeference them first",
        )
    return crs


def _crs_of(table: SiteTable) -> str | None:
    return table.map_frame.crs if table.map_frame else None


def _deed(options: GeoreferenceOptions) -> tuple[Traverse | None, list[Problem]]:
    if options.deed is None:
        return None, []
    where = str(options.deed)
    traverse = read_deed_file(
        read_bytes(options.deed, where=where, most_bytes=MOST_BYTES),
        options.start or (0.0, 0.0), where=where,
    )  # fmt: skip
    doubt = doubt_of_closure(traverse)
    problems = [Problem("warning", where, doubt, "check its courses")] if doubt else []
    problems.append(
        Problem("note", where, "its bearings were taken from grid north, and nothing was balanced")
    )
    return traverse, problems


def _said(fit: Fit) -> str:
    """Say in a line what a frame comes from; it stands in site.toml and in the exported files."""
    exact = fit.degrees_of_freedom == 0
    how_well = "exact, nothing checks it" if exact else f"RMSE {fit.rmse_m:.3f} m"
    return f"{fit.kind} fit of {len(fit.residuals)} control points, {how_well}"


def _fitted(
    site: Site, before: Site, building: str, frame: MapFrame, points: tuple[ControlPoint, ...],
    fit: Fit, grid_scale: float,
) -> Fitted:  # fmt: skip
    plan, _ = places_of(points)
    middle = plan.mean(axis=0)
    floors = [floor for floor in site.floors if floor.building == building]
    corners = shapely.get_coordinates([floor.outline for floor in floors])
    old = next((one.map_frame for one in before.floors if one.building == building), None)
    return Fitted(
        frame, old, points, fit, grid_scale,
        float(np.hypot(*(corners - middle).T).max(initial=0.0)),
        float(np.hypot(*(plan - middle).T).max()),
        tuple(floor.title or floor.name for floor in floors),
    )  # fmt: skip


def _remarks(
    site: Site, fitted: Fitted, options: GeoreferenceOptions, where: str
) -> Iterator[Problem]:
    if not fitted.floors:
        name = options.building
        todo = (
            f"say --floor NAME, write building = {name!r} under its floors, or say --building to "
            "`hgmap import plan`"
        ) if name else ""  # fmt: skip
        yield Problem("warning", "site.toml", "no floor lies in it yet", todo)
    for floor in site.floors:
        if floor.map_frame != fitted.frame or floor.north_deg is None:
            continue
        off = math.remainder(floor.north_deg - fitted.frame.north_deg, 360.0)
        if abs(off) > NORTH_APART_DEG:
            yield Problem(
                "warning", f"site.toml, floor {floor.name!r}",
                f"its north_deg is {floor.north_deg:g}, and by the points the map's north is "
                f"{math.remainder(fitted.frame.north_deg, 360.0):.1f}",
                "check both: true, magnetic and grid north do not lie so far apart",
            )  # fmt: skip
    if fitted.fit.degrees_of_freedom == 0:
        what = "the scale" if fitted.fit.kind == "conformal" else "scale and squareness"
        yield Problem(
            "note", where,
            f"{len(fitted.points)} points fix the frame and no more: nothing checks it but {what}",
            "measure one more point",
        )  # fmt: skip
    if fitted.farthest_m > FAR_BEYOND * fitted.reach_m:
        yield Problem(
            "note", where,
            f"the plan reaches {fitted.farthest_m:.0f} m from the middle of the points, which lie "
            f"within {fitted.reach_m:.0f} m of it",
            "measure points at its far ends",
        )  # fmt: skip


def _write_corners(
    traverse: Traverse | None, options: GeoreferenceOptions, crs: str | None
) -> tuple[Path, ...]:
    if traverse is None or options.corners is None:
        return ()
    write_corners(options.corners, traverse, crs if options.start else None)
    return (options.corners,)


def _write(
    options: GeoreferenceOptions, before: SiteFiles, after: SiteFiles, site: Site, fitted: Fitted,
    traverse: Traverse | None,
) -> tuple[Path, ...]:  # fmt: skip
    """Write pictures and lists first: a site that says where it lies comes last, or not at all."""
    written = [*_write_corners(traverse, options, fitted.frame.crs)]
    if options.picture is not None:
        from hgmap.report.paper import write

        written.append(write(options.picture, _sheet(site, fitted, options, traverse)))
    if not options.dry_run and after is not before:
        save(after, before)
        written.append(before.folder / SITE_FILE)
    return tuple(written)


def _sheet(
    site: Site, fitted: Fitted, options: GeoreferenceOptions, traverse: Traverse | None
) -> Sheet:
    from hgmap.report.frame_sheet import OnTheMap, frame_sheet
    from hgmap.report.plan_page import Head

    _, given = places_of(fitted.points)
    others = footprints(site.floors)
    others.pop(options.building, None)
    shown = OnTheMap(
        [floor for floor in site.floors if floor.building == options.building], others,
        [one.name for one in fitted.points], given, fitted.fit.residuals,
        traverse.outline if traverse else None,
    )  # fmt: skip
    named = f", {options.building}" if options.building else ""
    title = f"Plan and control points on the map{named}"
    lines = (f"{fitted.frame.crs}  ·  {fitted.frame.fitted}", frame_line(fitted.frame))
    head = Head(site.name, title, lines, site.invented)
    return frame_sheet(shown, head, site.title_block.prepared_by)
