"""How the features of one file say what they are, and what each is by that.

Four ways of marking are read, the first that the file uses: our own ``kind``; the open standard
Simple Indoor Tagging of OpenStreetMap (``indoor``, ``level``, ``door``, ``entrance``); words such
as ``wall`` or ``building_outline`` in a property such as ``type``; and none at all, where every
polygon is a room.
"""

from __future__ import annotations

import difflib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from hgmap.site.importers.drawing import Role
from hgmap.site.importers.names import one_line_text
from hgmap.site.importers.part_words import name_of_word, part_key, part_word, role_of_word
from hgmap.site.plan import KINDS, properties_of

INDOOR_ROOMS: Final = ("room", "corridor", "area")

FURTHER_KINDS: Final[tuple[Role, ...]] = ("door", "window", "outline", "walkable")
"""What ``kind`` may say beside the parts of a finished plan: rooms are found from the walls."""


@dataclass(frozen=True, slots=True)
class Marking:
    """How features say what they are.

    Attributes
    ----------
    scheme : {"kind", "indoor", "words", "none"}
    key : str
        The property that says it; empty where none does.
    """

    scheme: Literal["kind", "indoor", "words", "none"]
    key: str = ""


def marking_of(raw: Sequence[Any]) -> Marking:
    """Return the way of marking that a file uses."""
    tags = [properties_of(one) for one in raw]
    if any(one.get("kind") in KINDS for one in tags):
        return Marking("kind", "kind")
    if any(one.get("indoor") in (*INDOOR_ROOMS, "wall") for one in tags):
        return Marking("indoor", "indoor")
    if any(one.get("kind") in FURTHER_KINDS for one in tags):
        return Marking("kind", "kind")
    key = part_key(tags)
    return Marking("words", key) if key else Marking("none")


def role_of(feature: Any, marking: Marking) -> Role | None:
    """Return what a feature is; None for one that does not matter."""
    if not isinstance(feature, dict):
        return None
    properties = properties_of(feature)
    kind = geometry_type(feature)
    point = kind in ("Point", "MultiPoint")
    mark = properties.get(marking.key)
    role: Role | None = None
    if marking.scheme == "kind" and mark in (*KINDS, *FURTHER_KINDS):
        # an opening of a finished plan is a line; where it is more or less, it is laid like a door
        role = "door" if mark == "opening" else next(one for one in _ROLES if one == mark)
    elif marking.scheme == "words":
        role = role_of_word(part_word(properties, marking.key))
        role = role if role == "door" or not point else None
    elif point:
        # door=no is a doorway without a door: a gap that air passes
        door, entrance = properties.get("door"), properties.get("entrance")
        role = "door" if door is not None or entrance not in (None, "no") else None
    elif marking.scheme == "indoor":
        role = "room" if mark in INDOOR_ROOMS else "wall" if mark == "wall" else None
    elif marking.scheme == "none":
        role = "room" if kind.endswith("Polygon") else None
    return role


_ROLES: Final[tuple[Role, ...]] = ("room", "wall", *FURTHER_KINDS)


def word_for_name(properties: dict[str, Any], marking: Marking) -> str:
    """Return what a nameless room may be called by its mark: ``stairs``."""
    if marking.scheme != "words":
        return ""
    return name_of_word(part_word(properties, marking.key))


def geometry_type(feature: Any) -> str:
    """Return the type of a feature's geometry; empty where it has none."""
    geometry = feature.get("geometry") if isinstance(feature, dict) else None
    found = geometry.get("type") if isinstance(geometry, dict) else None
    return found if isinstance(found, str) else ""


def misspelt(properties: dict[str, Any], marking: Marking) -> str:
    """Return the ``kind`` that a feature may have meant; empty where there is none near."""
    if marking.scheme != "kind":
        return ""
    known = (*KINDS, *FURTHER_KINDS)
    return next(iter(difflib.get_close_matches(str(properties.get("kind")), known, n=1)), "")


def marks_not_known(raw: Sequence[Any], marking: Marking) -> str:
    """Say which marks were not known, so that a plan does not lose its doors unseen."""
    if marking.scheme not in ("kind", "words"):
        return ""
    found = Counter(
        one_line_text(mark)
        for one in raw
        if (mark := properties_of(one).get(marking.key)) is not None
        and role_of(one, marking) is None
    )
    if not found:
        return ""
    few = ", ".join(f"{mark} {n}" for mark, n in found.most_common(3))
    known = ", ".join((*KINDS, *FURTHER_KINDS))
    hint = f"; known kinds: {known}" if marking.scheme == "kind" else ""
    return f" (of {marking.key} {few}{hint})"
