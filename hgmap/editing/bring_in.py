"""A drawing brought into a site whose files stand in memory: looked at first, then one edit."""

from __future__ import annotations

import contextlib
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from hgmap.editing.floor_settings import set_picture
from hgmap.editing.plan_draft import PlanDraft, read_plan_draft
from hgmap.editing.plan_of_floor import (
    floor_entry,
    is_region,
    picture_of,
    said_of_lost_openings,
)
from hgmap.editing.readings_after import held_anew, readings_after
from hgmap.editing.round_settings import set_opening_in_round
from hgmap.editing.site_files import SiteFiles, site_of
from hgmap.editing.staged import named_as
from hgmap.editing.toml_edit import Values, table_of, with_text
from hgmap.errors import PlanError, SiteError
from hgmap.site.files import read_bytes, write_bytes
from hgmap.site.folder import SITE_FILE
from hgmap.site.importers.import_plan import (
    ImportReport,
    WantedFloor,
    import_every_storey,
    import_plan,
)
from hgmap.site.schema import FloorTable
from hgmap.site.store import plain_name


@dataclass(frozen=True)
class WantedPlan:
    """A drawing, and where it goes.

    Attributes
    ----------
    file : Path
        A drawing; its ending says its format.
    floor : str
        Name of the floor; of every storey, a word before the name that the file gives it.
    answers : mapping
        What was said about the file, by option, as :func:`hgmap.site.importers.import_plan` takes
        it.
    replace : bool
        The plan takes the place of that of a floor which the site has.
    every_storey : bool
        Each storey becomes a floor.
    refused : mapping of floor names to keys
        Repairs that are not made.
    """

    file: Path
    floor: str = ""
    answers: Mapping[str, str] = field(default_factory=dict)
    replace: bool = False
    every_storey: bool = False
    refused: Mapping[str, frozenset[str]] = field(default_factory=dict)


@dataclass(frozen=True)
class BroughtFloor:
    """A floor as it would be: its plan, the report of the import, and what else changes with it."""

    name: str
    draft: PlanDraft
    report: ImportReport
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class BroughtIn:
    """What a drawing would make of a site: nothing is changed before ``after`` is taken.

    Attributes
    ----------
    before, after : SiteFiles
        The site's files without it and with it.
    floors : tuple of BroughtFloor
        The floors that it makes.
    held : int
        How many readings are held with it that are not held without it.
    readings : tuple of str
        Which rows of the readings mean something else with it, and what.
    """

    before: SiteFiles
    after: SiteFiles
    floors: tuple[BroughtFloor, ...]
    held: int = 0
    readings: tuple[str, ...] = ()

    def taken_into(self, files: SiteFiles) -> SiteFiles:
        """Return the files with it.

        Raises
        ------
        SiteError
            If they are no longer those that it was looked at with.
        """
        if files is not self.before:
            raise SiteError("the site has changed since", todo="look at the drawing again")
        return self.after


def bring_in(files: SiteFiles, wanted: WantedPlan) -> BroughtIn:
    """Make of a drawing what it would be in a site.

    The importers write into folders, so a folder of the meantime holds the site's plans; what came
    of it is taken over, and that folder goes.

    Raises
    ------
    HgmapError
        As :func:`hgmap.site.importers.import_plan.import_plan`.
    """
    try:
        with tempfile.TemporaryDirectory() as place:
            stage = Path(place).resolve() / "site"
            _lay_out(files, stage)
            with named_as(files.folder, stage):
                return _taken_over(files, stage, _imported(stage, wanted))
    except OSError as error:
        why = error.strerror or error
        raise SiteError(f"cannot be looked at ({why})", where=wanted.file.name) from None


def _lay_out(files: SiteFiles, stage: Path) -> None:
    """Write what an import looks at: site.toml and the plans of the floors."""
    write_bytes(stage / SITE_FILE, files.data(SITE_FILE))
    for one in table_of(files).floors:
        with contextlib.suppress(SiteError):  # it lies outside the folder, or could not be read
            name = plain_name(one.plan, where=one.plan)
            write_bytes(stage / name, files.data(name))


def _imported(stage: Path, wanted: WantedPlan) -> tuple[ImportReport, ...]:
    goes = WantedFloor(stage, wanted.floor, replace=wanted.replace)
    refused = {floor: tuple(sorted(keys)) for floor, keys in wanted.refused.items()}
    if wanted.every_storey:
        return import_every_storey(wanted.file, goes, wanted.answers, refused)
    refuse = refused.get(wanted.floor, ())
    return (import_plan(wanted.file, goes, wanted.answers, refuse),)


def _taken_over(before: SiteFiles, stage: Path, reports: tuple[ImportReport, ...]) -> BroughtIn:
    text = read_bytes(stage / SITE_FILE, where=SITE_FILE).decode("utf-8-sig").replace("\r\n", "\n")
    said = tomllib.loads(text)

    def on_values(values: Values) -> None:
        values.clear()
        values.update(said)

    files = with_text(before, lambda _: text, on_values)
    table = table_of(files)
    old = {one.name for one in table_of(before).floors}
    floors = []
    for report in reports:
        entry = floor_entry(table, report.floor)
        if entry.name not in old and (
            entry.plan in before.contents or (before.folder / entry.plan).exists()
        ):
            raise PlanError("the file is there already", where=entry.plan,
                            todo="choose another name for the floor")  # fmt: skip
        data = read_bytes(report.plan, where=entry.plan)
        draft = read_plan_draft(data, where=entry.plan, region=is_region(table))
        files, also = _with_it(files.with_file(entry.plan, data), entry, draft)
        floors.append(BroughtFloor(entry.name, draft, report, also))
    if not any(one.name in old for one in floors):
        return BroughtIn(before, files, tuple(floors))
    sites = site_of(before), site_of(files)
    return BroughtIn(before, files, tuple(floors), held_anew(*sites), readings_after(*sites))


def _with_it(
    files: SiteFiles, entry: FloorTable, draft: PlanDraft
) -> tuple[SiteFiles, tuple[str, ...]]:
    """Let what the site says of a floor fit its new plan; say what was changed for it."""
    also = []
    for round_name, floor, opening in said_of_lost_openings(files, entry.name, draft):
        also.append(f"round {round_name!r} said how opening {opening!r} stood; it is there no more")
        files = set_opening_in_round(files, round_name, floor, opening, None)
    picture = picture_of(floor_entry(table_of(files), entry.name))
    if picture is not None and picture.guessed:
        # the rooms are no longer those that were drawn after it at a guessed scale
        files = set_picture(files, entry.name, replace(picture, guessed=False))
        also.append("the picture under the plan was never scaled; the drawing has its own scale")
    return files, tuple(also)
