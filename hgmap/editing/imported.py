"""What the check of the plan says of a floor that was just brought in."""

from __future__ import annotations

from hgmap.editing.plan_check import NumberedFinding
from hgmap.editing.plan_draft import read_plan_draft
from hgmap.editing.soundness import soundness
from hgmap.site.importers.add_floor import ImportReport


def read_findings(report: ImportReport) -> tuple[NumberedFinding, ...]:
    """Return the findings of a plan as it was written, or would be, numbered from 1."""
    found = soundness(read_plan_draft(report.data, where=report.plan.name))
    return tuple(
        NumberedFinding(number, report.floor, one) for number, one in enumerate(found, start=1)
    )
