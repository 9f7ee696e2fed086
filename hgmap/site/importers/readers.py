"""Which outside formats a floor plan is read from: asked in one place.

A new format is one more entry of :func:`plan_readers`; whoever asks for a drawing then offers it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from hgmap.errors import PlanError
from hgmap.site.importers.add_floor import ImportReport


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
    read : callable
        ``read(file, folder, floor, answers)`` puts the floor into a site folder. ``answers`` are
        those of ``asks`` that a person gave.
    """

    name: str
    endings: tuple[str, ...]
    asks: tuple[str, ...]
    read: Callable[[Path, Path, str, Mapping[str, str]], ImportReport]


def _geojson(file: Path, folder: Path, floor: str, answers: Mapping[str, str]) -> ImportReport:
    from hgmap.site.importers.geojson import import_geojson
    from hgmap.site.importers.placing import Units

    units: Units | None = None
    if answers.get("units") == "lonlat":
        units = "lonlat"
    elif answers.get("units") == "metres":
        units = "metres"
    return import_geojson(
        file, folder, floor, where=answers.get("where"), units=units, crs=answers.get("crs")
    )


def plan_readers() -> tuple[PlanReader, ...]:
    """Return every format that a plan is read from."""
    return (
        PlanReader("GeoJSON", (".geojson", ".json"), ("where", "units", "crs"), _geojson),
    )  # fmt: skip


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
