"""Is the plan drawn in metres? Asked of its span and of its doors, and mended where both agree."""

from __future__ import annotations

import statistics
from collections.abc import Iterator
from typing import Final, NamedTuple

from hgmap.editing.plan_checks import span_m
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import scaled
from hgmap.site.lengths import FOOT_M, INCH_M
from hgmap.site.plan import LONGEST_BUILDING_M
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key

SMALLEST_PLAN_M: Final = 1.0
LARGEST_PLAN_M: Final = 500.0
"""Rooms that span less or more (m) are likely in another unit. Ours, no source."""

DOOR_M: Final = (0.6, 1.7)
"""The middle one of a building's openings by width (m). Common practice, no source."""

STRANGE_DOORS_M: Final = (0.4, 2.5)
"""Beyond these (m) the middle one raises the question of units. Ours, no source."""

NO_DOORS_M: Final = (0.3, 5.0)
"""Beyond these (m) it is no door at all, whatever the building is for. Ours, no source."""

FEWEST_DOORS: Final = 2
"""Fewer openings say nothing of the unit: one may be a slip. Ours, no source."""


class Unit(NamedTuple):
    """What a plan's numbers may be in truth, and what to multiply them by for metres."""

    name: str
    factor: float


UNITS: Final = (
    Unit("millimetres", 1e-3),
    Unit("centimetres", 1e-2),
    Unit("inches", INCH_M),
    Unit("feet", FOOT_M),
    Unit("metres that were taken for millimetres", 1e3),
    Unit("metres that were taken for centimetres", 1e2),
    Unit("metres that were taken for inches", 1 / INCH_M),
    Unit("metres that were taken for feet", 1 / FOOT_M),
    Unit("inches that were taken for millimetres", INCH_M * 1e3),
)


def door_width_m(draft: PlanDraft) -> float | None:
    """Return the width (m) of the middle one of all openings; None where there is none."""
    widths = [one.line.length for one in draft.sound_openings.values()]
    return statistics.median_low(widths) if widths else None


def units_that_fit(draft: PlanDraft) -> tuple[Unit, ...]:
    """Return the units in which the openings are doors and the rooms span a building."""
    door, span = door_width_m(draft), span_m(draft)
    return tuple(
        one
        for one in UNITS
        if SMALLEST_PLAN_M < span * one.factor <= LARGEST_PLAN_M
        and (door is None or DOOR_M[0] <= door * one.factor <= DOOR_M[1])
    )


def doors_are_strange(draft: PlanDraft) -> bool:
    """Tell whether most openings are wider, or most narrower, than doors are; one is a slip."""
    widths = [one.line.length for one in draft.sound_openings.values()]
    if len(widths) < FEWEST_DOORS:
        return False
    low, high = statistics.median_low(widths), statistics.median_high(widths)
    return bool(high < STRANGE_DOORS_M[0] or low > STRANGE_DOORS_M[1])


def unit_is_asked(draft: PlanDraft) -> bool:
    """Tell whether span or doors raise the question of units.

    Strange doors alone raise it only where in some unit they are doors, and the span a building's:
    gates of a hall are wide in metres.
    """
    span = span_m(draft)
    if draft.region or span == 0:
        return False
    odd = not SMALLEST_PLAN_M <= span <= LARGEST_PLAN_M
    return odd or (doors_are_strange(draft) and bool(units_that_fit(draft)))


def unit_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Say where a plan is likely in another unit.

    A repair is offered where one unit makes doors of the openings and a building of the span.
    Without openings only millimetres are taken for sure, and only of a span that is refused.
    """
    span, door = span_m(draft), door_width_m(draft)
    if not unit_is_asked(draft):
        return
    odd = not SMALLEST_PLAN_M <= span <= LARGEST_PLAN_M
    fits = units_that_fit(draft)
    said = [f"its rooms span {span:.0f} m" if span >= 100 else f"its rooms span {span:.3g} m"]
    if door is not None and (not odd or doors_are_strange(draft)):
        count = len(draft.sound_openings)
        said.append(f"its openings are {door:.3g} m wide (the middle one of {count})")
    yield PlanFinding(
        finding_key("scale", f"{span:.3f}", "" if door is None else f"{door:.3f}"),
        "error" if span > LONGEST_BUILDING_M else "warning",
        f"{' and '.join(said)}: is it in metres?",
        _todo(door, span, fits),
        None,
        (),
        _repair(draft, door, span, fits),
    )


def _todo(door: float | None, span: float, fits: tuple[Unit, ...]) -> str:
    todo = "a plan is drawn in metres; measure one wall and compare"
    if door is None or not fits:
        return todo
    named = " or ".join(
        f"{one.name} (openings of {door * one.factor:.2f} m, rooms over {span * one.factor:.1f} m)"
        for one in fits
    )
    return f"{todo}: its numbers may be {named}"


def _repair(
    draft: PlanDraft, door: float | None, span: float, fits: tuple[Unit, ...]
) -> Repair[PlanDraft] | None:
    if door is None:
        if span <= LONGEST_BUILDING_M:
            return None
        fits = tuple(one for one in fits if one.name == "millimetres")
    elif SMALLEST_PLAN_M <= span <= LARGEST_PLAN_M and NO_DOORS_M[0] <= door <= NO_DOORS_M[1]:
        return None  # gates of a hall are as wide as a door of feet taken for metres
    if len(fits) != 1:
        return None
    (unit,) = fits
    area = sum(room.area_m2 for room in draft.sound_rooms.values())
    after = area * unit.factor**2
    doors = "" if door is None else f"its openings are {door * unit.factor:.2f} m wide, "
    return Repair[PlanDraft](
        f"take its numbers for {unit.name}: it spans {span * unit.factor:.1f} m then, {doors}"
        f"and its rooms have {after:.1f} m²",
        abs(area - after),
        lambda now: scaled(now, unit.factor),
        unit.factor,
    )
