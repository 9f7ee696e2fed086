"""The sheets of one floor: laid out together, numbered together, written together."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

import numpy as np

from hgmap.__about__ import __version__
from hgmap.decide.model import FloorEvidence
from hgmap.errors import HgmapError
from hgmap.floor_map import FloorMap, MapOptions
from hgmap.map_case import MapCase
from hgmap.report import paper
from hgmap.report.drawing import Sheet
from hgmap.report.insets import LARGER
from hgmap.report.levels_sheet import levels_sheet
from hgmap.report.plan_marks import Marks
from hgmap.report.readings_sheet import readings_sheet
from hgmap.report.room_sheet import crowded_rooms, room_scale, room_sheet
from hgmap.report.sheet import marked_zone_sheet
from hgmap.report.sheet_page import numbered, sheet_page
from hgmap.report.surface_sheet import surface_sheet
from hgmap.report.uncertainty_sheet import uncertainty_sheet
from hgmap.report.words import named
from hgmap.site.building import Floor
from hgmap.site.files import slug
from hgmap.site.quality.quality import with_cautions
from hgmap.site.rules import how_zones_are_cut

MAP: Final = ("map.pdf", "map.png")
LEVELS: Final = ("levels.pdf", "levels.png")
EVERY: Final = "sheets.pdf"
"""Every sheet of a floor in one file, with a bookmark for each."""

_ONE: Final = "sheet-"
_USUAL_METHOD: Final = (
    "kriging through the doors, logarithms of concentration, 100 places, cells of 0.1 m; weighed "
    "over 100 pairs of range and nugget; nothing estimated outside rooms"
)
"""As long as what stands in the foot of most sheets."""


def floor_sheets(case: MapCase, one: FloorMap, options: MapOptions) -> dict[str, Sheet]:
    """Lay out the sheets of a floor, by name, numbered in this order.

    ``map`` always; ``levels`` where there are several; with ``options.sheets`` also ``estimate``
    and ``uncertainty`` (where there is an estimate), ``readings``, and ``room-ID`` for every room
    whose values do not all find room on the map or in its insets, and for ``options.rooms``.

    Raises
    ------
    HgmapError
        If the plan does not fit the paper at the scale asked for, or there is no such room.
    """
    facts = (case.site, case.round, one.evidence, one.surface)
    readings_warnings = warnings = case.warnings
    if one.surface is None:
        readings_warnings = warnings = (one.no_surface, *warnings)
    # the sheet of the readings says the verdict in a box of its own
    warnings = (*warnings, *with_cautions(case.quality))
    cautions = (*case.cautions, *case.unusual, how_zones_are_cut(case.site.settings))
    setup = options.setup
    asked = asked_rooms([one.floor], options.rooms)
    before = 1 + bool(one.nested)
    if options.sheets:
        before += 1 if one.surface is None else 3

    def details(marks: Marks, mm_per_m: float) -> dict[str, int]:
        crowded = crowded_rooms(marks) if options.sheets else ()
        shown = [*asked]
        for room in crowded:
            scale = room_scale(case.site, case.round, one.evidence, one.surface, room, setup)
            if room not in asked and 1000.0 / scale >= LARGER * mm_per_m:
                shown.append(room)
        return {room: before + n for n, room in enumerate(shown, start=1)}

    first, marks = marked_zone_sheet(
        *facts, one.zones, one.resample, warnings=warnings, cautions=cautions,
        version=__version__, setup=setup, details=details,
    )  # fmt: skip
    found = {"map": first}
    if one.nested:
        found["levels"] = levels_sheet(
            *facts, one.nested, warnings=(*case.warnings, *with_cautions(case.quality)),
            cautions=(*cautions, *case.about_further), version=__version__, setup=setup,
        )  # fmt: skip
    own = details(marks, first.frames[0].mm_per_m)
    if options.sheets:
        if one.surface is not None:
            about = (case.site, case.round, one.evidence, one.surface, one.zones)
            found["estimate"] = surface_sheet(
                *about, warnings=warnings, cautions=cautions, version=__version__, setup=setup,
                sheets=own,
            )  # fmt: skip
            found["uncertainty"] = uncertainty_sheet(
                *about, one.resample, warnings=warnings, cautions=cautions, version=__version__,
                setup=setup,
            )  # fmt: skip
        found["readings"] = readings_sheet(
            *facts, one.zones, case.quality, warnings=readings_warnings, cautions=cautions,
            version=__version__, setup=setup, sheets=own,
        )  # fmt: skip
    for room in own:
        found[f"room-{slug(room)}"] = room_sheet(
            *facts, one.zones, one.resample, room, warnings=warnings, cautions=cautions,
            version=__version__, setup=setup,
        )  # fmt: skip
    return dict(zip(found, numbered(list(found.values())), strict=True))


def write_floor_sheets(sheets: Mapping[str, Sheet], folder: Path, options: MapOptions) -> list[str]:
    """Write the sheets of a floor into its folder; return the names of the files."""
    names: list[str] = []

    def write(name: str, what: Sheet | Sequence[Sheet]) -> None:
        paper.write(folder / name, what, dpi=options.setup.dpi)
        names.append(name)

    for kind, sheet in sheets.items():
        for name in _files_of(kind, options.also):
            write(name, sheet)
    if options.sheets or options.rooms:
        write(EVERY, list(sheets.values()))
    return names


def _files_of(kind: str, also: Sequence[str]) -> tuple[str, ...]:
    own = {"map": MAP, "levels": LEVELS}.get(kind, (f"{_ONE}{kind}.png",))
    return (*own, f"{Path(own[0]).stem}.svg") if "svg" in also else own


def old_sheets(folder: Path, written: Sequence[str] = ()) -> tuple[str, ...]:
    """Return names of sheets in a floor's folder that this run did not write.

    ``written`` are the names of its files, with or without the folder.
    """
    kept = {Path(one).name for one in written}
    found = [EVERY, *sorted(path.name for path in folder.glob(f"{_ONE}*"))]
    return tuple(one for one in found if one not in kept)


def asked_rooms(floors: Sequence[Floor], names: Sequence[str]) -> tuple[str, ...]:
    """Return ids of the rooms of some floors that were asked for, by id or by name."""
    wanted = {one.casefold() for one in names}
    return tuple(
        room.id
        for floor in floors
        for room in floor.rooms
        if wanted & {room.id.casefold(), room.name.casefold()}
    )


def check_sheets(case: MapCase, floors: Sequence[Floor], options: MapOptions) -> None:
    """Refuse, before anything is estimated, a scale that does not fit and rooms that are nowhere.

    Raises
    ------
    HgmapError
        One line that says which scale or paper would do.
    """
    for name in options.rooms:
        if not asked_rooms(floors, (name,)):
            known = named([room.id for floor in floors for room in floor.rooms], 20)
            raise HgmapError(f"no room {name!r}", where="--room", todo=f"known: {known}")
    if options.setup.scale is None:
        return
    panels = (66.0, 78.0) if options.sheets or case.further else (62.0, 70.0)
    for floor in floors:
        bare = FloorEvidence(
            floor, case.round.name, case.band, case.level, (), np.empty((0, 2)), np.empty(0)
        )
        line = f"uncertainty, floor {floor.name}, round {case.round.name}; hgmap {__version__}"
        sheet_page(
            case.site, case.round, bare, None, setup=options.setup, panels_mm=panels,
            method=_USUAL_METHOD, sheet_line=line,
        ).scale()  # fmt: skip
