"""What a row shares with many others: floor, kind, height, round, instrument."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

from hgmap.site.building import Floor
from hgmap.site.intake.height import parse_height
from hgmap.site.intake.kinds import parse_kind
from hgmap.site.reading import OFF_MAP, ReadingKind
from hgmap.site.reading_context import ReadingContext
from hgmap.site.textfile import DecimalMarks
from hgmap.site.whereabouts import find_band, find_floor

SEARCH_BAND: Final = "source search"


class SettingCells(NamedTuple):
    """The cells that say it."""

    floor: str
    kind: str
    height: str
    round: str
    instrument: str


@dataclass(frozen=True, slots=True)
class Setting:
    """What they say.

    ``nowhere`` is True for what is not taken at a place of a floor: it needs no place, and one
    that is wrong holds nothing.
    """

    kind: ReadingKind
    floor: Floor | None
    floor_name: str
    height_m: float | None
    band: str
    round: str
    instrument: str
    nowhere: bool
    held: tuple[str, ...]
    cautions: tuple[str, ...]


class SettingReader:
    """Reads those cells for one file."""

    def __init__(
        self, context: ReadingContext, marks: DecimalMarks, round_name: str | None
    ) -> None:
        self._context = context
        self._marks = marks
        self._round_name = round_name

    def read(self, cells: SettingCells) -> Setting:
        """Read one row's cells."""
        context = self._context
        held: list[str] = []
        cautions: list[str] = []
        kind = parse_kind(cells.kind) if cells.kind else "reading"
        if kind is None:
            held.append(f"kind {cells.kind!r} is not known")
            kind = "reading"
        nowhere = kind in OFF_MAP
        round_name = self._round(cells.round, held)
        of_place: list[str] = []
        floor = None
        if cells.floor or not nowhere:
            floor = find_floor(cells.floor, context.floors, context.lost_floors, of_place)
        height_m, band = self._height(cells.height, kind, of_place, cautions)
        if not nowhere:
            held += of_place
        return Setting(
            kind=kind,
            floor=floor,
            floor_name=floor.name if floor else cells.floor,
            height_m=height_m,
            band=band,
            round=round_name,
            instrument=cells.instrument,
            nowhere=nowhere,
            held=tuple(held),
            cautions=tuple(cautions),
        )

    def _round(self, text: str, held: list[str]) -> str:
        if text:
            if text not in self._context.rounds:
                held.append(f"round {text!r} is not in site.toml")
            return text
        if self._round_name is None:
            held.append("no round, and several rounds share this file")
        return self._round_name or ""

    def _height(
        self, text: str, kind: ReadingKind, held: list[str], cautions: list[str]
    ) -> tuple[float | None, str]:
        """Return height (m) and band; what is not of the air at a height has no band."""
        context = self._context
        metres = None
        if text:
            height = parse_height(text, self._marks)
            metres = height.metres
            if height.held:
                held.append(height.held)
            if height.caution:
                cautions.append(f"height {text!r}: {height.caution}")
        if context.medium != "air" or kind in OFF_MAP:
            return metres, ""
        if kind == SEARCH_BAND:
            # a search speaks of its source, not of the air that people breathe at that height
            return metres, SEARCH_BAND
        if not text and context.default_height_m is not None:
            metres = context.default_height_m
            cautions.append(f"height not stated; taken as {metres:g} m as site.toml says")
        return metres, find_band(metres, context.bands, held, cautions)
