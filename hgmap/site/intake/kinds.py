"""What was measured, by the words that people use for it."""

from __future__ import annotations

import re
from typing import Final

from hgmap.site.reading import OFF_MAP, ReadingKind

SYNONYMS: Final[dict[str, ReadingKind]] = {
    # common practice, no source; "ambient" is not here: inside a room it means the room's air
    **dict.fromkeys(
        ("", "reading", "room", "room air", "indoor", "indoor air", "inside", "interior", "area",
         "area sample", "normal", "survey", "breathing zone", "general area", "sample",
         "field sample", "primary", "primary sample", "normal sample", "regular"),
        "reading",
    ),
    **dict.fromkeys(
        ("source search", "source", "search", "sweep", "floor sweep", "sniff", "sniffing",
         "source sweep", "hot spot", "hot spot search", "hotspot", "leak search", "spot search"),
        "source search",
    ),
    **dict.fromkeys(
        ("headspace", "head space", "bag", "bag headspace", "bagged", "bag test", "bagged item",
         "jar headspace", "bag sample"),
        "headspace",
    ),
    **dict.fromkeys(
        ("background", "bkg", "bkgd", "bg", "outdoor", "outdoors", "outside", "outdoor air",
         "outside air", "outdoor background", "outdoor ambient", "background outdoor", "upwind",
         "ambient outdoor", "ambient outdoors", "exterior", "background air"),
        "background",
    ),
    **dict.fromkeys(
        ("blank", "field blank", "fb", "blank field", "trip blank", "travel blank",
         "transport blank", "media blank", "field blanks"),
        "field blank",
    ),
    **dict.fromkeys(
        ("duplicate", "dup", "dupe", "field duplicate", "replicate", "rep", "repl", "field dup",
         "colocated", "co located", "collocated", "side by side", "repeat", "dupl"),
        "duplicate",
    ),
    **dict.fromkeys(
        ("laboratory", "lab", "lab sample", "laboratory sample", "lab result", "tube",
         "sorbent tube", "sorbent tube sample", "pump sample", "pumped sample", "time weighted",
         "twa", "integrated sample", "laboratory result"),
        "laboratory",
    ),
    **dict.fromkeys(
        ("bulk sample", "bulk", "floor bulk", "core sample", "material sample", "soil"),
        "bulk sample",
    ),
    **dict.fromkeys(("surface wipe", "wipe", "wipe sample", "swab"), "surface wipe"),
}  # fmt: skip

_DUPLICATE_OF: Final = re.compile(
    r"(?:field |lab )?(?:dup|dupe|duplicate|replicate|rep|repeat)\.?\s*(?:of\b|for\b|[:=#])\s*"
    r"(?P<id>\S.*)",
    re.IGNORECASE,
)
_NUMBERED: Final = re.compile(r"\s*#?\d{1,3}$")

_MAYBE_A_KIND: Final = re.compile(
    r"\b(?:fb|blank|background|bkgd?|dup\w*|rep\w*|bag\w*|head ?space|out(?:side|door)\w*)",
    re.IGNORECASE,
)
_IN_WORDS: Final = frozenset((*OFF_MAP, "duplicate"))
_TOO_SHORT: Final = 3
"""Letters of a word that may be a room's or a building's, as BG 12."""


def parse_kind(text: str) -> ReadingKind | None:
    """Return the kind of reading that a word means; None where it has to be asked.

    Examples
    --------
    >>> parse_kind("Trip blank"), parse_kind("dup of R12"), parse_kind("ambient")
    ('field blank', 'duplicate', None)
    """
    if len(text) > 80:
        return None
    if duplicate_of(text):
        return "duplicate"
    key = " ".join(re.sub(r"[-_./()\[\],:;]+", " ", text.casefold()).split())
    word = _NUMBERED.sub("", key)
    # a number alone is no kind
    return SYNONYMS.get(key) or (SYNONYMS.get(word) if word else None)


def may_speak_of_a_kind(text: str) -> bool:
    """Tell quickly whether any word of a text begins as a kind does; a file has a million ids."""
    return _MAYBE_A_KIND.search(text) is not None


def kind_beside(text: str) -> ReadingKind | None:
    """Return the kind that an id or a note speaks of where no kind is written: a blank, a bag, ...

    Examples
    --------
    >>> kind_beside("FB-1"), kind_beside("dup of R12"), kind_beside("R12")
    ('field blank', 'duplicate', None)
    """
    if not may_speak_of_a_kind(text):
        return None
    kind = parse_kind(text)
    return kind if kind in _IN_WORDS else None


def why_unsure(identifier: str, note: str) -> str:
    """Return what to say of a row without a kind whose id or note speaks of one; else empty."""
    for name, text in (("id", identifier), ("note", note)):
        kind = kind_beside(text) if text else None
        if kind is not None:
            return f"{name} {text!r} speaks of a {kind}: write the kind, or 'reading'"
    return ""


def kind_in_place_of_room(text: str) -> ReadingKind | None:
    """Return the kind that stands where a room should be; "BG 12" may well be a room.

    Examples
    --------
    >>> kind_in_place_of_room("Field blank"), kind_in_place_of_room("BG 12")
    ('field blank', None)
    """
    if any(map(str.isdigit, text)) or len(text) <= _TOO_SHORT:
        return None
    kind = parse_kind(text)
    return kind if kind in OFF_MAP else None


def duplicate_of(text: str) -> str:
    """Return the id behind "duplicate of", or an empty text.

    Examples
    --------
    >>> duplicate_of("Dup. of R12")
    'R12'
    """
    match = _DUPLICATE_OF.fullmatch(text.strip()) if len(text) <= 200 else None
    return match["id"].strip() if match is not None else ""
