"""Repairing the plans of a site into a copy of it: the site itself is never written.

A repair that multiplies a whole plan takes the picture under it along. It is left to a person
where readings of the floor give their place, or a grid is said to lie on it: nobody but the person
knows whether they are in the plan's numbers or in metres.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from hgmap.editing.begin import beside
from hgmap.editing.new_folder import look_at
from hgmap.editing.plan_check import (
    NumberedFinding,
    PlansCheck,
    check_plans,
    finding_of,
)
from hgmap.editing.plan_draft import PlanDraft
from hgmap.editing.plan_of_floor import draft_of, floor_entry, scale_floor, with_plan
from hgmap.editing.readings_after import readings_after, states_lost
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.editing.soundness import Finding, repair_each, soundness
from hgmap.editing.toml_edit import table_of
from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import in_one_line, inside_folder, write_bytes
from hgmap.site.model import Site

RESULTS = "results"
_OURS = ".tmp-"


@dataclass(frozen=True, slots=True)
class Repaired:
    """One repair that was made.

    Attributes
    ----------
    number : int or None
        Of the finding as ``check_plans`` numbers it; None where it came to light by another repair.
    floor, text : str
        Name of the floor; what was done, with the area that it changed.
    changed_m2 : float
        That area (m²).
    """

    number: int | None
    floor: str
    text: str
    changed_m2: float


@dataclass(frozen=True)
class RepairedSite:
    """What repairing the plans of a site did.

    Attributes
    ----------
    files : SiteFiles
        Of the repaired site.
    done : tuple of Repaired
    left : PlansCheck
        What is still found, with numbers of its own.
    areas : tuple of (floor, before, after)
        Floor (m²) of the rooms that can be read, of each floor that was repaired.
    readings : tuple of str
        Which rows mean something else now, and what.
    skipped : tuple of str
        Files that are not in the copy, for they are no files of the folder.
    """

    files: SiteFiles
    done: tuple[Repaired, ...]
    left: PlansCheck
    areas: tuple[tuple[str, float, float], ...]
    readings: tuple[str, ...]
    skipped: tuple[str, ...] = ()


def repair_plans(
    site: Path | str, into: Path | str, *, refuse: Collection[int] = ()
) -> RepairedSite:
    """Write a copy of a site whose plans are repaired.

    Parameters
    ----------
    site : path
        The site folder; nothing is changed in it.
    into : path
        The copy's folder: not there yet, or empty, and not within the site. It appears whole, or
        not at all.
    refuse : collection of int
        Numbers of findings, as :func:`~hgmap.editing.plan_check.check_plans` has them, that are
        not to be repaired.

    Returns
    -------
    RepairedSite

    Raises
    ------
    SiteError
        If the site cannot be used, a number is not there, or the copy's place is taken.
    HgmapError
        If the copy cannot be written; nothing is left behind.
    """
    folder, target = Path(site), Path(into).absolute()
    before = read_site_files(folder)
    refuse_place(folder, target)
    made = repaired(before, refuse)
    skipped = _copy(folder, target, before, made.files)
    return replace(made, files=replace(made.files, folder=target), skipped=skipped)


def repaired(files: SiteFiles, refuse: Collection[int] = ()) -> RepairedSite:
    """Repair the plans of a site in memory; nothing is written."""
    check = check_plans(files)
    for number in refuse:
        finding_of(check, number)
    before, start, table = site_of(files), files, table_of(files)
    done: list[Repaired] = []
    areas = []
    for floor in check.floors:
        if floor.draft is None:
            continue
        files, mended = _floor(files, floor.name, floor.findings, set(refuse), before)
        if mended:
            done += mended
            areas.append((floor.name, _area(floor.draft), _area(draft_of(files, floor.name))))
    after = site_of(files) if files is not start else before
    said = (*readings_after(before, after), *states_lost(table, table_of(files)))
    return RepairedSite(files, tuple(done), check_plans(files), tuple(areas), said)


def refuse_place(folder: Path, target: Path) -> None:
    """Refuse a place where a copy would not be one.

    Raises
    ------
    SiteError
        If it lies within the site, or something stands there.
    """
    if target.resolve().is_relative_to(folder.resolve()):
        raise SiteError(
            "lies within the site", where=str(target), todo="give a folder beside the site"
        )
    why = look_at(target).why
    if why:
        raise SiteError(
            why.rstrip("."), where=str(target), todo="nothing was written; give a new folder"
        )


def _floor(
    files: SiteFiles,
    floor: str,
    findings: tuple[NumberedFinding, ...],
    refuse: set[int],
    site: Site,
) -> tuple[SiteFiles, list[Repaired]]:
    draft = draft_of(files, floor)
    numbers = _Numbers(draft, findings)
    done: list[Repaired] = []
    for one in soundness(draft):
        repair, number = one.repair, numbers.of(draft, one)
        if repair is None or repair.factor is None or one.kept or number in refuse:
            continue
        if _is_placed(files, floor, site):
            continue
        files = scale_floor(files, floor, repair.factor)
        done.append(Repaired(number, floor, repair.text, repair.changed_m2))
        draft = draft_of(files, floor)
        numbers = _Numbers(draft, findings)
    spoken_of = {
        f"opening {opening}"
        for round_ in table_of(files).rounds
        for opening in round_.openings.get(floor, {})
    }
    met: dict[str, int | None] = {}

    def wanted(now: PlanDraft, one: Finding) -> bool:
        met[one.key] = numbers.of(now, one)
        # an opening that a round speaks of is not set aside: what it says would be lost
        twice = one.rule == "twice" and one.features[-1] in spoken_of
        return not twice and met[one.key] not in refuse

    draft, mended = repair_each(draft, wanted)
    if mended:
        files = with_plan(files, floor, draft)
    for one in mended:
        assert one.repair is not None
        done.append(Repaired(met[one.key], floor, one.repair.text, one.repair.changed_m2))
    return files, done


class _Numbers:
    """The numbers of findings while repairs beside them move features up in the file.

    A feature is known again by what stands in the file for it, or by its key.
    """

    def __init__(self, draft: PlanDraft, findings: tuple[NumberedFinding, ...]) -> None:
        self._kept_alive = draft  # an id of an object is its own only as long as that is there
        self._by_key = {(one.finding.rule, one.finding.features): one.number for one in findings}
        self._by_raw = {
            (one.finding.rule, _raws(draft, one.finding)): one.number for one in findings
        }

    def of(self, now: PlanDraft, finding: Finding) -> int | None:
        """Return the number of a finding of the plan as it is now; None where it is new."""
        by_raw = self._by_raw.get((finding.rule, _raws(now, finding)))
        return by_raw or self._by_key.get((finding.rule, finding.features))


def _raws(draft: PlanDraft, finding: Finding) -> tuple[int, ...]:
    return tuple(id(draft.by_key[key].raw) for key in finding.features if key in draft.by_key)


def _is_placed(files: SiteFiles, floor: str, site: Site) -> bool:
    """Tell whether something else than the plan is placed in the floor's own numbers."""
    entry = floor_entry(table_of(files), floor)
    names = {name.casefold() for name in (entry.name, entry.title or entry.name)}
    given = (one for one in site.readings if one.x is not None and one.placed != "room")
    # of a floor that is not read a reading keeps the name as it was written
    return bool(entry.grids) or any(one.floor.casefold() in names or not one.floor for one in given)


def _area(draft: PlanDraft) -> float:
    return sum(room.area_m2 for room in draft.sound_rooms.values())


def _copy(folder: Path, target: Path, before: SiteFiles, after: SiteFiles) -> tuple[str, ...]:
    """Copy every file of a folder, those that were repaired as they are now."""
    skipped = []
    written = set(changed(before, after))
    with beside(target) as stage:
        for name in _files_below(folder):
            if name in written:
                continue
            try:
                source = inside_folder(folder, name, where=name)
            except SiteError:  # a link that leads out of the folder
                skipped.append(name)
                continue
            if not source.is_file():
                skipped.append(name)
                continue
            with in_one_line(
                "cannot be copied", where=name,
                todo="nothing was left behind; check its rights and the space on the disk",
            ):  # fmt: skip
                (stage / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(source, stage / name)
        for name in written:
            if name in after.contents:
                write_bytes(stage / name, after.contents[name])
        _prove(stage, after)
    return tuple(skipped)


def _files_below(folder: Path) -> Iterator[str]:
    for above, folders, names in os.walk(folder):
        folders[:] = sorted(one for one in folders if not one.startswith(_OURS))
        at = Path(above)
        links = [one for one in folders if (at / one).is_symlink()]
        for name in (*sorted(names), *links):
            yield (at / name).relative_to(folder).as_posix()


def _prove(stage: Path, meant: SiteFiles) -> None:
    """Read the copy back: it has to be what was meant, or it does not come to its place."""
    found = read_site_files(stage)
    differ = changed(SiteFiles(stage, meant.contents), found)
    if differ:
        raise HgmapError(
            "is not in the copy as it should be", where=differ[0],
            todo="was the site changed meanwhile? Nothing was left behind: do it again",
        )  # fmt: skip
