"""The five panels, one a question."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.readings_panel import ReadingsPanel

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk


def panels_of(desk: Desk) -> dict[str, Panel]:
    """Make the panels of a window."""
    return {
        "plan": Panel(desk),
        "readings": ReadingsPanel(desk),
        **{key: Panel(desk) for key in ("map", "next", "release")},
    }
