"""Do the floors of a building lie on one another? Their outlines tell: shifted, turned, mirrored.

Outlines are the ground of all rooms, with what lies between them filled. A floor whose outline
looks the same from two sides cannot be told from its mirror image: only what differs is found.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import affinity

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.soundness_units import UNITS
from hgmap.site.plan_findings import PlanFinding, finding_key

STACKED: Final = "stack"
"""What the keys of these findings begin with."""

OVER_THE_OTHER: Final = 0.8
"""The smaller of two floors lies on the other with this share of its ground. Ours, no source."""

FAR_BETTER: Final = 0.25
"""Another way to lay a floor is named if their common share grows by so much. Ours, no source."""

AS_GOOD_AS_SAME: Final = 0.95
"""Outlines with this common share (of both together) are those of one building. Ours."""

LEAST_SHIFT_M: Final = 0.5
"""A shift by less (m) is the drawing's own. Ours, no source."""

_AS_GOOD: Final = 0.02


@dataclass(frozen=True, slots=True)
class Laying:
    """One way to lay a floor on the one below.

    Attributes
    ----------
    turn_deg : int
        Counter-clockwise.
    mirrored : bool
        Left and right exchanged, before it is turned.
    factor : float
        What it is multiplied by.
    dx_m, dy_m : float
        How its middle moves.
    common : float
        Ground of both, as a share of the ground of either (0 to 1).
    """

    turn_deg: int
    mirrored: bool
    factor: float
    dx_m: float
    dy_m: float
    common: float

    @property
    def text(self) -> str:
        """What is done to the floor, in words."""
        parts = ["mirrored"] if self.mirrored else []
        parts += [f"turned by {self.turn_deg}° counter-clockwise"] if self.turn_deg else []
        if self.factor != 1:
            return ", ".join([*parts, f"multiplied by {self.factor:.4g}"])
        if parts:
            parts[-1] += " about its middle"
        if max(abs(self.dx_m), abs(self.dy_m)) >= LEAST_SHIFT_M or not parts:
            parts.append(f"moved by x {self.dx_m:+.2f}, y {self.dy_m:+.2f} m")
        return ", ".join(parts)


def common_share(one: shapely.Geometry, two: shapely.Geometry) -> float:
    """Return the ground of both as a share of the ground of either (0 to 1).

    Examples
    --------
    >>> common_share(shapely.box(0, 0, 2, 1), shapely.box(1, 0, 3, 1))
    0.3333333333333333
    """
    both = float(one.intersection(two).area)
    either = float(one.area + two.area) - both
    return both / either if either > 0 else 0.0


def share_over(one: shapely.Geometry, two: shapely.Geometry) -> float:
    """Return the ground of both as a share of the smaller (0 to 1)."""
    least = min(float(one.area), float(two.area))
    return float(one.intersection(two).area) / least if least > 0 else 0.0


def best_laying(upper: shapely.Geometry, lower: shapely.Geometry) -> Laying:
    """Return how an outline lies best on another; of ways as good, the one that does least.

    Turning, mirroring and multiplying have to be far better than moving, or fit as one building.

    Tried are quarter turns, mirror images and factors between units, each laid middle on middle
    and corner on corner of the boxes round them.
    """
    ways = [
        _laid(upper, lower, turn, mirrored, factor)
        for factor in (1.0, *_factors(upper, lower))
        for mirrored, turn in itertools.product((False, True), (0, 90, 180, 270))
    ]
    moved, most = ways[0], max(one.common for one in ways)
    gain = most - moved.common
    if gain < FAR_BETTER and not (most >= AS_GOOD_AS_SAME and gain > 2 * _AS_GOOD):
        return moved
    return next(one for one in ways if one.common >= most - _AS_GOOD)


def stacking_findings(
    drafts: Sequence[tuple[str, str, PlanDraft]], *, on_map: bool = False
) -> Iterator[tuple[str, PlanFinding[PlanDraft]]]:
    """Go through the floors that do not lie on the one before them in site.toml.

    Parameters
    ----------
    drafts : sequence of (str, str, PlanDraft)
        Names, titles and plans of the floors of one building, in the order of site.toml.
    on_map : bool
        Whether the building lies on a map: a floor that is only shifted lies at a wrong place then.

    Yields
    ------
    name, finding
        Of the later floor; its place is the outline of the one before. Nothing is repaired: places
        of readings would not go along.
    """
    grounds = [(*named, draft.ground) for *named, draft in drafts if not draft.region]
    with_ground = [one for one in grounds if one[-1].area > 0]
    for (_, below, lower), (name, _, upper) in itertools.pairwise(with_ground):
        found = _finding(upper, below, lower, on_map)
        if found is not None:
            yield name, found


def _finding(
    upper: shapely.Geometry, below: str, lower: shapely.Geometry, on_map: bool
) -> PlanFinding[PlanDraft] | None:
    common, over = common_share(upper, lower), share_over(upper, lower)
    if over >= OVER_THE_OTHER and common >= AS_GOOD_AS_SAME:
        return None
    best = best_laying(upper, lower)
    same = best.common >= AS_GOOD_AS_SAME  # a smaller floor on a larger one is no mistake
    better = best.common >= common + (_AS_GOOD * 2 if same else FAR_BETTER)
    changed = best.turn_deg or best.mirrored or best.factor != 1
    if over >= OVER_THE_OTHER and not (better and same and changed):
        return None
    todo = "compare both plans at a stair or an outer corner"
    if better:
        todo = f"{best.text}, it would share {_percent(best.common)}: draw or import it so"
    return PlanFinding(
        finding_key(STACKED, shapely.normalize(upper).wkb, shapely.normalize(lower).wkb),
        "warning" if better and (changed or on_map) else "note",
        f"it does not lie on {below!r}: they share {_percent(common)} of their ground",
        f"{todo}, or keep it where each floor has a frame of its own",
        lower,
        (),
    )


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"


def _factors(upper: shapely.Geometry, lower: shapely.Geometry) -> list[float]:
    """Return the factors between units that would make the areas alike."""
    ratio = float(lower.area / upper.area) ** 0.5
    return [one.factor for one in UNITS if abs(one.factor / ratio - 1) < 0.05]


def _laid(
    upper: shapely.Geometry, lower: shapely.Geometry, turn: int, mirrored: bool, factor: float
) -> Laying:
    middle = upper.centroid
    made = affinity.scale(upper, -factor if mirrored else factor, factor, origin=middle)
    made = affinity.rotate(made, turn, origin=middle)
    anchors = [(lower.centroid.x - made.centroid.x, lower.centroid.y - made.centroid.y)]
    ours, theirs = made.bounds, lower.bounds
    anchors += [(theirs[i] - ours[i], theirs[j] - ours[j]) for i in (0, 2) for j in (1, 3)]
    shares = [(common_share(affinity.translate(made, *by), lower), by) for by in anchors]
    common, (dx, dy) = max(shares, key=lambda one: one[0])
    still = common_share(made, lower)
    if still >= common - _AS_GOOD:  # it need not move
        common, dx, dy = still, 0.0, 0.0
    return Laying(turn, mirrored, factor, dx, dy, common)
