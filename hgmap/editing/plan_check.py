"""Are the plans of a site sound? Every floor looked at, and the floors against one another."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Literal

from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_of_floor import is_region
from hgmap.editing.site_files import SiteFiles, also_read
from hgmap.editing.soundness import Finding, in_order, soundness
from hgmap.editing.stacking import STACKED, stacking_findings
from hgmap.editing.toml_edit import table_of
from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import read_bytes
from hgmap.site.quality.figures import counted
from hgmap.site.schema import FloorTable, SiteTable
from hgmap.site.store import SITE_FILE


@dataclass(frozen=True, slots=True)
class NumberedFinding:
    """A finding, its floor, and its number among all of the site (from 1)."""

    number: int
    floor: str
    finding: Finding

    @property
    def open(self) -> bool:
        """Whether a person has to look: it is no note, and nobody has said it is drawn so."""
        return self.finding.severity != "note" and not self.finding.kept


@dataclass(frozen=True)
class FloorCheck:
    """What was found on the plan of one floor.

    Attributes
    ----------
    name, title : str
    plan : str
        The plan's file, relative to the site.
    north_deg : float or None
    draft : PlanDraft or None
        None where the file is no plan at all, and then ``why``.
    why : str
    findings : tuple of NumberedFinding
        Errors first, what was kept as drawn last.
    """

    name: str
    title: str
    plan: str
    north_deg: float | None
    draft: PlanDraft | None
    why: str = ""
    findings: tuple[NumberedFinding, ...] = ()

    @property
    def state(self) -> Literal["sound", "look", "not read"]:
        """Whether it can be used as it is, should be looked at first, or is not read."""
        if self.draft is None or any(one.finding.severity == "error" for one in self.findings):
            return "not read"
        return "look" if any(one.open for one in self.findings) else "sound"


@dataclass(frozen=True)
class PlansCheck:
    """What was found on the plans of a site, floor by floor."""

    floors: tuple[FloorCheck, ...]

    @cached_property
    def findings(self) -> tuple[NumberedFinding, ...]:
        """All findings, by their numbers."""
        return tuple(one for floor in self.floors for one in floor.findings)

    @property
    def sound(self) -> bool:
        """Whether nothing stands against the plans but notes."""
        return bool(self.floors) and all(one.state == "sound" for one in self.floors)

    @property
    def mendable(self) -> tuple[NumberedFinding, ...]:
        """The findings that have a repair."""
        return tuple(
            one for one in self.findings if one.finding.repair is not None and not one.finding.kept
        )

    @property
    def sentence(self) -> str:
        """The answer in one plain sentence."""
        if not self.floors:
            return "There is no plan."
        notes = sum(one.finding.severity == "note" for one in self.findings)
        if self.sound:
            rest = f"; {counted(notes, 'note')} to look at" if notes else ""
            if len(self.floors) == 1:
                return f"The plan is sound: nothing stands against it{rest}."
            return f"The plans of {len(self.floors)} floors are sound: nothing stands against " \
                   f"them{rest}."  # fmt: skip
        return f"Not sound: {'; '.join(self._against())}."

    def _against(self) -> Iterator[str]:
        for floor in self.floors:
            if floor.draft is None:
                yield f"{floor.title} ({floor.why})"
                continue
            counts = [
                counted(number, word)
                for word in ("error", "warning")
                if (number := sum(one.finding.severity == word and one.open
                                  for one in floor.findings))
            ]  # fmt: skip
            if counts:
                unread = ", the plan is not read" if floor.state == "not read" else ""
                yield f"{floor.title} ({' and '.join(counts)}{unread})"


def check_plans(site: Path | str | SiteFiles, before: PlansCheck | None = None) -> PlansCheck:
    """Look at the plan of every floor of a site, also at one that cannot be read as it is.

    Parameters
    ----------
    site : path or SiteFiles
        The site folder, or its files as they are being edited.
    before : PlansCheck, optional
        What was found before: a plan that is still the same file is not looked at again.

    Returns
    -------
    PlansCheck

    Raises
    ------
    SiteError
        If the folder or its site.toml cannot be used at all.
    """
    files = site if isinstance(site, SiteFiles) else plan_files(Path(site))
    table = table_of(files)
    known = {} if before is None else {
        one.draft.source: one for one in before.floors
        if one.draft is not None and one.draft.region == is_region(table)
    }  # fmt: skip
    floors = [_read(files, one, known, region=is_region(table)) for one in table.floors]
    stacked: dict[str, list[Finding]] = {}
    for drafts, on_map in _buildings(table, [one for one, _ in floors]):
        for name, finding in stacking_findings(drafts, on_map=on_map):
            stacked.setdefault(name, []).append(finding)
    checked: list[FloorCheck] = []
    number = 0
    for floor, own in floors:
        numbered: list[NumberedFinding] = []
        if floor.draft is not None:
            found = in_order(floor.draft, [*own, *stacked.get(floor.name, ())])
            numbered = [
                NumberedFinding(n, floor.name, one) for n, one in enumerate(found, start=number + 1)
            ]
        number += len(numbered)
        checked.append(replace(floor, findings=tuple(numbered)))
    return PlansCheck(tuple(checked))


def _buildings(
    table: SiteTable, floors: Sequence[FloorCheck]
) -> Iterator[tuple[list[tuple[str, str, PlanDraft]], bool]]:
    """Go through the buildings: their floors that are plans, and whether they lie on the map."""
    of = {one.name: one.building for one in table.floors}
    for building in dict.fromkeys(of.values()):
        yield (
            [
                (one.name, one.title, one.draft)
                for one in floors
                if one.draft is not None and of[one.name] == building
            ],
            building is not None or table.map_frame is not None,
        )


def finding_of(check: PlansCheck, number: int) -> NumberedFinding:
    """Return the finding of a number.

    Raises
    ------
    SiteError
        If there is none.
    """
    for one in check.findings:
        if one.number == number:
            return one
    todo = f"the numbers are 1 to {len(check.findings)}" if check.findings else "nothing was found"
    raise SiteError(f"there is no finding {number}", where="plans", todo=todo)


def plan_files(folder: Path) -> SiteFiles:
    """Read site.toml and the plans that it names, and nothing else: readings may be many.

    Raises
    ------
    SiteError
        If there is no such folder, or its site.toml cannot be used.
    """
    if not folder.is_dir():
        raise SiteError("no such folder", where=str(folder), todo="give the folder of a site")
    data = read_bytes(folder / SITE_FILE, where=str(folder / SITE_FILE))
    files = SiteFiles(folder, {SITE_FILE: data})
    return also_read(files, [one.plan for one in table_of(files).floors])


def _read(
    files: SiteFiles, entry: FloorTable, known: Mapping[bytes, FloorCheck], *, region: bool
) -> tuple[FloorCheck, tuple[Finding, ...]]:
    """Return a floor without findings, and those of its plan by itself."""
    floor = FloorCheck(entry.name, entry.title or entry.name, entry.plan, entry.north_deg, None)
    try:
        data = files.data(entry.plan)
        old = known.get(data)
        if old is not None:
            own = tuple(one.finding for one in old.findings if one.finding.rule != STACKED)
            return replace(floor, draft=old.draft), own
        draft = read_plan_draft(data, where=entry.plan, region=region)
    except HgmapError as error:
        return replace(floor, why=str(error)), ()
    return replace(floor, draft=draft), soundness(draft)
