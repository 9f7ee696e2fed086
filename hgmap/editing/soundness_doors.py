"""Openings by themselves: of a width that no door has, or drawn twice at one place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Final

import shapely
from shapely import STRtree

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_openings import SAME_LINE_M, at_one_place
from hgmap.editing.plan_repairs import set_aside
from hgmap.editing.soundness_features import about
from hgmap.editing.soundness_units import NO_DOORS_M, doors_are_strange, unit_is_asked
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key

NARROWEST_WAY_M: Final = NO_DOORS_M[0]
WIDEST_WAY_M: Final = 12.0
"""An opening narrower or wider (m) is likely a slip or in another unit. Ours, no source."""


def door_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Go through openings that are too narrow, too wide, or there twice."""
    # where all of them are strange the unit is asked for once
    if not (doors_are_strange(draft) and unit_is_asked(draft)):
        yield from _widths(draft)
    yield from _twice(draft)


def _widths(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    for key, opening in draft.sound_openings.items():
        width = float(opening.line.length)
        if draft.region or NARROWEST_WAY_M <= width <= WIDEST_WAY_M:
            continue
        yield PlanFinding(
            finding_key("width", *about(draft.by_key[key])),
            "warning",
            f"opening {opening.id!r} is {width:.3g} m wide",
            "an opening is as long as it is wide, in metres: draw it again, or keep it as drawn",
            opening.line,
            (key,),
        )


def _twice(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    keys = list(draft.sound_openings)
    lines = [draft.sound_openings[key].line for key in keys]
    if len(lines) < 2:
        return
    pairs = STRtree(lines).query(lines, predicate="dwithin", distance=SAME_LINE_M).T
    for i, j in sorted((int(i), int(j)) for i, j in pairs if i < j):
        if not at_one_place(lines[i], lines[j]):
            continue
        first, second = draft.by_key[keys[i]], draft.by_key[keys[j]]
        same = first.state == second.state
        states = "" if same else f", one {first.state} and one {second.state}"
        yield PlanFinding(
            finding_key("twice", *about(first, second)),
            "warning",
            f"openings {first.id!r} and {second.id!r} lie at one place{states}",
            "take one of them out"
            if same
            else "take one of them out: only who was there knows which holds",
            shapely.GeometryCollection([lines[i], lines[j]]),
            (keys[i], keys[j]),
            Repair(
                f"set opening {second.id!r} aside, for it is drawn twice (0 m²); it stays in the "
                "file",
                0.0,
                _aside(keys[j]),
            )
            if same
            else None,
        )


def _aside(key: str) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: set_aside(now, [key])
