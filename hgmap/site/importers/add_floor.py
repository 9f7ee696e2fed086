"""Adding a floor to a site folder: its place, its plan in our own form, and the report of it."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path

import shapely
from shapely import LineString

from hgmap.errors import HgmapError, PlanError, SiteError
from hgmap.shows_itself import InATable
from hgmap.site.building import Opening, Room
from hgmap.site.files import inside_folder, slug
from hgmap.site.folder import SITE_FILE
from hgmap.site.frames import frames_of
from hgmap.site.geometries import geojson_of
from hgmap.site.importers.found_plan import PlanDoubt, PlanRepair
from hgmap.site.importers.names import one_line_text, typed_name
from hgmap.site.importers.replaced_plan import changed_by_replacing
from hgmap.site.map_frame import MapFrame
from hgmap.site.new_site import (
    check_use,
    new_site_text,
    read_site_text,
    with_floor,
    with_map_frame,
    with_title,
    with_use,
    write_floor,
)
from hgmap.site.plan import read_plan
from hgmap.site.schema import FloorTable, SiteTable, parse_site_table
from hgmap.site.shared_plans import also_changes, floors_with_plan_of

MOVED = "moved_by_m"
"""The member of a plan that holds what was taken off its places: a drawing that lay far out."""

LONGEST_FLOOR_NAME = 60
"""As in site.toml (characters)."""

REPLACED = "replaced plan"
"""The rule of a doubt that says what the old plan had, and the new one has not."""


@dataclass(frozen=True, slots=True)
class ImportReport(InATable):
    """What an import brought, what it mended, and what it left out.

    Attributes
    ----------
    rooms, walls, openings : int
        How many there are on the floor.
    area_m2 : float
        Sum of the room areas (m²).
    width_m, height_m : float
        Extent of the rooms to the right and up on the plan (m).
    repairs : tuple of str
        Each change to what was drawn, with its place and size.
    skipped : tuple of str
        Each feature that was left out, or how many of a sort, and why.
    numbered : tuple of PlanRepair
        Changes that a person may refuse, by their number in this list, from 1.
    doubts : tuple of PlanDoubt
        What a person must look at; those with a place are numbered after the repairs.
    without_opening : int
        How many rooms no opening touches.
    floor : str
        Its name.
    data : bytes
        The plan, in our own form.
    made_site : bool
        Whether the site folder was made by this import.
    plan : Path
        The plan that was written.
    use_stated : bool
        Whether the site says what the building is used for.
    """

    rooms: int
    walls: int
    openings: int
    area_m2: float
    width_m: float
    height_m: float
    repairs: tuple[str, ...]
    skipped: tuple[str, ...]
    made_site: bool
    plan: Path
    use_stated: bool
    numbered: tuple[PlanRepair, ...] = ()
    doubts: tuple[PlanDoubt, ...] = ()
    without_opening: int = 0
    floor: str = ""
    data: bytes = field(default=b"", repr=False)

    @property
    def to_read(self) -> bool:
        """Whether something was mended, left out or in doubt that a person should read."""
        return bool(self.repairs or self.skipped or self.numbered or self.doubts or self.shut_off)

    @property
    def shut_off(self) -> bool:
        """Whether rooms have no opening although there is a next room."""
        return self.without_opening > 0 and self.rooms > 1

    @property
    def said(self) -> tuple[str, ...]:
        """A line for each thing that was mended, is in doubt, or was left out."""
        mended = (*self.repairs, *(one.text for one in self.numbered))
        return (*mended, *(one.text for one in self.doubts), *self.skipped)


@dataclass(frozen=True, slots=True)
class FloorPlace:
    """Where a new floor goes.

    Attributes
    ----------
    folder : Path
        The site folder.
    floor : str
        Name of the floor.
    before : str or None
        The text of site.toml as it is; None where there is no site yet.
    text : str
        The text that the floor is added to.
    table : SiteTable
        What ``text`` says.
    entry : FloorTable or None
        The entry whose plan is replaced; None for a new floor.
    plan : str
        Where the plan goes, relative to the folder.
    building : str or None
        The one of several buildings that the floor lies in.
    dry_run : bool
        Whether nothing is written.
    """

    folder: Path
    floor: str
    before: str | None
    text: str
    table: SiteTable
    entry: FloorTable | None
    plan: str
    building: str | None = None
    dry_run: bool = False

    @property
    def map_frame(self) -> MapFrame | None:
        """The frame that the floor has on the site's map already."""
        return frames_of(self.table, where=SITE_FILE).get(self.building or "")

    @property
    def other_floors(self) -> bool:
        """Whether the site has a floor beside this one."""
        return any(one != self.entry for one in self.table.floors)


def find_place(
    folder: Path,
    floor: str,
    *,
    use: str | None,
    replace: bool,
    building: str | None = None,
    dry_run: bool = False,
) -> FloorPlace:
    """Find where a floor goes, before anything is read from its plan.

    Raises
    ------
    SiteError
        If the site folder cannot be used, says another use of the building, has no such building,
        or has the floor in another one.
    PlanError
        If the floor is there already and is not to be replaced, or its name does not fit.
    """
    floor = _floor_name(floor)
    before = read_site_text(folder)
    text, table = _site_before(folder, before, use=use)
    _check_building(table, floor, building)
    entry = _entry(table, floor, replace=replace)
    plan = entry.plan if entry else f"plans/{slug(floor)}.geojson"
    path = inside_folder(folder, plan, where=f"floor {floor!r}")
    if entry is None and path.exists() and not replace:
        raise PlanError(
            "the file is there already", where=plan, todo="rename the floor, or say --replace"
        )
    lies_in = entry.building if entry else building
    return FloorPlace(folder, floor, before, text, table, entry, plan, lies_in, dry_run)


def add_floor(
    place: FloorPlace,
    rooms: Iterable[Room],
    walls: Iterable[LineString],
    openings: Iterable[Opening],
    *,
    map_frame: MapFrame | None,
    title: str | None,
    repairs: Iterable[str],
    skipped: Iterable[str],
    numbered: Iterable[PlanRepair] = (),
    doubts: Iterable[PlanDoubt] = (),
    moved_by_m: tuple[float, float] | None = None,
) -> ImportReport:
    """Write the plan and site.toml, once the plan has been read back without a complaint.

    Raises
    ------
    PlanError
        If the plan does not stand the checks of :func:`hgmap.site.plan.read_plan`.
    HgmapError
        If the folder cannot be written; it is left as it was.
    """
    data = plan_bytes(rooms, walls, openings, moved_by_m=moved_by_m)
    plan = read_plan(data, where=place.plan, floor=place.floor, region=True)
    text = place.text
    if map_frame is not None and place.map_frame is None:
        text = with_map_frame(text, map_frame)
    title = typed_name(title, "a floor") or None
    if title is not None:
        _check_called(place.table, title, place.entry)
    if place.entry is None:
        text = with_floor(
            text, name=place.floor, title=title, plan=place.plan, building=place.building
        )
    elif title is not None:
        text = with_title(text, floor=place.floor, title=title)
    path = inside_folder(place.folder, place.plan, where=f"floor {place.floor!r}")
    moved: list[str] = []
    also: list[str] = []
    if place.entry is not None:
        also = [also_changes(one) for one in floors_with_plan_of(place.table, place.floor)]
        moved = changed_by_replacing(path, plan, place.table.rounds, floor=place.floor)
    if not place.dry_run:
        write_floor(place.folder, path, data, text, before=place.before)
    west, south, east, north = shapely.total_bounds([room.polygon for room in plan.rooms])
    return ImportReport(
        rooms=len(plan.rooms),
        walls=len(plan.walls),
        openings=len(plan.openings),
        area_m2=sum(room.area_m2 for room in plan.rooms),
        width_m=float(east - west),
        height_m=float(north - south),
        repairs=(*repairs, *(problem.message for problem in plan.problems)),
        skipped=tuple(skipped),
        made_site=place.before is None,
        plan=path,
        use_stated=place.table.use is not None,
        numbered=tuple(numbered),
        doubts=(
            *doubts,
            *(PlanDoubt(one, REPLACED, one, None) for one in moved),
            *(PlanDoubt(one, "shared plan", one, None) for one in also),
        ),
        without_opening=len(
            {room.id for room in plan.rooms}.difference(*(one.rooms for one in plan.openings))
        ),
        floor=place.floor,
        data=data,
    )


def moved_before(place: FloorPlace) -> tuple[float, float] | None:
    """Return what was taken off the places of the building's other floors (m), where it was."""
    for one in place.table.floors:
        if one.building != place.building:
            continue
        try:
            path = inside_folder(place.folder, one.plan, where="")
            moved = json.loads(path.read_bytes()).get(MOVED)
            x, y = (float(number) for number in moved)
        except (OSError, ValueError, TypeError, AttributeError, HgmapError):
            continue
        return x, y
    return None


def plan_bytes(
    rooms: Iterable[Room],
    walls: Iterable[LineString],
    openings: Iterable[Opening],
    *,
    moved_by_m: tuple[float, float] | None = None,
) -> bytes:
    """Write a plan in our own form: one feature a line, coordinates to 0.1 mm."""
    rooms, walls, openings = list(rooms), list(walls), list(openings)
    properties = [{"kind": "room", "id": room.id, "name": room.name} for room in rooms]
    properties += [{"kind": "wall"}] * len(walls)
    properties += [{"kind": "opening", "id": one.id, "state": one.state} for one in openings]
    shapes = [*(one.polygon for one in rooms), *walls, *(one.line for one in openings)]
    encode = json.JSONEncoder(ensure_ascii=False, allow_nan=False).encode
    body = ",\n".join(
        encode({"type": "Feature", "properties": said, "geometry": drawn})
        for said, drawn in zip(properties, geojson_of(shapes, decimals=4), strict=True)
    )
    moved = f'"{MOVED}": {json.dumps(moved_by_m)}, ' if moved_by_m is not None else ""
    return f'{{"type": "FeatureCollection", {moved}"features": [\n{body}\n]}}\n'.encode()


def _floor_name(floor: str) -> str:
    name = one_line_text(floor)
    if not name or len(name) > LONGEST_FLOOR_NAME:
        raise PlanError(
            f"a floor's name has 1 to {LONGEST_FLOOR_NAME} characters, found {floor[:70]!r}",
            where="floor",
        )
    return name


def _site_before(folder: Path, text: str | None, *, use: str | None) -> tuple[str, SiteTable]:
    """Return the text and the table that the floor is added to."""
    where = str(folder / SITE_FILE)
    if use is not None:
        check_use(use)
    if text is None:
        text = new_site_text(one_line_text(folder.resolve().name) or "site", use=use)
        return text, parse_site_table(text, where=where)
    table = parse_site_table(text, where=where)
    if use is not None and table.use is None:
        return with_use(text, use), table
    if use is not None and use != table.use:
        raise SiteError(
            f"the site's use is {table.use!r}, not {use!r}", where=where, todo="leave --use out"
        )
    return text, table


def _check_building(table: SiteTable, floor: str, building: str | None) -> None:
    """Refuse a building that is not there, and the plan of another building's floor."""
    if building is None:
        return
    known = [one.name for one in table.buildings]
    if building not in known:
        raise SiteError(
            f"the site has no building {building!r}", where="--building",
            todo=f"known: {', '.join(known)}" if known else "lay it on the map first, by `hgmap "
            "georeference --building`, or leave --building out",
        )  # fmt: skip
    for one in table.floors:
        if one.name == floor and one.building != building:
            there = f"building {one.building!r}" if one.building else "no building that has a name"
            raise SiteError(
                f"floor {floor!r} lies in {there}; floors of all buildings differ in their names",
                where=SITE_FILE, todo="choose another name for this one",
            )  # fmt: skip


def _entry(table: SiteTable, floor: str, *, replace: bool) -> FloorTable | None:
    """Return the entry whose plan is to be replaced; None for a new floor."""
    file_name = slug(floor).casefold()
    for one in table.floors:
        if one.name == floor:
            if not replace:
                raise PlanError(
                    f"the site has a floor {floor!r}",
                    where=SITE_FILE,
                    todo="choose another name, or say --replace",
                )
            return one
        same_plan = Path(one.plan).as_posix().casefold() == f"plans/{file_name}.geojson"
        if slug(one.name).casefold() == file_name or same_plan:
            raise PlanError(
                f"floor {floor!r} would have the file name of floor {one.name!r}",
                where=SITE_FILE,
                todo="choose a name that differs in its letters or digits",
            )
    _check_called(table, floor, None)
    return None


def _check_called(table: SiteTable, word: str, entry: FloorTable | None) -> None:
    """Refuse a name or title that means another floor: a reading's floor must mean one."""
    for one in table.floors:
        if one is not entry and word.casefold() in (
            one.name.casefold(),
            (one.title or one.name).casefold(),
        ):
            raise PlanError(
                f"floor {one.name!r} is called {word!r} already",
                where=SITE_FILE,
                todo="choose another name",
            )
