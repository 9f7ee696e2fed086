"""What a spreadsheet shows beside a number by its format alone: "<", a unit, a line through it."""

from __future__ import annotations

import re
from typing import Any, Final

from hgmap.site.intake.cells import number_cell

_LITERAL: Final = re.compile(r'"([^"]*)"|\\(.)')
_COLOUR: Final = re.compile(r"\[[^\]]*\]")
_SAYS: Final = re.compile(
    r"[<>~\u2264\u2265]|/|ppb|ppm|[\'\u2032\u00b0]|\b(?:m|cm|mm|ft|feet|foot|in|inch(?:es)?|[CF])\b",
    re.IGNORECASE,
)
_IN_THOUSANDS: Final = re.compile(r"[0#?],+(?![0#?])")

STRUCK: Final = "(struck through)"


class CellStyles:
    """Tells what the styles of a workbook say; each is looked at once."""

    def __init__(self) -> None:
        self._formats: dict[Any, tuple[str, str, float, str]] = {}
        self._struck: dict[Any, bool] = {}
        self.struck = 0

    def shown(self, cell: Any, text: str) -> str:
        """Return the text of a cell as a person sees it.

        Parameters
        ----------
        cell : cell of the workbook
        text : str
            Its value.
        """
        style = cell._style_id
        value = cell.value
        if isinstance(value, float | int) and not isinstance(value, bool):
            if style not in self._formats:
                self._formats[style] = _taken_apart(str(cell.number_format))
            before, behind, factor, why = self._formats[style]
            if factor != 1:
                text = number_cell(float(value) * factor)
            text = f"{before}{text}{behind}{why}"
        if style not in self._struck:
            self._struck[style] = bool(cell.font is not None and cell.font.strike)
        if self._struck[style] and any(map(str.isdigit, text[:2])):
            self.struck += 1
            text = f"{text} {STRUCK}"
        return text


def _taken_apart(number_format: str) -> tuple[str, str, float, str]:
    """Return what stands before a number, behind it, its factor, and what makes it unsure."""
    first = number_format.split(";")[0]
    bare = _COLOUR.sub("", first)
    plain = _LITERAL.sub("", bare)
    if "%" in plain:
        return "", " %", 100.0, ""
    if not any(mark in plain for mark in "0#?") and plain.casefold() not in ("", "general"):
        return "", "", 1.0, ""
    found = [(match.start(), match[1] or match[2]) for match in _LITERAL.finditer(bare)]
    digits = next((k for k, mark in enumerate(bare) if mark in "0#?"), len(bare))
    if not _SAYS.search("".join(text for _, text in found)) and not _SAYS.search(plain):
        # an ordinary word or none; 0.00, shows thousandths of what the cell holds
        scaled = _IN_THOUSANDS.search(plain) is not None
        return "", "", 1.0, " (shown in thousands)" if scaled else ""
    before = "".join(text for start, text in found if start < digits)
    behind = "".join(text for start, text in found if start > digits)
    before = before or "".join(re.findall(r"^[<>~]", plain))
    return before, f" {behind.strip()}" if behind.strip() else "", 1.0, ""
