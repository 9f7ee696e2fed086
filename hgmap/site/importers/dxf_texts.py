"""Names of rooms out of the texts of a drawing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from shapely import Point

from hgmap.site.importers.drawing import Part
from hgmap.site.importers.dxf_entities import Label
from hgmap.site.importers.names import one_line_text

_FIGURE: Final = re.compile(
    r"(?:[^\W\d]{1,10}\.?\s*[:=]?\s*)?[+±-]?\d+(?:[.,]\d+)?\s*"
    r"(?:m²|m2|m\^2|qm|sqm|sq\.?\s*m\.?|sf|sq\.?\s*ft\.?|ft²|m³|m3|m|mm|cm)\.?",
    re.IGNORECASE,
)
"""An area, a volume, a height or a length, as ``"A = 24,50 m²"``."""
_LEVEL: Final = re.compile(r"[+±-]\s*\d+[.,]\d{2,3}")
_NUMBER_TAG: Final = re.compile(r"(room|raum)?[_ -]*(number|num|no|nr|nummer|id|code)\.?", re.I)
_FIGURE_TAG: Final = re.compile(r"area|flaeche|fläche|surface|volume|height|hoehe|höhe|perimeter",
                                re.IGNORECASE)  # fmt: skip


def text_parts(labels: Sequence[Label]) -> tuple[list[Part], list[str]]:
    """Return one part for each text, or for all attributes of one inserted block.

    Areas and heights that stand below a room's name are dropped. An attribute whose tag says that
    it is a number becomes the part's id, and its name where there is no other.
    """
    parts: list[Part] = []
    figures = 0
    for together in _by_block(labels):
        names: list[str] = []
        numbers: list[str] = []
        for label in together:
            kept = [line for line in label.lines if not _is_figure(line)]
            if label.tag and _FIGURE_TAG.search(label.tag):
                kept = []
            figures += len(kept) < len(label.lines)
            text = one_line_text(" ".join(kept))
            if text:
                is_number = bool(label.tag and _NUMBER_TAG.fullmatch(label.tag))
                (numbers if is_number else names).append(text)
        name = one_line_text(" ".join(names or numbers))
        if name:
            x, y = (float(along) for along in together[0].at[:2])
            identifier = numbers[0] if numbers else ""
            parts.append(Part("text", Point(x, y), together[0].label, name, identifier))
    if not figures:
        return parts, []
    what = "an area, a height or a length"
    if figures == 1:
        return parts, [f"1 text says {what}, which is no name of a room"]
    return parts, [f"{figures} texts say {what}, which is no name of a room"]


def mirrored_note(labels: Sequence[Label]) -> list[str]:
    """Say so where most texts read as in a mirror: the drawing is a mirror image then."""
    mirrored = sum(label.mirrored for label in labels)
    if mirrored < 3 or 2 * mirrored <= len(labels):
        return []
    return [
        f"{mirrored} of {len(labels)} texts read as in a mirror: the drawing may be a mirror image "
        "(y down, or seen from below); turn it over before the export if left and right are "
        "exchanged"
    ]


def _by_block(labels: Sequence[Label]) -> Iterable[list[Label]]:
    together: dict[object, list[Label]] = {}
    for number, label in enumerate(labels):
        key: object = ("block", label.group) if label.kind == "ATTRIB" else number
        together.setdefault(key, []).append(label)
    return together.values()


def _is_figure(line: str) -> bool:
    """Tell whether a line is a measure.

    Examples
    --------
    >>> _is_figure("A = 24,50 m²"), _is_figure("+3.20"), _is_figure("Lab 2"), _is_figure("101")
    (True, True, False, False)
    """
    return bool(_FIGURE.fullmatch(line.strip()) or _LEVEL.fullmatch(line.strip()))
