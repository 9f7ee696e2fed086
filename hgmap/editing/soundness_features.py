"""Features that a plan cannot be read with, or that it leaves out."""

from __future__ import annotations

import difflib
import json
from collections.abc import Callable, Iterator

import shapely
from shapely import Polygon

from hgmap.editing.plan_draft import PlanDraft, PlanFeature, raw_with
from hgmap.editing.plan_repairs import (
    close_ring,
    every_part,
    is_sliver,
    largest_part,
    opening_line,
    set_aside,
    sound_parts,
    wall_lines,
)
from hgmap.errors import PlanError
from hgmap.site.plan import KINDS, STATES, label_of, read_geometry
from hgmap.site.plan_findings import PlanFinding, Repair, finding_key


def about(*features: PlanFeature) -> list[str | bytes]:
    """Return what a finding on features depends on: their kind, words and shape."""
    found: list[str | bytes] = []
    for one in features:
        shape = one.geometry
        found += [one.kind, one.id, one.name, one.state]
        found.append(json.dumps(one.raw) if shape is None else shapely.normalize(shape).wkb)
    return found


def feature_findings(draft: PlanDraft) -> Iterator[PlanFinding[PlanDraft]]:
    """Go through what is wrong with features by themselves."""
    for one in draft.features:
        if one.complaint:
            yield PlanFinding(
                finding_key("unsound", one.complaint, *about(one)),
                "error",
                f"{label_of(one.raw, one.number)}: {one.complaint}",
                "mend it, draw it again, or set it aside",
                one.geometry,
                (one.key,),
                _repair(one),
            )
        elif not one.kind:
            yield _ignored(one)


def _repair(feature: PlanFeature) -> Repair[PlanDraft]:
    key, shape = feature.key, feature.geometry
    if shape is None or not isinstance(feature.raw, dict):
        return _aside(feature, "it cannot be read")
    if _is_open(feature):
        area = shape.area if shape.is_valid else 0.0
        return Repair(
            f"close the ring of {feature.title} ({area:.2f} m²)",
            area,
            lambda now: close_ring(now, key),
        )
    mend = {"room": _room_repair, "wall": _wall_repair, "opening": _opening_repair}[feature.kind]
    return mend(feature) or _aside(feature, "it is no shape for one")


def _room_repair(feature: PlanFeature) -> Repair[PlanDraft] | None:
    key = feature.key
    parts = sound_parts(feature.geometry)
    kept = [one for one in parts if not is_sliver(one)]
    if not kept:
        return (
            _aside(feature, "its area is zero") if isinstance(feature.geometry, Polygon) else None
        )
    if isinstance(feature.geometry, Polygon) or len(kept) == 1:
        lost = sum(one.area for one in parts[1:])
        rest = f", and leave {lost:.2f} m² of smaller parts out" if lost > 0 else ""
        return Repair(
            f"make the outline of {feature.title} sound ({kept[0].area:.2f} m²){rest}",
            lost,
            lambda now: largest_part(now, key),
        )
    moved = sum(one.area for one in kept[1:])
    return Repair(
        f"make a room of each of the {len(kept)} parts of {feature.title} ({moved:.2f} m² become "
        "rooms of their own)",
        moved,
        lambda now: every_part(now, key),
    )


def _wall_repair(feature: PlanFeature) -> Repair[PlanDraft] | None:
    key, lines = feature.key, wall_lines(feature.geometry)
    if lines is None:
        return None
    return Repair(
        f"take the outline of {feature.title} for its line (0 m² of rooms)",
        0.0,
        lambda now: now.edited({key: raw_with(now.feature(key), lines)}),
    )


def _opening_repair(feature: PlanFeature) -> Repair[PlanDraft] | None:
    key, line = feature.key, opening_line(feature.geometry)
    if line is None:
        return None
    near = difflib.get_close_matches(feature.state.casefold(), STATES, n=1, cutoff=0.8)
    # closed where nobody can say: readings on one side then tell less of the other
    state = near[0] if near else "closed"
    said = "" if state == feature.state else f", and its state to {state!r}"
    return Repair(
        f"set {feature.title} to one line of {line.length:.2f} m{said} (0 m² of rooms)",
        0.0,
        lambda now: now.edited({key: raw_with(now.feature(key), line, state=state)}),
    )


def _ignored(feature: PlanFeature) -> PlanFinding[PlanDraft]:
    kind = str(feature.properties.get("kind"))
    near = difflib.get_close_matches(kind.casefold(), KINDS, n=1)
    repair: Repair[PlanDraft] | None = None
    if near:
        area = feature.geometry.area if feature.geometry is not None else 0.0
        repair = Repair(
            f"take it for a {near[0]} ({area if near[0] == 'room' else 0:.2f} m²)",
            area if near[0] == "room" else 0.0,
            _as_kind(feature.key, near[0]),
        )
    return PlanFinding(
        finding_key("ignored", kind, *about(feature)),
        "note",
        f"{label_of(feature.raw, feature.number)}: kind {kind!r} is ignored",
        f"did you mean {near[0]!r}?" if near else f"known: {', '.join(KINDS)}",
        feature.geometry,
        (feature.key,),
        repair,
    )


def _as_kind(key: str, kind: str) -> Callable[[PlanDraft], PlanDraft]:
    return lambda now: now.edited({key: raw_with(now.feature(key), kind=kind)})


def _aside(feature: PlanFeature, why: str) -> Repair[PlanDraft]:
    shape = feature.geometry
    area = shape.area if feature.kind == "room" and shape is not None and shape.is_valid else 0.0
    return Repair(
        f"set {feature.title} aside, for {why} ({area:.2f} m²); it stays in the file",
        area,
        lambda now: set_aside(now, [feature.key]),
    )


def _is_open(feature: PlanFeature) -> bool:
    try:
        read_geometry(feature.raw)
    except PlanError:
        return True
    return False
