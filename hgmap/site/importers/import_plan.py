"""One floor, or every storey, of a drawing in any format, into a site folder.

Read, choose the storey, bring it into metres, find its rooms, check, and only then write.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

import shapely

from hgmap.errors import PlanError
from hgmap.site.building import Opening, Room
from hgmap.site.collector import collector_off
from hgmap.site.importers.add_floor import (
    FloorPlace,
    ImportReport,
    add_floor,
    find_place,
    moved_before,
)
from hgmap.site.importers.as_drawn import rooms_as_drawn
from hgmap.site.importers.drawing import Drawing, Part
from hgmap.site.importers.found_plan import FoundPlan, FoundRoom, PlanDoubt, PlanRepair
from hgmap.site.importers.in_metres import Placed, place_drawings, said_crs
from hgmap.site.importers.names import unique_ids, unique_names
from hgmap.site.importers.readers import reader_of
from hgmap.site.importers.refused import Refused, without_refused
from hgmap.site.importers.side_by_side import with_floors_side_by_side
from hgmap.site.importers.storeys import choose_storey
from hgmap.site.rooming import Rooming, rooms_from_walls

ROOMS = ("drawn", "walls")
"""Whether the rooms are areas of the drawing, or are found from its walls."""


WIDEST_GAP_M = 0.5
"""A wider gap (m) is a way through, and is drawn shut by hand. Ours, no source."""

THICKEST_WALL_M = 1.5
WIDEST_DOOR_M = 8.0
"""What a person may say that walls and door gaps of a drawing are (m). Ours, no source."""


@dataclass(frozen=True, slots=True)
class WantedFloor:
    """What becomes of one storey of a drawing.

    Attributes
    ----------
    folder : Path
        The site; made if it is not there.
    floor : str
        Name of the floor.
    use : str or None
        What the building is used for.
    title : str or None
        Title of the floor, as printed.
    replace : bool
        Put the plan in the place of one of the same floor name, whose entry is kept.
    dry_run : bool
        Say what would come of it, and write nothing.
    building : str or None
        The one of the site's several buildings that the floor lies in.
    """

    folder: Path
    floor: str
    use: str | None = None
    title: str | None = None
    replace: bool = False
    dry_run: bool = False
    building: str | None = None

    def place(self) -> FloorPlace:
        """Find where it goes."""
        return find_place(
            self.folder, self.floor, use=self.use, replace=self.replace, building=self.building,
            dry_run=self.dry_run,
        )  # fmt: skip


@collector_off()
def import_plan(
    file: Path, wanted: WantedFloor, answers: Mapping[str, str], refuse: Refused = ()
) -> ImportReport:
    """Import one floor; everything is checked before anything is written.

    Parameters
    ----------
    file : Path
        A drawing; its ending says its format.
    wanted : WantedFloor
        Where it goes.
    answers : mapping
        What was said about it, by option: those of the format (``PlanReader.asks``), ``storey``,
        ``rooms`` (``"drawn"`` or ``"walls"``), ``gap``, ``wall``, ``door`` (m).
    refuse : sequence of int or str
        Numbers of repairs that are not made, or their keys.

    Raises
    ------
    PlanError
        If the file cannot be used, has no room left, or the floor is there already.
    SiteError
        If the site folder cannot be used.
    """
    place = wanted.place()
    drawing = said_crs(
        choose_storey(_draw(file, answers), answers.get("storey")), answers.get("crs")
    )
    placed = _placed((drawing,), place, answers)
    found = _found(drawing, placed.parts[0], answers, refuse)
    return _add(place, drawing, placed, found, title=wanted.title)


def import_every_storey(
    file: Path,
    wanted: WantedFloor,
    answers: Mapping[str, str],
    refuse: Mapping[str, Refused] = MappingProxyType({}),
) -> tuple[ImportReport, ...]:
    """Import every storey of a drawing, each as a floor that is called as the file calls it.

    ``wanted.floor`` is a word before the storey's name; it may be empty. ``refuse`` names, by
    floor, repairs that are not made. All storeys are read and checked before the first is written.

    Raises
    ------
    PlanError
        As :func:`import_plan`, with the storey.
    """
    drawings = [said_crs(one, answers.get("crs")) for one in _draw(file, answers)]
    many = len(drawings) > 1
    wants = [
        replace(wanted, floor=f"{wanted.floor} {one.storey or ('' if many else 'ground')}".strip())
        for one in drawings
    ]
    places = [one.place() for one in wants]
    if len({one.plan.casefold() for one in places}) < len(places):
        raise PlanError(
            "two of its storeys have one name: " + ", ".join(one.storey for one in drawings),
            where=str(file), todo="import them one by one: --storey and --floor",
        )  # fmt: skip
    placed = _placed(drawings, places[0], answers)
    found = [
        _found(one, parts, answers, refuse.get(want.floor, ()))
        for one, want, parts in zip(drawings, wants, placed.parts, strict=True)
    ]
    return tuple(
        _add(want.place(), one, placed, plan, title=None)
        for want, one, plan in zip(wants, drawings, found, strict=True)
    )


def _draw(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    return reader_of(file).draw(file, answers)


def _placed(drawings: Sequence[Drawing], place: FloorPlace, answers: Mapping[str, str]) -> Placed:
    told = answers.get("units") in ("lonlat", "metres") or bool(answers.get("crs"))
    return place_drawings(
        drawings, site_frame=place.map_frame, other_floors=place.other_floors,
        shift_m=moved_before(place), any_span=told,
    )  # fmt: skip


def _found(
    drawing: Drawing, parts: Sequence[Part], answers: Mapping[str, str], refuse: Refused
) -> FoundPlan:
    settings = _settings(answers)
    told = with_floors_side_by_side if drawing.crs is None else lambda plan: plan
    if not _from_walls(parts, answers.get("rooms")):
        if refuse:
            raise PlanError("no repair of this plan can be refused", where="--refuse")
        return without_refused(lambda _: told(rooms_as_drawn(parts, file=drawing.file)), ())
    found = without_refused(
        lambda keys: told(rooms_from_walls(parts, replace(settings, refused=keys))), refuse
    )
    if not found.rooms:
        why = [*(one.text for one in found.doubts), *found.left_out]
        raise PlanError(
            "no room is found from its walls", where=drawing.file,
            todo="; ".join(why[:3]) or "look whether its walls close",
        )  # fmt: skip
    return found


def _settings(answers: Mapping[str, str]) -> Rooming:
    usual = Rooming()
    return Rooming(
        gap_m=_metres(answers, "gap", usual.gap_m, 0.0, WIDEST_GAP_M),
        thickest_wall_m=_metres(answers, "wall", usual.thickest_wall_m, 0.1, THICKEST_WALL_M),
        widest_door_m=_metres(answers, "door", usual.widest_door_m, 0.7, WIDEST_DOOR_M),
    )


def _metres(
    answers: Mapping[str, str], option: str, usual: float, least: float, most: float
) -> float:
    text = answers.get(option)
    if not text:
        return usual
    try:
        found = float(text)
    except ValueError:
        found = math.nan
    if not least <= found <= most:
        raise PlanError(
            f"{text!r} is out of reach", where=f"--{option}",
            todo=f"write metres from {least:g} to {most:g}",
        )  # fmt: skip
    return found


def _from_walls(parts: Sequence[Part], said: str | None) -> bool:
    if said not in (None, "", *ROOMS):
        raise PlanError(f"{said!r} is not one of {', '.join(ROOMS)}", where="--rooms")
    roles = {one.role for one in parts}
    if said == "drawn" and "room" not in roles:
        raise PlanError("it has no room that is drawn as an area", where="--rooms")
    if said:
        return said == "walls"
    return "room" not in roles or bool(roles & {"outline", "walkable"})


def _add(
    place: FloorPlace, drawing: Drawing, placed: Placed, found: FoundPlan, *, title: str | None
) -> ImportReport:
    rooms, renamed = _named(found.rooms)
    ids = unique_ids([one.id for one in found.openings], letter="D")
    openings = [
        Opening(identifier, one.line, one.state)
        for identifier, one in zip(ids, found.openings, strict=True)
    ]
    moved = []
    if placed.shift_m is not None:
        x, y = placed.shift_m
        moved.append(f"it lies far out: x {x:.0f} and y {y:.0f} m were taken off every place")
    return add_floor(
        place, rooms, found.walls, openings,
        map_frame=placed.frame, title=title, moved_by_m=placed.shift_m,
        repairs=(*moved, *found.mended, *renamed), numbered=found.repairs,
        skipped=(*found.left_out, *drawing.notes),
        doubts=(*(PlanDoubt(one, "drawing", one, None) for one in drawing.doubts), *found.doubts),
    )  # fmt: skip


def _named(found: Sequence[FoundRoom]) -> tuple[list[Room], list[str]]:
    names = unique_names([one.name for one in found])
    ids = unique_ids([one.id for one in found], letter="R", names=names)
    notes = [
        f"{one.label or name}: another room is called {one.name!r}; this one is now {name!r}"
        for one, name in zip(found, names, strict=True)
        if one.name and name != one.name
    ]
    rooms = [
        Room(identifier, name, shapely.orient_polygons(one.polygon))
        for one, name, identifier in zip(found, names, ids, strict=True)
    ]
    return rooms, notes


__all__ = ["ROOMS", "ImportReport", "PlanRepair", "WantedFloor", "import_every_storey",
           "import_plan"]  # fmt: skip
