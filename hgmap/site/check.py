"""Everything wrong with a site folder, found without computing anything."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hgmap.errors import LevelError
from hgmap.shows_itself import InATable
from hgmap.site.buildings import problems_of_buildings
from hgmap.site.folder import read_site
from hgmap.site.level_in_force import level_in_force
from hgmap.site.levels import only_background
from hgmap.site.model import ActionLevel, Problem, Site
from hgmap.site.quality.quality import QualityReport, quality_report
from hgmap.site.trust import judged_site


@dataclass(frozen=True)
class SiteCheck(InATable):
    """A site and what a person should know about it, worst first; a quality record a round."""

    site: Site
    level: ActionLevel | None
    problems: tuple[Problem, ...]
    quality: tuple[QualityReport, ...] = ()

    @property
    def exit_code(self) -> int:
        """0 clean, and every round fit to map; 1 something to read; 2 no floor can be mapped."""
        if self.level is None or not self.site.floors or not self.site.rounds:
            return 2
        if any(one.fitness.verdict != "fit to map" for one in self.quality):
            return 1
        return 1 if any(one.severity != "note" for one in self.problems) else 0


def check_site(folder: Path | str, level: str | None = None) -> SiteCheck:
    """Read a site and judge it.

    Raises
    ------
    SiteError
        If the folder or its site.toml cannot be read at all.
    """
    return judge_site(read_site(folder), level)


def judge_site(site: Site, level: str | None = None) -> SiteCheck:
    """Judge a site that was read: its files, and round by round whether it is fit to map."""
    chosen = None
    try:
        chosen, cautions = level_in_force(site, level)
        of_level = [
            Problem("note" if only_background(text) else "warning", "action level", text)
            for text in cautions
        ]
    except LevelError as error:
        of_level = [Problem("error", error.where or "action level", error.message, error.todo)]
    site = judged_site(site, chosen)
    problems = [*site.problems, *of_level, *problems_of_buildings(site.floors)]
    if not site.floors:
        todo = "`hgmap import plan FILE --into SITE --floor NAME` adds one"
        problems.append(Problem("error", "site.toml", "no floor can be used", todo))
    if not site.rounds:
        todo = "add [[rounds]] with a readings file"
        problems.append(Problem("error", "site.toml", "the site has no round", todo))
    problems.extend(
        Problem("note", floor.title, "no usable reading: it will have no surface", floor=floor.name)
        for floor in site.floors
        if not any(one.usable and one.on_map and one.floor == floor.name for one in site.readings)
    )
    order = {"error": 0, "warning": 1, "held": 2, "note": 3}
    problems.sort(key=lambda one: order[one.severity])
    quality = tuple(quality_report(site, chosen, one.name) for one in site.rounds)
    return SiteCheck(site, chosen, tuple(problems), quality)
