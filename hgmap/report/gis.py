"""GeoPackage: rooms, readings, contours, zones and places to measure again, one layer each.

A table without places, ``about``, says whose survey it is, against which level, and what to beware
of: the file leaves the house without the others.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from hgmap.decide.model import FloorEvidence, ResampleList, Zones
from hgmap.report.layers import COLUMNS, GEOMETRY_TYPE, PLAN_CRS, kind_of_column, layer_rows
from hgmap.site.files import write_atomically

ABOUT: Final = "about"


def write_geopackage(
    path: Path,
    floors: Sequence[tuple[FloorEvidence, Zones, ResampleList]],
    nested: Sequence[Zones] = (),
    about: Sequence[tuple[str, str, str]] = (),
) -> None:
    """Write all floors of a run into one GeoPackage, in one step.

    ``nested`` are the zones of every level of every floor, where there is more than one level,
    ``about`` the floor (or nothing), heading and text of each line that the file says of itself.

    Coordinates are map coordinates where the site has a map frame, else the floors' own metres.
    Concentrations are in the unit of the level as published.
    """
    import geopandas as gpd  # takes a second to import, and a worker writes none
    import pandas as pd
    from pyogrio import write_dataframe

    rows = layer_rows(floors, nested)
    frame = floors[-1][0].floor.map_frame if floors else None

    def fill(temporary: Path) -> None:
        temporary.unlink()
        try:
            for layer in rows:
                geometry = [row.pop("geometry") for row in rows[layer]]
                table = gpd.GeoDataFrame(
                    {
                        name: pd.Series(
                            [row[name] for row in rows[layer]], dtype=kind_of_column(name)
                        )
                        for name in COLUMNS[layer]
                    },
                    geometry=gpd.GeoSeries(geometry, crs=frame.crs if frame else PLAN_CRS),
                )
                table.to_file(
                    temporary,
                    layer=layer,
                    driver="GPKG",
                    engine="pyogrio",
                    geometry_type=GEOMETRY_TYPE[layer],
                )
            if about:
                lines = pd.DataFrame(about, columns=["floor", "about", "what_it_says"], dtype="str")
                write_dataframe(lines, temporary, layer=ABOUT, driver="GPKG")
        except RuntimeError as error:  # what GDAL says of a full disk is no OSError
            for beside in temporary.parent.glob(f"{temporary.name}-*"):
                beside.unlink()
            raise OSError(str(error)) from None

    write_atomically(path, fill)
