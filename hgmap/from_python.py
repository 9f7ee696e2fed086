"""What the command line does with files, for Python: bring a plan, bring readings, check."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from hgmap.site.check import SiteCheck, check_site

if TYPE_CHECKING:
    from hgmap.site.importers.add_floor import ImportReport
    from hgmap.site.intake.import_readings import ImportedReadings

__all__ = ["SiteCheck", "check_site", "import_plan", "import_readings"]


def import_plan(
    file: Path | str,
    into: Path | str,
    floor: str,
    *,
    storey: str | None = None,
    where: str | None = None,
    layers: str | None = None,
    units: Literal["lonlat", "metres", "cm", "mm", "ft", "in"] | None = None,
    crs: str | None = None,
    rooms: Literal["drawn", "walls"] | None = None,
    gap_m: float | None = None,
    refuse: Sequence[int] = (),
    use: str | None = None,
    title: str | None = None,
    building: str | None = None,
    replace: bool = False,
    dry_run: bool = False,
) -> ImportReport:
    """Bring one floor plan into a site folder, as ``hgmap import plan`` does.

    Parameters
    ----------
    file : path
        A drawing; its ending says its format.
    into : path
        The site folder; made if it is not there.
    floor : str
        Name of the floor, as readings will call it.
    storey : str, optional
        Which storey of the file, where it has several.
    where : str, optional
        Keep features with this property, as ``"level=0"``.
    layers : str, optional
        Which layers are what, as ``"wall=A-WALL*; door=A-DOOR*"``.
    units : {"lonlat", "metres", "cm", "mm", "ft", "in"}, optional
        What the coordinates are, where it is not plain.
    crs : str, optional
        Projected system of the coordinates.
    rooms : {"drawn", "walls"}, optional
        Take rooms as they are drawn, or find them from the walls.
    gap_m : float, optional
        Gaps between walls are closed up to this (m).
    refuse : sequence of int
        Repairs not to make, by their numbers in ``ImportReport.numbered``, from 1.
    use : str, optional
        For a new site: what the building is used for.
    title : str, optional
        Of the floor, as printed.
    building : str, optional
        Which of the site's several buildings the floor lies in.
    replace : bool
        Whether the floor's plan may be replaced.
    dry_run : bool
        Whether nothing is written.

    Returns
    -------
    ImportReport
        What came in, what was mended, what was left out.

    Raises
    ------
    HgmapError
        If the plan cannot be used; nothing is changed then.
    """
    from hgmap.site.importers.import_plan import WantedFloor
    from hgmap.site.importers.import_plan import import_plan as bring

    answers = {
        "storey": storey, "where": where, "layers": layers, "units": units, "crs": crs,
        "rooms": rooms, "gap": None if gap_m is None else str(gap_m),
    }  # fmt: skip
    return bring(
        Path(file), WantedFloor(Path(into), floor, use, title, replace, dry_run, building),
        {key: text for key, text in answers.items() if text is not None}, refuse,
    )  # fmt: skip


def import_readings(
    file: Path | str,
    into: Path | str,
    *,
    round: str | None = None,
    columns: Mapping[str, str] | None = None,
    unit: str | None = None,
    dates: Literal["day-first", "month-first"] | None = None,
    decimal: Literal["comma", "point"] | None = None,
    sheet: str | None = None,
    date: dt.date | None = None,
    floor: str | None = None,
    replace: bool = False,
    dry_run: bool = False,
) -> ImportedReadings:
    """Bring a table of readings into a site folder, as ``hgmap import readings`` does.

    Parameters
    ----------
    file : path
        CSV, TSV or XLSX.
    into : path
        The site folder.
    round : str, optional
        Round of the readings; made if it is new.
    columns : mapping of str to str, optional
        A column of ours and the title of theirs; an empty title: none of theirs.
    unit : str, optional
        Of the results, as ``"ug/m3"``.
    dates : {"day-first", "month-first"}, optional
        What 02/03/2026 begins with.
    decimal : {"comma", "point"}, optional
        What stands before the tenths.
    sheet : str, optional
        Of a workbook.
    date : date, optional
        Day of times that have none.
    floor : str, optional
        Floor of readings that do not name theirs.
    replace : bool
        Whether a readings file of that name may be replaced.
    dry_run : bool
        Say it all, write nothing.

    Returns
    -------
    ImportedReadings
        Which column was taken for what, and what became of every other row.

    Raises
    ------
    HgmapError
        If something has to be asked, or cannot be used or written; nothing is changed then.
    """
    from hgmap.site.files import read_bytes
    from hgmap.site.intake.answers import Answers
    from hgmap.site.intake.import_readings import import_readings as bring

    answers = Answers(
        columns={ours.strip().casefold(): theirs for ours, theirs in (columns or {}).items()},
        unit=unit, dates=dates, decimal=decimal, sheet=sheet, date=date, floor=floor,
    )  # fmt: skip
    path = Path(file)
    data = read_bytes(path, where=str(file))
    return bring(data, Path(into), answers, name=path.name, round_=round, replace=replace,
                 dry_run=dry_run)  # fmt: skip
