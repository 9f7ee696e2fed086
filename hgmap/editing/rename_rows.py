"""The new name of a room, written into the readings that say the old one."""

from __future__ import annotations

from collections import defaultdict

from hgmap.editing.reading_edits import locate, set_cells
from hgmap.editing.sheet import read_sheet
from hgmap.editing.site_files import SiteFiles
from hgmap.site.intake.cells import unguarded
from hgmap.site.model import Site


def rename_in_readings(
    files: SiteFiles, before: Site, floor: str, room: str, old: str, new: str
) -> tuple[SiteFiles, int]:
    """Return the files with another word for a room in the rows that say the old one.

    Parameters
    ----------
    files : SiteFiles
    before : Site
        As it was read with the old name.
    floor, room : str
        Name of the floor and id of the room.
    old, new : str
        A row that says the room's id keeps it.

    Returns
    -------
    files, rows
        How many rows were changed, too; a file that two rounds share is changed once.

    Raises
    ------
    ReadingsError
        If a file cannot be changed without harm.
    """
    wanted: dict[str, set[int]] = defaultdict(set)
    for one in before.readings:
        if one.floor == floor and one.room == room:
            name, row = locate(files, one.where)
            wanted[name].add(row)
    count = 0
    for name, rows in wanted.items():
        sheet = read_sheet(files.data(name), name=name)
        position = sheet.position("room")
        if position is None:
            continue
        said = [
            row for row in rows
            if unguarded(sheet.cell(row, position)).strip().casefold() == old.casefold()
        ]  # fmt: skip
        if said:
            files = set_cells(files, name, {(row, "room"): new for row in said})
            count += len(said)
    return files, count
