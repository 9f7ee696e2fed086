"""Is the plan sound? Everything that may be wrong with it, where, and how it could be mended."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, Final, TypeAlias

from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.soundness_aside import aside_findings
from hgmap.editing.soundness_doors import door_findings
from hgmap.editing.soundness_features import feature_findings
from hgmap.editing.soundness_openings import opening_findings
from hgmap.editing.soundness_rooms import room_findings
from hgmap.editing.soundness_units import unit_findings
from hgmap.errors import PlanError
from hgmap.site.plan_findings import PlanFinding, finding_key

KEPT: Final = "kept_as_drawn"
"""The member of the collection that holds the keys of findings a person has refused."""

REPAIRS_A_FEATURE: Final = 6
"""A plan that needs more of them is not repaired further by itself: somebody has to look."""

Finding: TypeAlias = PlanFinding[PlanDraft]

_ORDER: Final = ("error", "warning", "note")

_OF_SIZE: Final = frozenset({"sliver", "gap", "touches-none", "touches-one", "shut", "twice"})
"""What is judged in metres: no question, and no repair, while the plan's unit is one."""


def soundness(draft: PlanDraft) -> tuple[Finding, ...]:
    """Return what may be wrong with a plan: errors first, and those kept as drawn last."""
    units = in_order(draft, unit_findings(draft))
    found = [
        *_no_room(draft),
        *units,
        *feature_findings(draft),
        *aside_findings(draft),
        *room_findings(draft),
        *opening_findings(draft),
        *door_findings(draft),
    ]
    if any(one.repair is not None and not one.kept for one in units):
        found = [one for one in found if one.rule not in _OF_SIZE]
    return in_order(draft, found)


def in_order(draft: PlanDraft, found: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings of a plan as they are shown, with those marked that a person has refused."""
    kept = _kept(draft)
    marked = [
        replace(one, kept=True) if one.key in kept and one.severity != "error" else one
        for one in found
    ]
    return tuple(sorted(marked, key=lambda one: (one.kept, _ORDER.index(one.severity))))


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
    """Apply every repair there is, but of findings kept as drawn; returns what each did, too."""
    draft, mended = repair_each(draft)
    return draft, tuple(one.repair.text for one in mended if one.repair is not None)


def repair_each(
    draft: PlanDraft, wanted: Callable[[PlanDraft, Finding], bool] = lambda *_: True
) -> tuple[PlanDraft, tuple[Finding, ...]]:
    """Apply the repairs of findings that are ``wanted``; returns the findings that were mended.

    Repairs of different features are done together, then the plan is looked at again: a ring that
    was closed may turn out to cross itself. A repair that moves the whole plan is left alone: what
    lies under the plan, and readings that give their place, would not go along.
    """
    done: list[Finding] = []
    failed: set[str] = set()
    most = REPAIRS_A_FEATURE * (len(draft.features) + 1)
    while len(done) < most:
        found = [
            one
            for one in soundness(draft)
            if one.repair is not None
            and one.repair.factor is None
            and not one.kept
            and one.key not in failed
            and wanted(draft, one)
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
            done.append(one)
    return draft, tuple(done)


def _untouched(start: PlanDraft, now: PlanDraft, finding: Finding) -> bool:
    return all(
        key in now.by_key and now.by_key[key].raw is start.by_key[key].raw
        for key in finding.features
    )


def _kept(draft: PlanDraft) -> list[str]:
    member = draft.members.get(KEPT)
    return [one for one in member if isinstance(one, str)] if isinstance(member, list) else []


def _no_room(draft: PlanDraft) -> Iterator[Finding]:
    if not draft.rooms:
        yield PlanFinding(
            finding_key("no-room"), "error", "no room is drawn", "draw one, or import a plan", None,
            (),
        )  # fmt: skip
