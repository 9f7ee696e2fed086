"""What was measured, by the words that people use for it."""

from __future__ import annotations

import re
from typing import Final

from hgmap.site.reading import ReadingKind

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


def duplicate_of(text: str) -> str:
    """Return the id behind "duplicate of", or an empty text.

    Examples
    --------
    >>> duplicate_of("Dup. of R12")
    'R12'
    """
    match = _DUPLICATE_OF.fullmatch(text.strip()) if len(text) <= 200 else None
    return match["id"].strip() if match is not None else ""
