"""The field sheet of the places to measure next, written to a folder; plain functions."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hgmap.errors import SiteError

if TYPE_CHECKING:
    from hgmap.desktop.pipeline import Mapped


def write_field_sheet(mapped: Mapped, folder: Path) -> tuple[str, ...]:
    """Write sheet and table as ``hgmap map`` does; return the names of the files.

    Raises
    ------
    SiteError
        If there is nothing to measure, or files of these names are there already.
    """
    from hgmap.report import resample_sheet
    from hgmap.report.design_tables import field_sheet_csv
    from hgmap.report.tables import write_csv
    from hgmap.site.staging import staged

    one, case = mapped.floor_map, mapped.case
    if not one.resample.places:
        raise SiteError("there is no place to measure next", where=one.floor.title)
    there = [
        name
        for name in (resample_sheet.PDF, resample_sheet.PNG, resample_sheet.CSV)
        if (folder / name).exists()
    ]
    if there:
        raise SiteError(
            f"{', '.join(there)} already there", where=str(folder), todo="choose another folder"
        )
    with staged(folder) as stage:
        names, rows = resample_sheet.write_resample_sheet(
            case.site, one.zones, one.resample, stage, case.round.name
        )
        write_csv(stage / resample_sheet.CSV, field_sheet_csv(rows))
    return (*names, resample_sheet.CSV)
