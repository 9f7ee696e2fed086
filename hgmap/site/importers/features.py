"""What each feature of a GeoJSON file is to us: a room, a wall, an opening, a door, or nothing.

Three ways of marking are read, the first that the file uses: our own ``kind``; the open standard
Simple Indoor Tagging of OpenStreetMap (``indoor``, ``level``, ``door``, ``entrance``); and none
at all, where every polygon is a room.
"""

from __future__ import annotations

import difflib
from collections import Counter
from dataclasses import dataclass
from typing import Any, Literal

import shapely
from shapely.geometry import shape

from hgmap.errors import PlanError, one_line
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.where import distinct_values, holds, parse_where
from hgmap.site.plan import KINDS, read_geometry

Role = Literal["room", "wall", "opening", "door"]
Marking = Literal["kind", "indoor", "none"]

INDOOR_ROOMS = ("room", "corridor", "area")
OTHER_PARTS = ("wall", "door", "window", "column")
"""What an unmarked polygon may be called that is no room."""

LISTED = 10
"""So many lost rooms are named one by one; the rest is a count."""

ONE_STOREY_M = 0.5
"""Rooms whose heights (third coordinate, m) differ by more are not on one floor."""


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature that is kept: its number in the file (from 1), its part, and its geometry."""

    number: int
    role: Role
    name: str
    id: str
    properties: dict[str, Any]
    geometry: shapely.Geometry

    @property
    def label(self) -> str:
        """How a message calls it."""
        return _label(self.number, self.properties)


def read_features(
    collection: dict[str, Any], *, where: str | None, file: str
) -> tuple[list[Feature], list[str]]:
    """Return the features that matter, and one line for each that was left out, or their count.

    Raises
    ------
    PlanError
        If there is no feature, features lie on several levels and ``where`` does not choose one,
        ``where`` fits none, or a kept feature has no sound coordinates.
    """
    raw: list[Any] = collection["features"]
    if not raw:
        raise PlanError("has no feature", where=file, todo="export the rooms as polygons")
    marking = _marking(raw)
    candidates: list[tuple[int, Role, dict[str, Any], Any]] = []
    lost: list[tuple[dict[str, Any], str]] = []
    others = 0
    for number, one in enumerate(raw, start=1):
        properties = _properties(one)
        role = _role(one, properties, marking)
        if role is None:
            others += 1
            lost += [(properties, line) for line in _misspelt(number, properties, marking)]
        elif complaint := _unfit(role, one):
            lost.append((properties, f"{_label(number, properties)}: {complaint}"))
        else:
            candidates.append((number, role, properties, one))
    if not any(role == "room" for _, role, _, _ in candidates):
        raise PlanError("has no room (a polygon)", where=file, todo="export the rooms as polygons")
    candidates, dropped = _choose(candidates, where, file=file)
    features = _with_geometry(candidates, file=file)
    key, wanted = parse_where(where) if where else ("", "")
    lines = [line for tags, line in lost if not where or holds(tags.get(key), wanted)]
    skipped = lines[:LISTED] + dropped
    if len(lines) > LISTED:
        skipped.append(f"{len(lines) - LISTED} more features that cannot be used")
    if marking == "none":
        _refuse_other_parts(candidates, file=file)
        skipped.append("no feature says what it is (kind, or indoor): every polygon is a room")
    if others:
        skipped.append(
            f"{_count(others, 'feature')} that {_be(others)} no room, wall or door"
            + _kinds_not_known(raw, marking)
        )
    return features, skipped


def _properties(feature: Any) -> dict[str, Any]:
    properties = feature.get("properties") if isinstance(feature, dict) else None
    return properties if isinstance(properties, dict) else {}


def _type(feature: Any) -> object:
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    return geometry.get("type") if isinstance(geometry, dict) else None


def _label(number: int, properties: dict[str, Any]) -> str:
    keys = ("name", "ref", "id", "kind", "indoor")
    text = next((text for key in keys if (text := one_line_text(properties.get(key)))), "")
    return f"feature {number} ({text})" if text else f"feature {number}"


def _marking(raw: list[Any]) -> Marking:
    tags = [_properties(one) for one in raw]
    if any(one.get("kind") in KINDS for one in tags):
        return "kind"
    if any(one.get("indoor") in (*INDOOR_ROOMS, "wall") for one in tags):
        return "indoor"
    return "none"


def _role(feature: Any, properties: dict[str, Any], marking: Marking) -> Role | None:
    if not isinstance(feature, dict):
        return None
    point = _type(feature) in ("Point", "MultiPoint")
    mark = properties.get("kind" if marking == "kind" else "indoor")
    role: Role | None = None
    if marking == "kind" and mark in KINDS:
        role = "door" if mark == "opening" and point else mark
    elif point:
        # door=no is a doorway without a door: a gap that air passes
        door, entrance = properties.get("door"), properties.get("entrance")
        role = "door" if door is not None or entrance not in (None, "no") else None
    elif marking == "indoor":
        role = "room" if mark in INDOOR_ROOMS else "wall" if mark == "wall" else None
    elif marking == "none":
        role = "room" if str(_type(feature)).endswith("Polygon") else None
    return role


def _unfit(role: Role, feature: dict[str, Any]) -> str:
    if feature.get("geometry") is None:
        return f"a {role} without a geometry"
    if role == "room" and not str(_type(feature)).endswith("Polygon"):
        return f"a room is a polygon, found {_type(feature)}"
    return ""


def _refuse_other_parts(
    candidates: list[tuple[int, Role, dict[str, Any], Any]], *, file: str
) -> None:
    """Refuse to take a polygon for a room that some property calls a wall, a door or a window."""
    for number, role, properties, _ in candidates:
        for key, value in properties.items():
            if role == "room" and isinstance(value, str) and value.casefold() in OTHER_PARTS:
                raise PlanError(
                    f"feature {number} has {one_line_text(key)}={value}, and no feature has our "
                    "kind or indoor",
                    where=file,
                    todo=f'say which are rooms: --where "{one_line_text(key)}=...", or give each '
                    "feature the property kind (room, wall or opening)",
                )


def _misspelt(number: int, properties: dict[str, Any], marking: Marking) -> list[str]:
    mark = str(properties.get("kind"))
    near = difflib.get_close_matches(mark, KINDS, n=1) if marking == "kind" else []
    label = _label(number, properties)
    return [f"{label}: kind {mark!r} is not known; did you mean {near[0]!r}?"] if near else []


def _kinds_not_known(raw: list[Any], marking: Marking) -> str:
    """Say which kinds were not known, so that a plan does not lose its doors unseen."""
    if marking != "kind":
        return ""
    found = Counter(
        one_line_text(kind)
        for one in raw
        if (kind := _properties(one).get("kind")) is not None and kind not in KINDS
    )
    if not found:
        return ""
    few = ", ".join(f"{kind} {n}" for kind, n in found.most_common(3))
    return f" (of kind {few}; known kinds: {', '.join(KINDS)}, and a door is an opening)"


def _choose(
    candidates: list[tuple[int, Role, dict[str, Any], Any]], where: str | None, *, file: str
) -> tuple[list[tuple[int, Role, dict[str, Any], Any]], list[str]]:
    if where is None:
        levels = distinct_values(properties.get("level") for _, _, properties, _ in candidates)
        if len(levels) > 1:
            raise PlanError(
                f"its features lie on several levels ({_few(levels)})",
                where=file,
                todo=f'choose one for this floor: --where "level={levels[len(levels) // 2]}"',
            )
        return candidates, []
    key, wanted = parse_where(where)
    kept = [one for one in candidates if holds(one[2].get(key), wanted)]
    if not any(role == "room" for _, role, _, _ in kept):
        raise _none_fits(candidates, key, wanted, file=file)
    silent = [one for one in candidates if key not in one[2]]
    rooms = [one for one in silent if one[1] == "room"]
    notes = [f"{_label(one[0], one[2])}: a room without {key!r}" for one in rooms[:LISTED]]
    left = len(silent) - len(notes)
    if left:
        counts = Counter(one[1] for one in silent if one not in rooms[:LISTED])
        parts = ", ".join(_count(n, role) for role, n in sorted(counts.items()))
        notes.append(f"{_count(left, 'feature')} without {key!r} ({parts})")
    elsewhere = len(candidates) - len(kept) - len(silent)
    if elsewhere:
        notes.append(f"{_count(elsewhere, 'feature')} of another {key} than {wanted}")
    return kept, notes


def _none_fits(
    candidates: list[tuple[int, Role, dict[str, Any], Any]], key: str, wanted: str, *, file: str
) -> PlanError:
    values = distinct_values(one[2].get(key) for one in candidates if one[1] == "room")
    if values:
        return PlanError(
            f"no room has {key}={wanted}", where=file, todo=f"choose one of {_few(values)}"
        )
    keys = sorted({name for one in candidates if one[1] == "room" for name in one[2]})
    near = difflib.get_close_matches(key, keys, n=1)
    todo = f"did you mean {near[0]!r}?" if near else f"its rooms have {_few(keys) or 'none'}"
    return PlanError(f"no room has the property {key!r}", where=file, todo=todo)


def _with_geometry(
    candidates: list[tuple[int, Role, dict[str, Any], Any]], *, file: str
) -> list[Feature]:
    features: list[Feature] = []
    errors: list[str] = []
    heights: list[tuple[float, str]] = []
    for number, role, properties, one in candidates:
        label = _label(number, properties)
        try:
            geometry = read_geometry(one)
        except PlanError as error:
            errors.append(one_line(str(error), where=label))
            continue
        if role == "room":
            heights += [(z, label) for z in _heights(one)]
        name = one_line_text(properties.get("name")) or one_line_text(properties.get("ref"))
        identifier = one_line_text(properties.get("id")) if "kind" in properties else ""
        features.append(Feature(number, role, name, identifier, properties, geometry))
    if errors:
        more = f" (and {len(errors) - 3} more)" if len(errors) > 3 else ""
        raise PlanError(
            "; ".join(errors[:3]) + more, where=file, todo="mend or delete it and import again"
        )
    low, high = (min(heights), max(heights)) if heights else ((0.0, ""), (0.0, ""))
    if not high[0] - low[0] <= ONE_STOREY_M:
        raise PlanError(
            f"its corners stand at heights from {low[0]:g} m ({low[1]}) to {high[0]:g} m "
            f"({high[1]})",
            where=file,
            todo="a plan is flat: export one floor without heights",
        )
    return features


def _heights(feature: dict[str, Any]) -> list[float]:
    geometry = shape(feature["geometry"])
    if not geometry.has_z:
        return []
    z = shapely.get_coordinates(geometry, include_z=True)[:, 2]
    return [float(z.min()), float(z.max())]


def _few(values: list[str], most: int = 12) -> str:
    return ", ".join(values[:most]) + (
        f" and {len(values) - most} more" if len(values) > most else ""
    )


def _count(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def _be(n: int) -> str:
    return "is" if n == 1 else "are"
