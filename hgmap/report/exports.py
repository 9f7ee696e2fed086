"""Further formats that a run may be asked for, by name, and the files that each of them makes."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Final, Literal, get_args

from hgmap.errors import HgmapError
from hgmap.report.geojson import geojson_files, write_geojson
from hgmap.report.geotiff import write_geotiff
from hgmap.report.run_facts import MappedFloor, RunFacts
from hgmap.report.site_map import SITE_MAP, several_buildings, write_site_map
from hgmap.report.workbook import write_workbook
from hgmap.site.reading import Reading

Format = Literal["geojson", "geotiff", "dxf", "xlsx", "svg"]
FORMATS: Final[tuple[Format, ...]] = get_args(Format)

SURFACE: Final = "surface.tif"
DRAWING: Final = "plan.dxf"
WORKBOOK: Final = "site.xlsx"


def check_formats(asked: Iterable[str]) -> tuple[Format, ...]:
    """Return formats that were asked for, each once, in our order.

    Raises
    ------
    HgmapError
        If one is not a format of ours.
    """
    names = tuple(asked)
    for name in names:
        if name not in FORMATS:
            raise HgmapError(
                f"{name!r} is no further format", where="--also",
                todo=f"choose from {', '.join(FORMATS)}",
            )  # fmt: skip
    return tuple(one for one in FORMATS if one in names)


def _svg_of(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(f"{name.removesuffix('.pdf')}.svg" for name in names if name.endswith(".pdf"))


def write_floor_exports(
    folder: Path, also: Sequence[str], facts: RunFacts, one: MappedFloor
) -> tuple[list[str], list[str]]:
    """Write the formats that have files for each floor; return their names, and what failed.

    One that cannot be made is said in a line and takes neither the others nor the map with it.
    """
    names: list[str] = []
    failed: list[str] = []
    for kind in check_formats(also):
        try:
            names += _write(kind, folder, facts, one)
        except HgmapError as error:
            failed.append(f"{one.floor.title or one.floor.name}: no {kind} was made: {error}")
    return names, failed


def _write(kind: Format, folder: Path, facts: RunFacts, one: MappedFloor) -> list[str]:
    if kind == "geojson":
        return write_geojson(folder, facts, one)
    if kind == "geotiff":
        return [SURFACE] if write_geotiff(folder / SURFACE, facts, one) else []
    if kind == "dxf":
        from hgmap.report.dxf import write_dxf

        write_dxf(folder / DRAWING, facts, one)
        return [DRAWING]
    return []


def write_run_exports(
    folder: Path,
    also: Sequence[str],
    facts: RunFacts,
    floors: Sequence[MappedFloor],
    readings: Iterable[Reading],
) -> None:
    """Write what has one file for the whole run: formats, and the map of several buildings."""
    write_site_map(folder, facts, floors)
    if "xlsx" in also:
        write_workbook(folder / WORKBOOK, facts, floors, readings)


def floor_files_not_in(names: Iterable[str], sheets: Sequence[str]) -> tuple[str, ...]:
    """Return every file of a floor that is ours and that a run did not write.

    Where an earlier run left one it is out of date. ``sheets`` are the names that sheets always
    have.
    """
    every = {SURFACE, DRAWING, *_svg_of(sheets)}
    for on_map in (True, False):
        every |= {*geojson_files(on_map=on_map, several_levels=True)}
    return tuple(sorted(every - set(names)))


def run_files_not_in(also: Sequence[str], floors: Sequence[MappedFloor]) -> tuple[str, ...]:
    """Return every file of a run that is ours and that it did not write."""
    site_map = () if several_buildings(floors) else SITE_MAP
    return site_map if "xlsx" in also else (*site_map, WORKBOOK)
