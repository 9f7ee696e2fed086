"""From files to what the window shows: plain functions that run beside it.

What estimates is imported inside them: the window is painted before it is needed.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from hgmap.desktop.choices import Choices
from hgmap.editing.site_files import SiteFiles, site_of
from hgmap.errors import HgmapError

if TYPE_CHECKING:
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.explain import Explanation
    from hgmap.editing.soundness import Finding
    from hgmap.floor_map import FloorMap, MapOptions, ShapedFloor
    from hgmap.map_case import MapCase
    from hgmap.scene.floor_scene import Scene, Shown
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Site


@dataclass(frozen=True)
class Judged:
    """A site read from files that are being edited, and what stands against it."""

    site: Site
    check: SiteCheck
    findings: dict[str, tuple[Finding, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Mapped:
    """One floor's map and what it was asked.

    ``whole`` is False while rooms and places to measure again are still being worked out.
    """

    case: MapCase
    floor_map: FloorMap
    whole: bool = True


WANTED_SOON = (
    "hgmap.survey_questions", "hgmap.desktop.mapping", "hgmap.map_case", "hgmap.scene.floor_scene",
    "hgmap.scene.key", "hgmap.scene.explain_scene", "hgmap.scene.highlight", "hgmap.site.levels",
    "hgmap.batch_choice", "hgmap.batch", "hgmap.live",
)  # fmt: skip


def load_what_is_wanted_soon() -> None:
    """Import, beside the window, what its own thread would otherwise have to wait for."""
    for name in WANTED_SOON:
        importlib.import_module(name)


def judge(files: SiteFiles, choices: Choices) -> Judged:
    """Read the site and say everything that stands against it.

    Raises
    ------
    SiteError
        If site.toml cannot be used.
    """
    load_what_is_wanted_soon()
    from hgmap.editing.plan_draft import read_plan_draft
    from hgmap.editing.soundness import soundness
    from hgmap.site.check import judge_site
    from hgmap.site.schema import parse_site_table

    site = site_of(files)
    check = judge_site(site, choices.level)
    findings: dict[str, tuple[Finding, ...]] = {}
    table = parse_site_table(files.text("site.toml"), where="site.toml")
    for floor in table.floors:
        try:
            findings[floor.name] = soundness(read_plan_draft(files.data(floor.plan)))
        except HgmapError:
            continue  # the site's own problems say so
    return Judged(site, check, findings)


def options_of(choices: Choices) -> MapOptions:
    """Return the choices as the command line's options."""
    from hgmap.floor_map import MapOptions

    return MapOptions(
        round=choices.round or None,
        method=choices.method,
        level=choices.level,
        height_band=choices.band,
        walls=choices.walls,
        remediate_at=choices.remediate_at,
        clear_at=choices.clear_at,
    )


def case_of(site: Site, choices: Choices) -> MapCase:
    """Choose round, height band and levels as a map does."""
    from hgmap.map_case import map_case

    return map_case(site, options_of(choices))


def without_the_rest(made: ShapedFloor) -> FloorMap:
    """Return surface and zones as a map whose rooms and resample list are not there yet."""
    from hgmap.decide.model import ResampleList
    from hgmap.floor_map import FloorMap

    own = made.own
    return FloorMap(
        made.floor, own.evidence, own.surface, made.zones, ResampleList(()),
        no_surface=own.no_surface, nothing_clear=own.nothing_clear,
        nested=made.nested,
    )  # fmt: skip


def explain(mapped: Mapped, x: float, y: float) -> Explanation:
    """Explain one place (m) of a map.

    Raises
    ------
    EstimateError
        If there is no surface, or the place is in no room.
    """
    from hgmap.decide.explain import explain_place
    from hgmap.errors import EstimateError

    one = mapped.floor_map
    if one.surface is None:
        raise EstimateError(f"no surface to explain: {one.no_surface}")
    return explain_place(one.evidence, one.surface, one.zones, x, y)


def clearance_of(site: Site, choices: Choices, progress: Any) -> ClearanceRun:
    """Rule on every room of the round."""
    from hgmap.clearance import ClearanceOptions, rule_on_rooms

    levels = (choices.level,) if choices.level else ()
    return rule_on_rooms(
        site, ClearanceOptions(round=choices.round or None, levels=levels), progress
    )


def scene_of(shown: Shown, px_per_m: float, views: frozenset[str]) -> Scene:
    """Lay the floor out for the screen."""
    from hgmap.scene.floor_scene import floor_scene

    return floor_scene(shown, px_per_m, views)
