"""The five panels, one a question."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hgmap.desktop.panels.panel import Panel
from hgmap.desktop.panels.plan_panel import PlanPanel

if TYPE_CHECKING:
    from hgmap.desktop.desk import Desk


def panels_of(desk: Desk) -> dict[str, Panel]:
    """Make the panels of a window."""
    panels = {key: Panel(desk) for key in ("readings", "map", "next", "release")}
    return {"plan": PlanPanel(desk), **panels}
