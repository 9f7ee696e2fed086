"""What is drawn of each of our objects: its floors as views."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import singledispatch
from typing import Any, Final

from hgmap.batch import MapRun
from hgmap.clearance import ClearanceRun
from hgmap.compare import Comparison
from hgmap.decide.change_model import FloorChange
from hgmap.decide.clearance.outcome import LevelClearance
from hgmap.decide.design.visits import FloorWalk
from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.design import DesignRun, lines_of
from hgmap.errors import HgmapError
from hgmap.field.surface import Surface
from hgmap.floor_map import FloorMap
from hgmap.report.words import level_line, level_value, round_line
from hgmap.scene.release_scene import LOOKS, SIGNS, release_scene, room_outcomes
from hgmap.showing.map_views import (
    change_view,
    evidence_view,
    floor_map_view,
    places_view,
    plan_view,
    surface_view,
    walk_view,
    zones_view,
)
from hgmap.showing.view import Sign, View, bounds_of
from hgmap.site.building import Floor
from hgmap.site.cautions import SCREENING
from hgmap.site.model import ActionLevel, Site

CHOICES: Final[dict[type, tuple[str, ...]]] = {
    FloorMap: ("zones", "estimate", "chance", "readings"),
    MapRun: ("zones", "estimate", "chance", "readings"),
    Surface: ("estimate", "uncertainty"),
}
"""What can be asked of ``show``; the first is usual. Everything else has one view."""


def views_of(thing: Any, show: str | None, floor: str | None) -> list[View]:
    """Return a view of each floor, or of the one asked for.

    Raises
    ------
    HgmapError
        If there is nothing to draw, no such floor, or no such view.
    """
    choices = next((names for kind, names in CHOICES.items() if isinstance(thing, kind)), ())
    if show is not None and show not in choices:
        raise HgmapError(
            f"a {type(thing).__name__} has no view {show!r}", where="plot, show",
            todo=f"say one of {', '.join(choices)}" if choices else "leave it out",
        )  # fmt: skip
    views = _views(thing, show or (choices[0] if choices else ""))
    if not views:
        raise HgmapError(f"this {type(thing).__name__} has no floor to draw", where="plot")
    if floor is None:
        return views
    asked = [one for one in views if floor in one.floor]
    if not asked:
        known = ", ".join(one.floor[0] for one in views)
        raise HgmapError(f"no floor {floor!r}", where="plot, floor", todo=f"say one of {known}")
    return asked


@singledispatch
def _views(thing: Any, show: str) -> list[View]:
    raise HgmapError(f"a {type(thing).__name__} has no picture", where="plot")


@_views.register
def _(thing: Site, show: str) -> list[View]:
    made = f"{thing.name}: "
    return [_headed(plan_view(one), made) for one in thing.floors]


@_views.register
def _(thing: Floor, show: str) -> list[View]:
    return [plan_view(thing)]


@_views.register
def _(thing: Surface, show: str) -> list[View]:
    return [surface_view(thing, show)]


@_views.register
def _(thing: FloorEvidence, show: str) -> list[View]:
    return [_of_level(evidence_view(thing), thing.level)]


@_views.register
def _(thing: Zones, show: str) -> list[View]:
    return [_of_level(zones_view(thing), thing.level)]


@_views.register
def _(thing: ResampleList, show: str) -> list[View]:
    return [places_view(thing)] if thing.places else []


@_views.register
def _(thing: FloorMap, show: str) -> list[View]:
    return [_of_level(floor_map_view(thing, show), thing.evidence.level)]


@_views.register
def _(thing: MapRun, show: str) -> list[View]:
    # what a run says of its floors stands with each floor too
    titles = tuple(f"{one.floor.title}: " for one in thing.floors)
    warnings = [text for text in thing.warnings if not text.startswith(titles)]
    views = []
    for one in thing.floors:
        view = _of_level(floor_map_view(one, show, round_line(thing.round)), thing.level)
        views.append(_headed(view, f"{thing.site.name}: ", (*warnings, *view.beware)))
    return views


@_views.register
def _(thing: FloorChange, show: str) -> list[View]:
    return [_of_level(change_view(thing), thing.after.evidence.level)]


@_views.register
def _(thing: Comparison, show: str) -> list[View]:
    beware = (*thing.warnings, *thing.temperature)
    rounds = (round_line(thing.before), round_line(thing.after))
    views = []
    for one in thing.floors:
        view = _of_level(change_view(one, rounds), thing.level)
        views.append(_headed(view, f"{thing.site.name}: ", (*beware, *view.beware)))
    return views


@_views.register
def _(thing: LevelClearance, show: str) -> list[View]:
    return [_of_level(_cleared(one.floor, (thing,)), thing.level) for one in thing.floors]


@_views.register
def _(thing: ClearanceRun, show: str) -> list[View]:
    head = f"{thing.site.name}, {round_line(thing.round)}: "
    floors: dict[str, Floor] = {
        one.floor.name: one.floor for level in thing.levels for one in level.floors
    }
    lines = (*(_level_words(one.level) for one in thing.levels), SCREENING)
    return [
        replace(_headed(_cleared(one, thing.levels), head, thing.warnings), lines=lines)
        for one in floors.values()
    ]


@_views.register
def _(thing: FloorWalk, show: str) -> list[View]:
    return [walk_view(thing)]


@_views.register
def _(thing: DesignRun, show: str) -> list[View]:
    return [
        replace(_headed(walk_view(one), f"{thing.site.name}: ", thing.warnings),
                lines=lines_of(thing))
        for one in thing.floors
    ]  # fmt: skip


def _cleared(floor: Floor, levels: Sequence[LevelClearance]) -> View:
    """Show the rooms of a floor by their worst outcome."""
    from hgmap.scene.key import key_of_release

    outcomes = room_outcomes(levels, floor.name)
    held = [one.reason for level in levels for one in level.held_back]
    return View(
        f"{floor.title or floor.name}, what clearance says",
        (),
        (floor.name, floor.title),
        bounds_of(floor),
        lambda mm_per_m, pad_mm: (
            release_scene(floor, outcomes, mm_per_m),
            lambda width_mm: key_of_release(floor, outcomes, width_mm),
        ),
        tuple(Sign(f"{SIGNS[word]} {word}", *look) for word, look in LOOKS.items()),
        _once((*held, *(text for level in levels for text in level.notes))),
    )


def _of_level(view: View, level: ActionLevel) -> View:
    return replace(view, lines=(_level_words(level), SCREENING, *view.lines))


def _level_words(level: ActionLevel) -> str:
    memory = "; value from memory" if level.from_memory else ""
    return f"Action level {level_value(level)}: {level_line(level)}{memory}"


def _headed(view: View, head: str, beware: Iterable[str] = ()) -> View:
    return replace(view, title=head + view.title, beware=_once(beware) or view.beware)


def _once(texts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(texts))
