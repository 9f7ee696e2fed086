"""What every exported file says of itself: whose survey, which level, which cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.decide.rooms import RoomRow
from hgmap.field.surface import Surface
from hgmap.report.words import answer, band_line, level_line, level_value, per_cent, round_line
from hgmap.site.building import Floor
from hgmap.site.cautions import screening
from hgmap.site.model import ActionLevel, Problem, Round, Site


class MappedFloor(Protocol):
    """What a writer needs of a floor's map; :class:`hgmap.floor_map.FloorMap` is one."""

    @property
    def floor(self) -> Floor:
        """Of the round."""

    @property
    def evidence(self) -> FloorEvidence:
        """What the map is made of."""

    @property
    def surface(self) -> Surface | None:
        """None where there is no estimate."""

    @property
    def zones(self) -> Zones:
        """The pieces that can be taped off."""

    @property
    def resample(self) -> ResampleList:
        """Places to measure again."""

    @property
    def rooms(self) -> tuple[RoomRow, ...]:
        """A row a room."""

    @property
    def nested(self) -> tuple[Zones, ...]:
        """The zones of every level, where there are several."""

    @property
    def warnings(self) -> tuple[str, ...]:
        """What a reader of this floor's map has to know."""


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What holds for every floor of a run.

    ``cautions`` and ``warnings`` are those that stand on the sheets; ``version`` is that of hgmap.
    """

    site: Site
    round: Round
    level: ActionLevel
    band: str
    cautions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    version: str = ""
    failed: tuple[Problem, ...] = ()


def facts_of_run(facts: RunFacts) -> Iterator[tuple[str, str]]:
    """Go through what holds for the whole run: a heading and a line; a heading may come again."""
    site, level, block = facts.site, facts.level, facts.site.title_block
    yield "site", site.name
    if site.invented:
        yield "site", "invented: no such building, readings or people"
    for heading, text in (
        ("client", block.client), ("address", block.address), ("project", block.project),
        ("prepared by", block.prepared_by), ("reviewed by", block.reviewed_by),
        ("instrument", block.instrument),
    ):  # fmt: skip
        if text:
            yield heading, text
    yield "analyte", site.analyte
    yield "round", round_line(facts.round)
    yield "height", band_line(facts.band, site.height_bands)
    yield "action level", level_value(level)
    yield "action level", level_line(level)
    if level.from_memory:
        yield "action level", "value from memory: check the source"
    yield (
        "zones",
        f"remediate from a chance of {per_cent(site.settings.remediate_at)} of being above the "
        f"level; clear only up to {per_cent(site.settings.clear_at)} and where nothing else "
        "forbids it; resample wherever it hangs in the balance; no data where no reading speaks",
    )
    for text in facts.cautions:
        yield "caution", text
    for text in facts.warnings:
        yield "warning", text
    yield "caution", screening(site.medium)
    yield "made by", f"hgmap {facts.version}".strip()


def facts_of_floor(one: MappedFloor) -> Iterator[tuple[str, str]]:
    """Go through what holds for one floor."""
    yield "floor", one.floor.title or one.floor.name
    if one.floor.building:
        yield "building", one.floor.building
    frame = one.floor.map_frame
    if frame is not None and frame.fitted:
        yield "map frame", f"{frame.crs}, {frame.fitted}"
    yield "answer", answer(one.zones)
    for text in one.warnings:
        yield "warning", text


def lines_about(facts: RunFacts, floors: Sequence[MappedFloor]) -> list[tuple[str, str, str]]:
    """Return what a file of a whole run says of itself, each line once.

    A line is the floor's title (nothing where it holds for the run), a heading, and the text.
    """
    lines = [("", heading, text) for heading, text in facts_of_run(facts)]
    for one in floors:
        title = one.floor.title or one.floor.name
        lines += [(title, heading, text) for heading, text in facts_of_floor(one)
                  if heading != "floor"]  # fmt: skip
    lines += [("", "floor not made", f"{lost.where}: {lost.message}") for lost in facts.failed]
    return list(dict.fromkeys(lines))
