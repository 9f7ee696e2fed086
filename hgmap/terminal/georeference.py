"""What ``hgmap georeference`` prints: points with their misses, the frame, what to beware of."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from rich.console import Console
from rich.table import Table

from hgmap.georeference import georeference_site
from hgmap.georeference_model import Fitted, GeoreferenceOptions
from hgmap.site.control.traverse import Traverse
from hgmap.site.control.words import dms, frame_line, ppm
from hgmap.terminal.lines import problem_line, say
from hgmap.terminal.results import console_for_results


def georeference_and_print(folder: Path, options: GeoreferenceOptions) -> int:
    """Run, print what was found, return the exit status."""
    done = georeference_site(folder, options)
    console = console_for_results()
    if done.traverse is not None:
        _print_traverse(console, done.traverse, on_map=options.start is not None)
    if done.fitted is not None:
        _print_fit(console, done.fitted, done.site.name, options)
    for one in done.problems:
        say(console, f"{one.severity}: {problem_line(one)}")
    for path in done.written:
        console.print(f"written to {path}")
    if options.dry_run and options.points is not None:
        console.print("site.toml is as it was: this was a dry run")
    return done.exit_code


def _print_fit(console: Console, fitted: Fitted, site: str, options: GeoreferenceOptions) -> None:
    fit, frame = fitted.fit, fitted.frame
    name = f"{site}, {options.building}" if options.building else site
    console.print(f"{name}: {fit.kind} fit to {frame.crs}", style="bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("point")
    for title in ("x m", "y m", "east m", "north m", "Δ east m", "Δ north m", "miss m"):
        table.add_column(title, justify="right")
    for point, (east, north) in zip(fitted.points, fit.residuals.tolist(), strict=True):
        places = (f"{one:.3f}" for one in (point.x, point.y, point.east, point.north))
        table.add_row(point.name, *places, f"{_plain(east):.3f}", f"{_plain(north):.3f}",
                      f"{math.hypot(east, north):.3f}")  # fmt: skip
    console.print(table)
    console.print("Δ: as the fit has it, less as given")
    free = fit.degrees_of_freedom
    error = fit.standard_error_m
    say(console, f"RMSE {fit.rmse_m:.4f} m (root of the mean squared miss of a point)" + (
        f"; standard error of unit weight {error:.4f} m, {free} degrees of freedom"
        if error is not None else "; no degree of freedom is left"))  # fmt: skip
    say(console, f"{frame_line(frame)}; the map's own scale here: {ppm(fitted.grid_scale)}")
    say(console, f"plan origin at east {frame.origin_x_m:.3f}, north {frame.origin_y_m:.3f}")
    north = math.remainder(frame.north_deg, 360.0)
    say(console, f"grid north on the plan: {dms(north)} clockwise from plan-up; it counts on every "
                 "floor that states no north_deg of its own")  # fmt: skip
    if error is not None:
        at_corner = fit.error_at(fitted.farthest_m, np.array([(p.x, p.y) for p in fitted.points]))
        say(console, f"standard error of east and of north at the plan's farthest corner: "
                     f"{at_corner:.3f} m")  # fmt: skip
    if fitted.floors:
        say(console, f"floors that lie so: {', '.join(fitted.floors)}")
    if fitted.before is not None and fitted.before != frame:
        say(console, f"before: {fitted.before.crs}, origin {fitted.before.origin_x_m:.3f}, "
                     f"{fitted.before.origin_y_m:.3f}, {frame_line(fitted.before)}")  # fmt: skip


def _print_traverse(console: Console, traverse: Traverse, *, on_map: bool) -> None:
    console.print("deed", style="bold")
    table = Table(box=None, pad_edge=False, header_style="bold")
    for title in ("corner", "east m", "north m", "azimuth", "length m", "as written"):
        table.add_column(title, justify="left" if title in ("corner", "as written") else "right")
    for k, course in enumerate(traverse.courses):
        east, north = traverse.corners[k].tolist()
        way = (dms(course.azimuth_deg), f"{course.length_m:.3f}", course.written)
        table.add_row(str(k + 1), f"{_plain(east):.3f}", f"{_plain(north):.3f}", *way)
    east, north = traverse.corners[-1].tolist()
    table.add_row("end", f"{_plain(east):.3f}", f"{_plain(north):.3f}")
    console.print(table)
    if not on_map:
        console.print("corners count from the first one: no start on the map was given")
    departure, latitude = traverse.misclosure
    ratio = "closes" if math.isinf(traverse.ratio) else f"1 in {traverse.ratio:.0f}"
    parts = f"east {_plain(departure):+.3f}, north {_plain(latitude):+.3f}"
    say(console, f"length {traverse.length_m:.3f} m; misclosure {traverse.misclosure_m:.3f} m "
                 f"({parts}), {ratio}")  # fmt: skip
    if traverse.area_m2 is not None:
        say(console, f"area {traverse.area_m2:.2f} m² by the corners as they are")


def _plain(value: float) -> float:
    """Return a number that is not printed as minus nought."""
    return 0.0 if abs(value) < 5e-4 else value
