"""Is the plan sound? Everything that may be wrong with it, where, and how it could be mended."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any, Final, TypeAlias

from hgmap.editing.plan_checks import span_m
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_repairs import scaled
from hgmap.editing.soundness_features import feature_findings
from hgmap.editing.soundness_openings import opening_findings
from hgmap.editing.soundness_rooms import room_findings
from hgmap.errors import PlanError
from hgmap.site.plan import LONGEST_BUILDING_M
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key

KEPT: Final = "kept_as_drawn"
"""The member of the collection that holds the keys of findings a person has refused."""

SMALLEST_PLAN_M: Final = 1.0
LARGEST_PLAN_M: Final = 500.0
"""Rooms that span less or more (m) are likely in another unit. Ours, no source."""

REPAIRS_A_FEATURE: Final = 6
"""A plan that needs more of them is not repaired further by itself: somebody has to look."""

Finding: TypeAlias = PlanFinding[PlanDraft]

_ORDER: Final = ("error", "warning", "note")


def soundness(draft: PlanDraft) -> tuple[Finding, ...]:
    """Return what may be wrong with a plan: errors first, and those kept as drawn last."""
    found = [
        *_plan_findings(draft),
        *feature_findings(draft),
        *room_findings(draft),
        *opening_findings(draft),
    ]
    kept = _kept(draft)
    found = [
        replace(one, kept=True) if one.key in kept and one.severity != "error" else one
        for one in found
    ]
    return tuple(sorted(found, key=lambda one: (one.kept, _ORDER.index(one.severity))))


def keep_as_drawn(draft: PlanDraft, finding: PlanFinding[Any]) -> PlanDraft:
    """Note in the plan that a finding is no mistake; it comes back when its shapes change.

    Raises
    ------
    PlanError
        For an error: the plan is not read with it, whatever anybody says.
    """
    if finding.severity == "error":
        raise PlanError(
            f"cannot be kept as drawn: {finding.message}", todo="the plan is not read with it"
        )
    kept = _kept(draft)
    return draft if finding.key in kept else draft.with_member(KEPT, [*kept, finding.key])


def ask_again(draft: PlanDraft, finding: PlanFinding[Any]) -> PlanDraft:
    """Take back :func:`keep_as_drawn`."""
    rest = [key for key in _kept(draft) if key != finding.key]
    return draft.with_member(KEPT, rest or None)


def repair_all(draft: PlanDraft) -> tuple[PlanDraft, tuple[str, ...]]:
    """Apply every repair there is, but of findings kept as drawn; returns what each did, too.

    Repairs of different features are done together, then the plan is looked at again: a ring that
    was closed may turn out to cross itself.
    """
    done: list[str] = []
    failed: set[str] = set()
    most = REPAIRS_A_FEATURE * (len(draft.features) + 1)
    while len(done) < most:
        found = [
            one
            for one in soundness(draft)
            if one.repair is not None and not one.kept and one.key not in failed
        ]
        if not found:
            break
        start = draft
        for one in found:
            assert one.repair is not None
            if not _untouched(start, draft, one):
                continue
            try:
                draft = one.repair.apply(draft)
            except PlanError:  # another repair has taken its place away
                failed.add(one.key)
                continue
            done.append(one.repair.text)
    return draft, tuple(done)


def _untouched(start: PlanDraft, now: PlanDraft, finding: Finding) -> bool:
    return all(
        key in now.by_key and now.by_key[key].raw is start.by_key[key].raw
        for key in finding.features
    )


def _kept(draft: PlanDraft) -> list[str]:
    member = draft.members.get(KEPT)
    return [one for one in member if isinstance(one, str)] if isinstance(member, list) else []


def _plan_findings(draft: PlanDraft) -> Iterator[Finding]:
    if not draft.rooms:
        yield PlanFinding(
            finding_key("no-room"), "error", "no room is drawn", "draw one, or import a plan", None,
            (),
        )  # fmt: skip
    span = span_m(draft)
    if draft.region or span == 0 or SMALLEST_PLAN_M <= span <= LARGEST_PLAN_M:
        return
    shrunk = span / 1000
    repair = None
    if span > LONGEST_BUILDING_M and SMALLEST_PLAN_M < shrunk <= LARGEST_PLAN_M:
        area = sum(room.area_m2 for room in draft.sound_rooms.values())
        repair = Repair[PlanDraft](
            f"take its numbers for millimetres: it spans {shrunk:.1f} m then, and its rooms have "
            f"{area / 1e6:.1f} m²",
            area * (1 - 1e-6),
            lambda now: scaled(now, 1e-3),
        )
    yield PlanFinding(
        finding_key("scale", f"{span:.3f}"),
        "error" if span > LONGEST_BUILDING_M else "warning",
        f"its rooms span {span:.3g} m: is it in metres?",
        "a plan is drawn in metres; measure one wall and compare",
        None,
        (),
        repair,
    )
