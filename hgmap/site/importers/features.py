"""The features of a file that matter to a plan: which there are, on which level, and which are not.

What each one is, is asked of ``marking``.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from shapely.geometry import shape

from hgmap.errors import PlanError, one_line
from hgmap.site.importers.drawing import FARTHEST_DRAWN_M, Role
from hgmap.site.importers.marking import (
    Marking,
    geometry_type,
    marking_of,
    marks_not_known,
    misspelt,
    role_of,
    word_for_name,
)
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.where import distinct_values, holds, parse_where
from hgmap.site.plan import properties_of, read_geometry

OTHER_PARTS = ("wall", "door", "window", "column")
"""What an unmarked polygon may be called that is no room."""

TO_FIND_ROOMS: tuple[Role, ...] = ("room", "wall", "outline", "walkable")
"""A plan can be made of any of these."""

NAME_KEYS = ("name", "ref", "roomnumber", "room_number", "number")
"""Properties that name a room, the first that does."""

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


@dataclass(frozen=True, slots=True)
class Candidate:
    """A feature that may be kept."""

    number: int
    role: Role
    properties: dict[str, Any]
    raw: dict[str, Any]

    @property
    def label(self) -> str:
        """How a message calls it."""
        return _label(self.number, self.properties)


@dataclass(frozen=True, slots=True)
class Level:
    """The features of one level: its name (empty where all are taken), and a line for each loss."""

    name: str
    features: tuple[Feature, ...]
    left_out: tuple[str, ...]


def read_features(raw: Sequence[Any], *, where: str | None, file: str) -> tuple[Level, ...]:
    """Return the features that matter, level by level.

    Parameters
    ----------
    raw : sequence
        Features as JSON gave them.
    where : str, optional
        ``"property=value"``: only the features that hold it, as one level.
    file : str
        Named in messages.

    Raises
    ------
    PlanError
        If there is no feature to make a plan of, ``where`` fits none, or a kept feature has no
        sound coordinates.
    """
    if not raw:
        raise PlanError("has no feature", where=file, todo="export the rooms as polygons")
    marking = marking_of(raw)
    candidates: list[Candidate] = []
    lost: list[tuple[dict[str, Any], str]] = []
    others = 0
    for number, one in enumerate(raw, start=1):
        properties = properties_of(one)
        label = _label(number, properties)
        role = role_of(one, marking)
        if role is None:
            others += 1
            if near := misspelt(properties, marking):
                mark = str(properties.get("kind"))
                text = f"{label}: kind {mark!r} is not known; did you mean {near!r}?"
                lost.append((properties, text))
        elif complaint := _unfit(role, one):
            lost.append((properties, f"{label}: {complaint}"))
        else:
            candidates.append(Candidate(number, role, properties, one))
    if not any(one.role in TO_FIND_ROOMS for one in candidates):
        raise PlanError("has no room (a polygon)", where=file, todo="export the rooms as polygons")
    if marking.scheme == "none":
        _refuse_other_parts(candidates if not where else _holding(candidates, where), file=file)
    return tuple(
        _level(chosen, marking, raw, lost, others, file=file)
        for chosen in _choices(candidates, where, file=file)
    )


@dataclass(frozen=True, slots=True)
class _Chosen:
    """Which features make one level."""

    name: str
    where: str | None
    kept: list[Candidate]
    notes: list[str]


def _level(
    chosen: _Chosen,
    marking: Marking,
    raw: Sequence[Any],
    lost: list[tuple[dict[str, Any], str]],
    others: int,
    *,
    file: str,
) -> Level:
    key, wanted = parse_where(chosen.where) if chosen.where else ("", "")
    lines = [line for tags, line in lost if not key or holds(tags.get(key), wanted)]
    notes = lines[:LISTED] + chosen.notes
    if len(lines) > LISTED:
        notes.append(f"{len(lines) - LISTED} more features that cannot be used")
    if marking.scheme == "none":
        notes.append("no feature says what it is (kind, or indoor): every polygon is a room")
    if others:
        notes.append(
            f"{_count(others, 'feature')} that {_be(others)} no room, wall or door"
            + marks_not_known(raw, marking)
        )
    return Level(chosen.name, _with_geometry(chosen.kept, marking, file=file), tuple(notes))


def _label(number: int, properties: dict[str, Any]) -> str:
    keys = ("name", "ref", "id", "kind", "indoor")
    text = next((text for key in keys if (text := one_line_text(properties.get(key)))), "")
    return f"feature {number} ({text})" if text else f"feature {number}"


def _unfit(role: Role, feature: dict[str, Any]) -> str:
    if feature.get("geometry") is None:
        return f"a {role} without a geometry"
    found = geometry_type(feature)
    if role in ("room", "outline", "walkable") and not found.endswith("Polygon"):
        article = "an" if role == "outline" else "a"
        return f"{article} {role} is a polygon, found {found}"
    return ""


def _refuse_other_parts(candidates: list[Candidate], *, file: str) -> None:
    """Refuse to take a polygon for a room that some property calls a wall, a door or a window."""
    for one in candidates:
        for key, value in one.properties.items():
            if isinstance(value, str) and value.casefold() in OTHER_PARTS:
                raise PlanError(
                    f"feature {one.number} has {one_line_text(key)}={value}, and no feature has "
                    "our kind or indoor",
                    where=file,
                    todo=f'say which are rooms: --where "{one_line_text(key)}=...", or give each '
                    "feature the property kind (room, wall or opening)",
                )


def _holding(candidates: list[Candidate], where: str) -> list[Candidate]:
    key, wanted = parse_where(where)
    return [one for one in candidates if holds(one.properties.get(key), wanted)]


def _choices(candidates: list[Candidate], where: str | None, *, file: str) -> list[_Chosen]:
    """Return the features of what was asked for; without that, of every level there is."""
    if where is not None:
        return [_choose(candidates, where, "", file=file)]
    levels = distinct_values(
        one.properties.get("level") for one in candidates if one.role in TO_FIND_ROOMS
    )
    if len(levels) < 2:
        return [_Chosen("", None, candidates, [])]
    return [_choose(candidates, f"level={level}", level, file=file) for level in levels]


def _choose(candidates: list[Candidate], where: str, name: str, *, file: str) -> _Chosen:
    key, wanted = parse_where(where)
    kept = _holding(candidates, where)
    if not any(one.role in TO_FIND_ROOMS for one in kept):
        raise _none_fits(candidates, key, wanted, file=file)
    silent = [one for one in candidates if key not in one.properties]
    rooms = [one for one in silent if one.role == "room"]
    notes = [f"{one.label}: a room without {key!r}" for one in rooms[:LISTED]]
    left = len(silent) - len(notes)
    if left:
        counts = Counter(one.role for one in silent if one not in rooms[:LISTED])
        parts = ", ".join(_count(n, role) for role, n in sorted(counts.items()))
        notes.append(f"{_count(left, 'feature')} without {key!r} ({parts})")
    elsewhere = len(candidates) - len(kept) - len(silent)
    if elsewhere:
        notes.append(f"{_count(elsewhere, 'feature')} of another {key} than {wanted}")
    return _Chosen(name, where, kept, notes)


def _none_fits(candidates: list[Candidate], key: str, wanted: str, *, file: str) -> PlanError:
    rooms = [one.properties for one in candidates if one.role in TO_FIND_ROOMS]
    values = distinct_values(one.get(key) for one in rooms)
    if values:
        return PlanError(
            f"no room has {key}={wanted}", where=file, todo=f"choose one of {_few(values)}"
        )
    keys = sorted({name for one in rooms for name in one})
    near = difflib.get_close_matches(key, keys, n=1)
    todo = f"did you mean {near[0]!r}?" if near else f"its rooms have {_few(keys) or 'none'}"
    return PlanError(f"no room has the property {key!r}", where=file, todo=todo)


def _with_geometry(
    candidates: list[Candidate], marking: Marking, *, file: str
) -> tuple[Feature, ...]:
    features: list[Feature] = []
    errors: list[str] = []
    heights: list[tuple[float, str]] = []
    for one in candidates:
        try:
            geometry = read_geometry(one.raw, farthest=FARTHEST_DRAWN_M)
        except PlanError as error:
            errors.append(one_line(str(error), where=one.label))
            continue
        if one.role == "room":
            heights += [(z, one.label) for z in _heights(one.raw)]
        tags = one.properties
        names = (one_line_text(tags.get(key)) for key in NAME_KEYS)
        name = next((text for text in names if text), "")
        if not name and one.role == "room":
            name = word_for_name(tags, marking)
        identifier = one_line_text(tags.get("id")) if "kind" in tags else ""
        features.append(Feature(one.number, one.role, name, identifier, tags, geometry))
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
    return tuple(features)


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
