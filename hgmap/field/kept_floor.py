"""What an estimate of a floor leaves for the next one of the same floor."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from hgmap.field.graph import CellGraph
from hgmap.field.raster import Raster
from hgmap.field.walls import WallField
from hgmap.site.building import Floor

Floats = NDArray[np.float64]


@dataclass
class KeptFloor:
    """Rasters and fields of one floor by their step (m); it may be used for that floor only."""

    _rasters: dict[float, Raster] = field(default_factory=dict)
    _fields: dict[float, WallField] = field(default_factory=dict)
    _shared: dict[float, dict[int, tuple[bytes, Floats]]] = field(default_factory=dict)

    def raster(self, floor: Floor, cell_m: float) -> Raster:
        """Return the raster of the floor (see :meth:`hgmap.field.raster.Raster.over`)."""
        if cell_m not in self._rasters:
            self._rasters[cell_m] = Raster.over(floor, cell_m)
        return self._rasters[cell_m]

    def shared(self, cell_m: float) -> dict[int, tuple[bytes, Floats]]:
        """Return what is kept of the errors that readings share, on the raster of ``cell_m``."""
        return self._shared.setdefault(cell_m, {})

    def field(self, floor: Floor, step_m: float) -> WallField:
        """Return the field of the floor over cells of ``step_m``."""
        if step_m not in self._fields:
            self._fields[step_m] = WallField(CellGraph.over(floor, step_m))
        return self._fields[step_m]
