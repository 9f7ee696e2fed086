"""The plan of one floor among the files of a site: found, put back, and scaled with its picture."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Final

from hgmap.editing.floor_settings import set_picture
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_edits import Place
from hgmap.editing.plan_picture import place_picture
from hgmap.editing.plan_repairs import scaled
from hgmap.editing.round_settings import set_opening_in_round
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import table_of
from hgmap.errors import PlanError, SiteError
from hgmap.site.plan_picture import PlanPicture
from hgmap.site.schema import FloorTable, SiteTable
from hgmap.site.shared_plans import floors_with_plan_of

SHORTEST_M: Final = 0.01
"""Two points nearer to each other than this (m) are a slip of the hand."""


def floor_entry(table: SiteTable, floor: str) -> FloorTable:
    """Return what site.toml says of a floor.

    Raises
    ------
    SiteError
        If it has none of that name.
    """
    for one in table.floors:
        if one.name == floor:
            return one
    raise SiteError(f"no floor {floor!r}", where="site.toml")


def floor_named(table: SiteTable, word: str) -> str:
    """Return the name of the floor of this name or title; capitals are not told apart.

    Raises
    ------
    SiteError
        If there is none, or two titles are the same.
    """
    wanted = word.strip().casefold()
    found = [one.name for one in table.floors if one.name.casefold() == wanted]
    found = found or [one.name for one in table.floors if (one.title or "").casefold() == wanted]
    if len(found) == 1 and wanted:
        return found[0]
    known = ", ".join(repr(one.name) for one in table.floors)
    what = f"{len(found)} floors are called {word!r}" if found else f"no floor {word!r}"
    raise SiteError(what, where="site.toml", todo=f"known: {known or 'none'}")


def is_region(table: SiteTable) -> bool:
    """Tell whether plans may be larger than a building: air fills buildings only."""
    return table.medium != "air"


def draft_of(files: SiteFiles, floor: str) -> PlanDraft:
    """Return the plan of a floor as a draft.

    Raises
    ------
    HgmapError
        If there is no such floor, or its file is no plan at all.
    """
    table = table_of(files)
    entry = floor_entry(table, floor)
    return read_plan_draft(files.data(entry.plan), where=entry.plan, region=is_region(table))


def with_plan(files: SiteFiles, floor: str, draft: PlanDraft) -> SiteFiles:
    """Return the files with another plan of a floor.

    What rounds say of openings that are gone goes too, also on other floors with the same plan
    file: a site that names an opening that is not there cannot be read.
    """
    files = files.with_file(floor_entry(table_of(files), floor).plan, draft.to_bytes())
    for round_name, on_floor, opening in said_of_lost_openings(files, floor, draft):
        files = set_opening_in_round(files, round_name, on_floor, opening, None)
    return files


def said_of_lost_openings(
    files: SiteFiles, floor: str, draft: PlanDraft
) -> tuple[tuple[str, str, str], ...]:
    """Return round, floor and opening where a round names one that the floor's plan has not.

    They are looked for on every floor that has the same plan file.
    """
    there = {one.id for one in draft.openings}
    table = table_of(files)
    return tuple(
        (round_.name, name, opening)
        for round_ in table.rounds
        for name in (floor, *floors_with_plan_of(table, floor))
        for opening in round_.openings.get(name, {})
        if opening not in there
    )


def length_between(first: Place, second: Place) -> float:
    """Return the distance (m) of two points that a length is given for.

    Raises
    ------
    PlanError
        If they are one.
    """
    length = math.dist(first, second)
    if not math.isfinite(length) or length < SHORTEST_M:
        raise PlanError("the two points are one", todo="click on two that lie far apart")
    return length


def factor_for(first: Place, second: Place, metres: float) -> float:
    """Return what to multiply by so that two points lie so many metres apart."""
    if not (math.isfinite(metres) and metres > 0):
        raise PlanError(f"a length of {metres:g} m", todo="type a number above 0")
    return metres / length_between(first, second)


def scale_floor(files: SiteFiles, floor: str, factor: float) -> SiteFiles:
    """Multiply a whole plan, and the picture under it, so that they stay in step."""
    table = table_of(files)
    entry = floor_entry(table, floor)
    files = with_plan(files, floor, scaled(draft_of(files, floor), factor))
    picture = picture_of(entry)
    if picture is None:
        return files
    bigger = replace(
        picture,
        m_per_px=picture.m_per_px * factor,
        origin_x_m=picture.origin_x_m * factor,
        origin_y_m=picture.origin_y_m * factor,
        guessed=False,
    )
    return set_picture(files, floor, bigger)


def picture_by_two_points(
    picture: PlanPicture, first: Place, second: Place, metres: float, *, level: bool
) -> PlanPicture:
    """Return how an image lies once two of its points are so many metres apart.

    Parameters
    ----------
    picture : PlanPicture
        How it lies now.
    first, second : (x, y)
        Places on the plan (m) where the two points of the image lie now; the first stays.
    metres : float
        Between them in the building.
    level : bool
        Turn it, too, so that their line lies level, or upright where it is nearer to that.
    """
    pixels = picture.to_pixels([first, second])
    lies = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))
    return place_picture(
        (float(pixels[0][0]), float(pixels[0][1])),
        (float(pixels[1][0]), float(pixels[1][1])),
        metres,
        file=picture.file,
        along_deg=90.0 * round(lies / 90.0) if level else None,
        angle_deg=picture.angle_deg,
        at=first,
    )


def picture_of(entry: FloorTable) -> PlanPicture | None:
    """Return how the image under a floor's plan lies; None where it has none."""
    return None if entry.picture is None else PlanPicture(**entry.picture.model_dump())


def picture_bounds(
    picture: PlanPicture, size_px: tuple[int, int]
) -> tuple[float, float, float, float]:
    """Return west, south, east, north (m) of an image of so many pixels across and down."""
    wide, high = size_px
    corners = picture.to_metres([(0, 0), (wide, 0), (0, high), (wide, high)])
    west, south = corners.min(axis=0)
    east, north = corners.max(axis=0)
    return float(west), float(south), float(east), float(north)
