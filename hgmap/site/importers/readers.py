"""Which outside formats a floor plan is read from: asked in one place.

A new format is one more entry of :func:`plan_readers`; whoever asks for a drawing then offers it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from hgmap.errors import PlanError
from hgmap.site.importers.drawing import Drawing

ALWAYS_ASKED = ("storey", "rooms", "gap", "crs")
"""What every format may have to be told."""

LENGTHS = ("metres", "cm", "mm", "ft", "in")
LONLAT = ("lonlat", "metres")


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


def plan_readers() -> tuple[PlanReader, ...]:
    """Return every format that a plan is read from."""
    return (
        PlanReader("GeoJSON", (".geojson", ".json"), ("where", "units", *ALWAYS_ASKED), _geojson,
                   LONLAT),
    )  # fmt: skip


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
