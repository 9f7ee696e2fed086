"""Walls proposed from the picture under a floor's plan, among the files of a site."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hgmap.editing.accept_walls import Accepted, Chosen, accept_walls
from hgmap.editing.plan_of_floor import draft_of, floor_entry, picture_of, with_plan
from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import table_of
from hgmap.errors import PlanError
from hgmap.site.pictures.grey import grey_pixels
from hgmap.site.wall_finding.proposals import propose_walls
from hgmap.site.wall_finding.proposed import WallProposals, WallSearch


@dataclass(frozen=True)
class FloorProposals:
    """What the picture of a floor proposes, and its greys, shape (rows, columns)."""

    proposals: WallProposals
    grey: NDArray[np.uint8]


def propose_for_floor(
    files: SiteFiles, floor: str, search: WallSearch | None = None
) -> FloorProposals:
    """Propose walls from the picture under a floor's plan; no file is changed.

    Raises
    ------
    HgmapError
        If the floor has no picture, that cannot be read, or nothing can be found in it.
    """
    picture = picture_of(floor_entry(table_of(files), floor))
    if picture is None:
        raise PlanError(
            f"floor {floor!r} has no picture", where=files.place("site.toml"),
            todo="lay one under its plan: `hgmap import picture`",
        )  # fmt: skip
    grey = grey_pixels(files.data(picture.file), name=picture.file)
    return FloorProposals(propose_walls(grey, picture, search), grey)


def with_accepted(
    files: SiteFiles, floor: str, proposals: WallProposals, chosen: Chosen
) -> tuple[SiteFiles, Accepted]:
    """Return the files with what was accepted on the plan of a floor."""
    accepted = accept_walls(draft_of(files, floor), proposals, chosen)
    if not (accepted.walls or accepted.doors):
        return files, accepted
    return with_plan(files, floor, accepted.draft), accepted
