"""From files to what the window shows: plain functions that run beside it.

What estimates is imported inside them: the window is painted before it is needed.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from hgmap.desktop.choices import Choices
from hgmap.editing.site_files import SiteFiles

if TYPE_CHECKING:
    from hgmap.clearance import ClearanceRun
    from hgmap.decide.explain import Drives, Explanation
    from hgmap.editing.plan_check import PlansCheck
    from hgmap.editing.soundness import Finding
    from hgmap.floor_map import FloorMap, MapOptions, ShapedFloor
    from hgmap.map_case import MapCase
    from hgmap.scene.floor_scene import Scene, Shown
    from hgmap.site.check import SiteCheck
    from hgmap.site.model import Site


@dataclass(frozen=True)
class Judged:
    """A site read from files that are being edited, and what stands against it.

    ``checked`` is what was found on the plans; ``findings`` are those of each floor whose file is a
    plan, and ``plans`` the files that they are of.
    """

    site: Site
    check: SiteCheck
    checked: PlansCheck

    @cached_property
    def findings(self) -> dict[str, tuple[Finding, ...]]:
        """Findings by floor."""
        return {
            floor.name: tuple(one.finding for one in floor.findings)
            for floor in self.checked.floors
            if floor.draft is not None
        }

    @cached_property
    def plans(self) -> dict[str, bytes]:
        """Files of plans by floor."""
        return {
            floor.name: floor.draft.source
            for floor in self.checked.floors
            if floor.draft is not None
        }


@dataclass(frozen=True)
class Mapped:
    """One floor's map and what it was asked.

    ``whole`` is False while rooms and places to measure again are still being worked out.
    """

    case: MapCase
    floor_map: FloorMap
    whole: bool = True


WANTED_SOON = (
    "hgmap.questions.gather", "hgmap.desktop.mapping", "hgmap.map_case", "hgmap.scene.floor_scene",
    "hgmap.scene.key", "hgmap.scene.explain_scene", "hgmap.scene.highlight", "hgmap.site.levels",
    "hgmap.batch_choice", "hgmap.live.floor",
)  # fmt: skip


def load_what_is_wanted_soon() -> None:
    """Import, beside the window, what its own thread would otherwise have to wait for."""
    for name in WANTED_SOON:
        importlib.import_module(name)


def judge(files: SiteFiles, site: Site, choices: Choices, before: Judged | None = None) -> Judged:
    """Say everything that stands against a site; plans judged ``before`` are not looked at again.

    Raises
    ------
    SiteError
        If site.toml cannot be used.
    """
    load_what_is_wanted_soon()
    from hgmap.editing.plan_check import check_plans
    from hgmap.site.check import judge_site

    checked = check_plans(files, before.checked if before is not None else None)
    return Judged(site, judge_site(site, choices.level), checked)


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

    return map_case(as_chosen(site, choices), options_of(choices))


def as_chosen(site: Site, choices: Choices) -> Site:
    """Return the site with what no option of the command line takes back: taped or whole rooms."""
    if choices.zones is None:
        return site
    return replace(site, settings=replace(site.settings, zones=choices.zones))


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


def figures(mapped: Mapped, x: float, y: float) -> Explanation:
    """Say what the map says at a place (m), without what drives it.

    Raises
    ------
    EstimateError
        If there is no surface, or the place is in no room.
    """
    from hgmap.decide.explain import figures_at
    from hgmap.errors import EstimateError

    one = mapped.floor_map
    if one.surface is None:
        raise EstimateError(f"no surface to explain: {one.no_surface}")
    return figures_at(one.evidence, one.surface, one.zones, x, y)


def drives_of(mapped: Mapped) -> Drives:
    """Return what finds the drivers of places of a map; to be kept as long as the map is.

    Raises
    ------
    EstimateError
        If there is no surface.
    """
    from hgmap.decide.explain import Drives
    from hgmap.errors import EstimateError

    one = mapped.floor_map
    if one.surface is None:
        raise EstimateError(f"no surface to explain: {one.no_surface}")
    return Drives(one.evidence, one.surface)


def clearance_of(
    site: Site, choices: Choices, progress: Any, rule: str | None = None, with_map: bool = False
) -> ClearanceRun:
    """Rule on every room of the round, by every rule unless one is named."""
    from hgmap.clearance import ClearanceOptions, rule_on_rooms

    levels = (choices.level,) if choices.level else ()
    options = ClearanceOptions(
        round=choices.round or None, levels=levels, rule=rule, with_map=with_map
    )
    return rule_on_rooms(site, options, progress)


def scene_of(shown: Shown, px_per_m: float, views: frozenset[str]) -> Scene:
    """Lay the floor out for the screen."""
    from hgmap.scene.floor_scene import floor_scene

    return floor_scene(shown, px_per_m, views)
