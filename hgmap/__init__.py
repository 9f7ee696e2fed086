"""hgmap: from readings taken inside a building to zones, a resample list and report maps.

The public names, loaded when first used so that ``import hgmap`` stays quick.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from hgmap.__about__ import __version__
from hgmap.errors import (
    CoincidentReadingsWarning,
    EstimateError,
    HgmapError,
    LevelError,
    PlanError,
    ReadingsError,
    SiteError,
)

if TYPE_CHECKING:
    from hgmap.batch import FloorMap, MapOptions, MapRun, look_at_site, map_site
    from hgmap.clearance import ClearanceOptions, ClearanceRun, clear_site
    from hgmap.compare import Comparison, compare_site
    from hgmap.design import DesignRun, design_site
    from hgmap.design_options import DesignOptions
    from hgmap.editing.open_plan import OpenPlan, open_plan
    from hgmap.editing.plan_check import PlansCheck, check_plans
    from hgmap.editing.repair_site import RepairedSite, repair_plans
    from hgmap.field.idw import idw
    from hgmap.field.kriging import krige
    from hgmap.from_python import SiteCheck, check_site, import_plan, import_readings
    from hgmap.site.folder import read_site

_LAZY = {
    "ClearanceOptions": "hgmap.clearance",
    "ClearanceRun": "hgmap.clearance",
    "Comparison": "hgmap.compare",
    "DesignOptions": "hgmap.design_options",
    "DesignRun": "hgmap.design",
    "FloorMap": "hgmap.batch",
    "MapOptions": "hgmap.batch",
    "MapRun": "hgmap.batch",
    "OpenPlan": "hgmap.editing.open_plan",
    "PlansCheck": "hgmap.editing.plan_check",
    "RepairedSite": "hgmap.editing.repair_site",
    "SiteCheck": "hgmap.from_python",
    "check_plans": "hgmap.editing.plan_check",
    "check_site": "hgmap.from_python",
    "clear_site": "hgmap.clearance",
    "compare_site": "hgmap.compare",
    "design_site": "hgmap.design",
    "idw": "hgmap.field.idw",
    "import_plan": "hgmap.from_python",
    "import_readings": "hgmap.from_python",
    "krige": "hgmap.field.kriging",
    "look_at_site": "hgmap.batch",
    "map_site": "hgmap.batch",
    "open_plan": "hgmap.editing.open_plan",
    "read_site": "hgmap.site.folder",
    "repair_plans": "hgmap.editing.repair_site",
}

__all__ = [
    "ClearanceOptions",
    "ClearanceRun",
    "CoincidentReadingsWarning",
    "Comparison",
    "DesignOptions",
    "DesignRun",
    "EstimateError",
    "FloorMap",
    "HgmapError",
    "LevelError",
    "MapOptions",
    "MapRun",
    "OpenPlan",
    "PlanError",
    "PlansCheck",
    "ReadingsError",
    "RepairedSite",
    "SiteCheck",
    "SiteError",
    "__version__",
    "check_plans",
    "check_site",
    "clear_site",
    "compare_site",
    "design_site",
    "idw",
    "import_plan",
    "import_readings",
    "krige",
    "look_at_site",
    "map_site",
    "open_plan",
    "read_site",
    "repair_plans",
]


def __getattr__(name: str) -> Any:
    if name in _LAZY:
        return getattr(importlib.import_module(_LAZY[name]), name)
    raise AttributeError(f"module 'hgmap' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
