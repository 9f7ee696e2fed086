"""What a drawing became, on paper: the plan, its repairs numbered, and what is still open."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from hgmap.editing.plan_check import FloorCheck, NumberedFinding
from hgmap.editing.plan_draft import read_plan_draft
from hgmap.editing.soundness import Finding, soundness
from hgmap.report.drawing import Sheet
from hgmap.report.soundness_sheet import SheetWords, numbered_sheets
from hgmap.site.importers.add_floor import ImportReport
from hgmap.site.plan_findings import PlanFinding, finding_key
from hgmap.site.quality.figures import counted

FOOT: Final = (
    "What was drawn is one thing, the building another: compare walls and doors before a reading "
    "relies on them. A wall that is not there hides a room's air from the next; a door that is not "
    "there mixes them."
)
_REPAIR: Final = "import-repair"
_DOUBT: Final = "import-doubt"


def import_sheets(file: Path, reports: Sequence[ImportReport]) -> list[tuple[str, Sheet]]:
    """Lay out a sheet of A4 for each floor that was brought in, with its name.

    What has to be looked at comes first, then repairs with the numbers by which they are refused,
    then what the check of the plan finds.
    """
    words = SheetWords(
        file.name, "As it was read:", _line, "What to look at, repairs, what is open", _texts, FOOT,
        elsewhere="the import prints all repairs, and hgmap check what is open",
    )  # fmt: skip
    return numbered_sheets(words, [_floor(one) for one in reports])


def _floor(report: ImportReport) -> FloorCheck:
    draft = read_plan_draft(report.data, where=report.plan.name)
    placed = [one for one in report.doubts if one.place is not None]
    made: list[Finding] = [
        PlanFinding(finding_key(_DOUBT, one.key), "warning", one.text, "", one.place, (one.key,))
        for one in placed
    ]
    made += [
        PlanFinding(finding_key(_REPAIR, one.key), "note", one.text, "", one.place, (one.key,))
        for one in report.numbered
    ]
    numbers = [one.number for one in placed] + [one.number for one in report.numbered]
    sound = soundness(draft)
    first = max(numbers, default=0) + 1
    numbers += range(first, first + len(sound))
    numbered = [
        NumberedFinding(number, report.floor, one)
        for number, one in zip(numbers, [*made, *sound], strict=True)
    ]
    return FloorCheck(
        report.floor, report.floor, report.plan.name, None, draft, findings=tuple(numbered)
    )


def _line(check: FloorCheck) -> str:
    assert check.draft is not None
    repairs = sum(one.finding.rule == _REPAIR for one in check.findings)
    still = len(check.findings) - repairs
    return (
        f"{counted(len(check.draft.rooms), 'room')}, "
        f"{counted(len(check.draft.openings), 'opening')}; {counted(repairs, 'repair')} made, "
        f"{counted(still, 'thing') if still else 'nothing'} still to look at."
    )


def _texts(one: NumberedFinding) -> tuple[str, str]:
    finding = one.finding
    if finding.rule == _REPAIR:
        return f"repaired: {finding.message}", ""
    if finding.rule == _DOUBT:
        return f"look: {finding.message}", ""
    todo = finding.repair.text if finding.repair else finding.todo
    return f"{finding.severity}: {finding.message}", f"To do: {todo}"
