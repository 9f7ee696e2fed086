"""The five panels, one a question."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop.panels.map_panel import MapPanel
from hgmap.desktop.panels.next_panel import NextPanel
from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.release_panel import ReleasePanel

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk


def panels_of(desk: Desk) -> dict[str, Panel]:
    """Make the panels of a window."""
    own = {"map": MapPanel, "next": NextPanel, "release": ReleasePanel}
    return {
        key: own.get(key, Panel)(desk) for key in ("plan", "readings", "map", "next", "release")
    }
