"""The five panels, one a question."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from hgmap.desktop.panels.map_panel import MapPanel
from hgmap.desktop.panels.next_panel import NextPanel
from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.plan_panel import PlanPanel
from hgmap.desktop.panels.readings_panel import ReadingsPanel
from hgmap.desktop.panels.release_panel import ReleasePanel

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk

EVERY: Final[dict[str, type[Panel]]] = {
    "plan": PlanPanel,
    "readings": ReadingsPanel,
    "map": MapPanel,
    "next": NextPanel,
    "release": ReleasePanel,
}


def panels_of(desk: Desk) -> dict[str, Panel]:
    """Make the panels of a window."""
    return {key: made(desk) for key, made in EVERY.items()}
