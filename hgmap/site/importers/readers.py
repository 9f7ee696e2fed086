"""Which outside formats a floor plan is read from: asked in one place.

A new format is one more entry of :func:`plan_readers`; whoever asks for a drawing then offers it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from hgmap.errors import PlanError
from hgmap.site.files import read_bytes
from hgmap.site.importers.drawing import Drawing

if TYPE_CHECKING:
    from hgmap.site.importers.schedule_cells import LengthUnit

ALWAYS_ASKED = ("storey", "rooms", "gap", "wall", "door", "crs")
"""What every format may have to be told."""

LENGTHS = ("metres", "cm", "mm", "ft", "in")
LONLAT = ("lonlat", *LENGTHS)

TABLES = (".csv", ".tsv", ".xlsx")
"""Endings of tables: a room schedule has them, and so have readings."""


@dataclass(frozen=True, slots=True)
class PlanReader:
    """One format.

    Attributes
    ----------
    name : str
        As a person calls it.
    endings : tuple of str
        Of its files, with the dot, in small letters.
    asks : tuple of str
        What it may have to be told: options of the command line without their dashes.
    draw : callable
        ``draw(file, answers)`` returns the storeys of a file. ``answers`` are those of ``asks``
        that a person gave.
    units : tuple of str
        What its coordinates may be in, where ``units`` is asked.
    """

    name: str
    endings: tuple[str, ...]
    asks: tuple[str, ...]
    draw: Callable[[Path, Mapping[str, str]], tuple[Drawing, ...]]
    units: tuple[str, ...] = LENGTHS


def _geojson(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.geojson import draw_geojson

    return draw_geojson(file, answers)


def _gpkg(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.geojson import drawings_of
    from hgmap.site.importers.gpkg import gpkg_features

    features, crs, notes = gpkg_features(file, file=str(file))
    drawings = drawings_of(features, answers, known=crs, file=str(file))
    return tuple(replace(one, notes=(*one.notes, *notes)) for one in drawings)


def _dxf(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.dxf import draw_dxf

    unit = {"metres": "m"}.get(answers.get("units", ""), answers.get("units"))
    layers = layers_of(answers.get("layers", ""))
    return draw_dxf(_bytes(file), file=str(file), layers=layers, unit=unit)


def _wkt(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.wkt import draw_wkt

    return draw_wkt(_bytes(file), file=str(file))


def _idf(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.idf import draw_idf

    return draw_idf(_bytes(file), file=str(file))


def _ifc(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.ifc import draw_ifc

    return draw_ifc(_bytes(file), file=str(file))


def _schedule(file: Path, answers: Mapping[str, str]) -> tuple[Drawing, ...]:
    from hgmap.site.importers.schedule import draw_schedule

    units = answers.get("units", "metres")
    if units not in ("metres", "ft"):
        raise PlanError(f"{units!r} is not metres or ft", where="--units",
                        todo="write other units into the titles of the table")  # fmt: skip
    lengths: LengthUnit = "ft" if units == "ft" else "m"
    return draw_schedule(_bytes(file), file=str(file), units=lengths, sheet=answers.get("sheet"))


def _bytes(file: Path) -> bytes:
    return read_bytes(file, where=str(file))


def layers_of(text: str) -> dict[str, str]:
    """Read which layers are what, as ``"wall=A-WALL*,COLS; door=A-DOOR*"``.

    Raises
    ------
    PlanError
        If it has not that form.

    Examples
    --------
    >>> layers_of("wall=A-WALL*,COLS; door=A-DOOR*")
    {'wall': 'A-WALL*;COLS', 'door': 'A-DOOR*'}
    """
    found: dict[str, str] = {}
    for one in text.split(";"):
        role, equals, patterns = (part.strip() for part in one.partition("="))
        if not one.strip():
            continue
        if not (role and equals and patterns):
            raise PlanError(f"{one.strip()!r} is not role=layers", where="--layers",
                            todo='write it like "wall=A-WALL*,COLS; door=A-DOOR*"')  # fmt: skip
        told = [found[role]] if role in found else []
        found[role] = ";".join([*told, *(name.strip() for name in patterns.split(","))])
    return found


@cache
def plan_readers() -> tuple[PlanReader, ...]:
    """Return every format that a plan is read from."""
    told = ALWAYS_ASKED
    return (
        PlanReader("GeoJSON", (".geojson", ".json"), ("where", "units", *told), _geojson, LONLAT),
        PlanReader("GeoPackage", (".gpkg",), ("where", "units", *told), _gpkg, LONLAT),
        PlanReader("DXF", (".dxf",), ("layers", "units", *told), _dxf),
        PlanReader("WKT", (".wkt",), told, _wkt),
        PlanReader("IFC", (".ifc",), told, _ifc),
        PlanReader("EnergyPlus input", (".idf",), told, _idf),
        PlanReader("room schedule", TABLES, ("units", "sheet", *told), _schedule, ("metres", "ft")),
    )


def drawing_endings() -> tuple[str, ...]:
    """Return the endings of every drawing that is read, with their dots, in small letters."""
    return tuple(dict.fromkeys(ending for one in plan_readers() for ending in one.endings))


def reader_of(file: Path) -> PlanReader:
    """Return the format of a file, by its ending.

    Raises
    ------
    PlanError
        If there is none; the ones there are, are listed.
    """
    ending = file.suffix.casefold()
    for one in plan_readers():
        if ending in one.endings:
            return one
    known = ", ".join(f"{one.name} ({' '.join(one.endings)})" for one in plan_readers())
    raise PlanError(
        f"{ending or 'no ending'} is no drawing that is read", where=str(file),
        todo=f"export it as {known}",
    )  # fmt: skip
