"""What came of comparing two rounds of a site."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hgmap.decide.change_model import FloorChange
from hgmap.report.drawing import Sheet
from hgmap.site.model import ActionLevel, Problem, Round, Site


@dataclass(frozen=True)
class Comparison:
    """Two rounds compared: what was made, what failed, and what the user should read."""

    site: Site
    before: Round
    after: Round
    level: ActionLevel
    band: str
    floors: tuple[FloorChange, ...]
    failed: tuple[Problem, ...]
    notes: tuple[str, ...]
    warnings: tuple[str, ...]
    temperature: tuple[str, ...]
    out: Path
    sheets: tuple[Sheet, ...] = ()

    @property
    def exit_code(self) -> int:
        """0 where every room fell or stayed clear; 1: something to read; 2: nothing done.

        A room that nobody can tell of is something to read, unless it was clear in both rounds; so
        is any ground on which the air rose, or that went into a worse zone.
        """
        if not self.floors:
            return 2
        rooms = [room for floor in self.floors for room in floor.rooms]
        if self.failed or self.warnings or any(one.rebounded for one in rooms):
            return 1
        if any(one.grounds.rose.area > 0.0 for one in self.floors):
            return 1
        if any(move.worse for one in self.floors for move in one.moves):
            return 1
        calm = all(one.word == "fell" or one.stayed_clear for one in rooms)
        return 0 if calm else 1
