"""What a reader has to know: gathered, ordered, and set where the page has room for it."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields
from typing import Final

from hgmap.decide.model import FloorEvidence, Zones
from hgmap.field.surface import Surface
from hgmap.report.column import SMALL_PT, Column, heading_mm, line_mm
from hgmap.report.plan_marks import Marks
from hgmap.report.typeset import NO_GLYPH, lacks_letters, wrap
from hgmap.report.words import count
from hgmap.site.model import Round, Site

HEADING: Final = "Notes and warnings"
MORE: Final = "and {n} more, in the results"
CONTINUED: Final = "continued under the plan"
OTHER_SCRIPT: Final = f"letters of another script are printed as {NO_GLYPH}; see the tables"
_DOT_MM: Final = 2.6
_GAP_MM: Final = 5.0
_LEAST_COLUMN_MM: Final = 60.0
_MOST_LINES: Final = 6


def notes_of(
    site: Site,
    round_: Round,
    evidence: FloorEvidence,
    surface: Surface | None,
    marks: Marks,
    warnings: tuple[str, ...],
    cautions: tuple[str, ...],
) -> tuple[str, ...]:
    """Gather the notes, each once: warnings, what is held, the readings, cautions, the rest."""
    notes = list(warnings)
    notes.extend(_held(evidence))
    notes.extend(evidence.notes)  # before what is usual: a list cut short loses its end
    notes.extend(cautions)
    notes.extend(surface.notes if surface is not None else ())
    if marks.off_plan:
        notes.append(f"{count(marks.off_plan, 'reading')} without a place on this plan")
    if marks.unnamed:
        notes.append(f"too small on paper for their names: {'; '.join(marks.unnamed)}")
    if any(map(lacks_letters, (*_names(site, round_, evidence), *notes))):
        notes.append(OTHER_SCRIPT)
    return tuple(dict.fromkeys(note for note in notes if note.strip()))


def no_surface_reason(evidence: FloorEvidence, warnings: tuple[str, ...], zones: Zones) -> str:
    """Find the words for why there is no surface."""
    reasons = [reason for zone in zones.zones for reason in zone.reasons]
    for text in (*warnings, *evidence.notes, *reasons):
        if text:
            return text
    return "there were too few usable readings"


def notes_block(column: Column, notes: tuple[str, ...], more: str) -> int:
    """Print notes down a column; ``more`` closes a list cut short. Return how many fitted."""
    if not notes or column.left_over_mm < heading_mm() + line_mm(SMALL_PT):
        return 0
    column.heading(HEADING)
    return column.entries(notes, more, most_lines=_MOST_LINES)


def notes_height(width_mm: float, notes: tuple[str, ...]) -> float:
    """Return how much notes take in one column (mm)."""
    if not notes:
        return 0.0
    return heading_mm() + sum(_lines(width_mm, notes)) * line_mm(SMALL_PT)


def columns_height(width_mm: float, notes: tuple[str, ...], further_mm: float) -> float:
    """Return how much notes take across the page, in as many columns as it holds (mm).

    All but the first column go on for ``further_mm``.
    """
    if not notes:
        return 0.0
    number, each = _columns(width_mm)
    lines = _lines(each, notes)
    return heading_mm() + _deepest(lines, number, further_mm) * line_mm(SMALL_PT)


def columns_block(column: Column, notes: tuple[str, ...], further_mm: float) -> int:
    """Print notes across the page, column after column; what does not fit is counted.

    Returns how many fitted.
    """
    if not notes or column.left_over_mm < heading_mm() + line_mm(SMALL_PT):
        return 0
    column.heading(HEADING)
    number, each = _columns(column.width_mm)
    lines = _lines(each, notes)
    first = _deepest(lines, number, further_mm) * line_mm(SMALL_PT)
    bottom = max(column.bottom_mm, column.top_mm - first)
    left, wanted = column.left_mm, len(notes)
    for place in range(number):
        last = place == number - 1
        part = Column(left, column.top_mm, each, bottom - (further_mm if place else 0.0) - 0.1)
        held = len(notes) if last else _held_by(part.left_over_mm, lines)
        done = part.entries(notes[:held], MORE, most_lines=_MOST_LINES)
        column.draw(*part.done())
        notes, lines = notes[done:], lines[done:]
        left += each + _GAP_MM
        if not notes:
            break
    return wanted - len(notes)


def _held(evidence: FloorEvidence) -> list[str]:
    """Say what is held, and how often for the same reason; strays may be of this floor."""
    found = []
    for items, where in (
        ([item for item in evidence.items if item.role == "held"], ""),
        (evidence.strays, " that may be of this floor"),
    ):
        reasons = Counter("; ".join(item.reasons) or "no reason given" for item in items)
        found += [
            f"{count(number, 'reading')}{where} held: {reason}"
            for reason, number in reasons.items()
        ]
    return found


def _names(site: Site, round_: Round, evidence: FloorEvidence) -> list[str]:
    """List what a person wrote that this sheet prints."""
    block = site.title_block
    return [
        site.name,
        round_.title,
        evidence.floor.title,
        evidence.level.name,
        evidence.level.source,
        evidence.level.scenario,
        *(room.name for room in evidence.floor.rooms),
        *(str(getattr(block, one.name)) for one in fields(block)),
    ]


def _lines(width_mm: float, notes: tuple[str, ...]) -> list[int]:
    """Return how many lines each note takes."""
    return [min(_MOST_LINES, len(wrap(note, SMALL_PT, width_mm - _DOT_MM))) for note in notes]


def columns_of(width_mm: float) -> int:
    """Return in how many columns notes are set across a width (mm)."""
    return 2 if width_mm >= 2.0 * _LEAST_COLUMN_MM + _GAP_MM else 1


def _columns(width_mm: float) -> tuple[int, float]:
    """Choose how many columns, and how wide each is (mm)."""
    number = columns_of(width_mm)
    return number, (width_mm - (number - 1) * _GAP_MM) / number


def _deepest(lines: list[int], number: int, further_mm: float) -> int:
    """Return the least number of lines of the first column with which all notes fit, unbroken."""
    if number == 1:
        return sum(lines)
    further = int(further_mm / line_mm(SMALL_PT))
    return min(
        max(sum(lines[:cut]), sum(lines[cut:]) - further, 1) for cut in range(1, len(lines) + 1)
    )


def _held_by(height_mm: float, lines: list[int]) -> int:
    """Return how many whole notes a height holds."""
    used, held = 0.0, 0
    for number in lines:
        used += number * line_mm(SMALL_PT)
        if used > height_mm + 1e-6:
            break
        held += 1
    return held
