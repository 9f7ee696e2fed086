"""A run of ``hgmap import walls``: propose, draw, and take over what was accepted."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from hgmap.editing.accept_walls import Accepted, Chosen, read_choice
from hgmap.editing.plan_of_floor import floor_entry
from hgmap.editing.propose_walls import propose_for_floor, with_accepted
from hgmap.editing.save import save
from hgmap.editing.site_files import read_site_files
from hgmap.editing.toml_edit import table_of
from hgmap.errors import HgmapError
from hgmap.report.paper import write
from hgmap.report.proposals_sheet import proposals_sheet
from hgmap.site.files import slug
from hgmap.site.wall_finding.proposed import WallProposals, WallSearch

RESULTS = "results"
ENDINGS = (".png", ".pdf", ".svg")
DPI = 150.0


@dataclass(frozen=True, slots=True)
class WallsRun:
    """What came of it.

    Attributes
    ----------
    proposals : WallProposals
    drawn : Path
        The picture with numbers.
    accepted : Accepted or None
        None where nothing was asked for: then the plan is as it was.
    plan : str
        The plan of the floor, relative to the site folder.
    """

    proposals: WallProposals
    drawn: Path
    accepted: Accepted | None
    plan: str


def walls_from_picture(
    site: Path,
    floor: str,
    search: WallSearch | None = None,
    *,
    accept: str | None = None,
    picture: Path | None = None,
) -> WallsRun:
    """Propose walls from the picture under a floor's plan.

    Parameters
    ----------
    site : Path
        The site folder.
    floor : str
    search : WallSearch, optional
    accept : str, optional
        Numbers of what goes into the plan, or ``"all"``; where nothing is said it stays as it is.
    picture : Path, optional
        Where they are drawn; ``results/walls-FLOOR.png`` of the site.

    Raises
    ------
    HgmapError
        In one line. The plan is as it was then.
    """
    if picture is not None and picture.suffix.casefold() not in ENDINGS:
        raise HgmapError(
            f"{picture.suffix or 'no ending'} is no format of a picture", where="--picture",
            todo=f"use {', '.join(ENDINGS)}",
        )  # fmt: skip
    files = read_site_files(site)
    if picture is not None and picture.resolve() in {
        (site / name).resolve() for name in files.contents
    }:
        raise HgmapError(
            "is a file of the site, and would be lost", where=str(picture),
            todo="say another --picture",
        )  # fmt: skip
    plan = floor_entry(table_of(files), floor).plan
    found = propose_for_floor(files, floor, search)
    chosen = None if accept is None else read_choice(accept, found.proposals)
    after, accepted = files, None
    if chosen is not None:
        after, accepted = with_accepted(files, floor, found.proposals, chosen)
    drawn = picture or site / RESULTS / f"walls-{slug(floor)}.png"
    sheet = proposals_sheet(
        found.proposals, found.grey, in_plan=_in_plan(chosen),
        title=f"Walls proposed from {found.proposals.picture.file}, floor {floor}",
    )  # fmt: skip
    write(drawn, sheet, dpi=DPI)
    save(after, files)
    return WallsRun(found.proposals, drawn, accepted, plan)


def _in_plan(chosen: Chosen | None) -> str:
    if chosen is None:
        return "Offered only: nothing of this is in the plan."
    return (
        f"{len(chosen.walls)} walls and {len(chosen.doors)} gaps were accepted into the plan; "
        "the others are offered only."
    )
