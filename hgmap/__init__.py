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
    from hgmap.batch import FloorMap, MapOptions, MapRun, map_site
    from hgmap.field.idw import idw
    from hgmap.field.kriging import krige
    from hgmap.site.folder import read_site

_LAZY = {
    "FloorMap": "hgmap.batch",
    "MapOptions": "hgmap.batch",
    "MapRun": "hgmap.batch",
    "idw": "hgmap.field.idw",
    "krige": "hgmap.field.kriging",
    "map_site": "hgmap.batch",
    "read_site": "hgmap.site.folder",
}

__all__ = [
    "CoincidentReadingsWarning",
    "EstimateError",
    "FloorMap",
    "HgmapError",
    "LevelError",
    "MapOptions",
    "MapRun",
    "PlanError",
    "ReadingsError",
    "SiteError",
    "__version__",
    "idw",
    "krige",
    "map_site",
    "read_site",
]


def __getattr__(name: str) -> Any:
    if name in _LAZY:
        return getattr(importlib.import_module(_LAZY[name]), name)
    raise AttributeError(f"module 'hgmap' has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
