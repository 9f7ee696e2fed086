"""Words by which features say what part of a building they are, where they use no known scheme.

A wall that is called a wall in a property such as ``type`` is taken for one. Ours, gathered from
plain English; another language, or another key, is told with ``--where`` or the property ``kind``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from hgmap.site.importers.drawing import Role
from hgmap.site.importers.names import one_line_text

PART_KEYS: Final = ("type", "class", "category", "element", "part", "layer")
"""Properties that may hold such a word, the first that does is read."""

_ROLES: Final[Mapping[Role, frozenset[str]]] = {
    "wall": frozenset({"wall", "walls", "partition", "outer wall", "inner wall"}),
    "door": frozenset({"door", "doors", "doorway", "opening", "gate", "entrance"}),
    "window": frozenset({"window", "windows", "glazing"}),
    "outline": frozenset({
        "building outline", "outline", "floor outline", "footprint", "building", "boundary",
    }),
    "walkable": frozenset({"walkable", "walkable area"}),
}  # fmt: skip

NO_FLOOR: Final = frozenset({
    "no geometry", "floor opening", "void", "furniture", "column", "pillar", "roof", "label",
})  # fmt: skip
"""What is no room although it is drawn as an area."""

NO_NAME: Final = frozenset({"room", "rooms", "space", "spaces", "area", "zone", "office"})
"""Words that say a polygon is a room, and not which."""


def part_word(properties: Mapping[str, Any], key: str) -> str:
    """Return the word in a property, small, with blanks for underscores.

    Examples
    --------
    >>> part_word({"type": "Building_Outline"}, "type")
    'building outline'
    """
    text = one_line_text(properties.get(key))
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").split())


def part_key(tags: Sequence[Mapping[str, Any]]) -> str:
    """Return the property by which features say that they are walls or an outline, or nothing."""
    told = _ROLES["wall"] | _ROLES["outline"]
    for key in PART_KEYS:
        if any(part_word(one, key) in told for one in tags):
            return key
    return ""


def role_of_word(word: str) -> Role | None:
    """Return the role of a word; None for a part that is no floor, and a room for all else."""
    for role, words in _ROLES.items():
        if word in words:
            return role
    return None if word in NO_FLOOR or not word else "room"


def name_of_word(word: str) -> str:
    """Return what a nameless room may be called by its word: ``stairs``, and not ``room``."""
    return "" if word in NO_NAME else word
