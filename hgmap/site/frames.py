"""The frames that site.toml gives to the site and to each of its buildings."""

from __future__ import annotations

import difflib

from hgmap.errors import SiteError
from hgmap.site.map_frame import MapFrame
from hgmap.site.schema import SiteTable

Frames = dict[str, MapFrame]
"""The frame of each building by its name; of floors that name none by the empty one."""


def frames_of(table: SiteTable, *, where: str) -> Frames:
    """Return the frames of a site; nothing where it lies nowhere on the map.

    Raises
    ------
    SiteError
        If the map's system cannot be used, two buildings have one name, there are buildings and no
        map for them, or a floor lies in a building that is not there.
    """
    names = [one.name for one in table.buildings]
    folded = [name.casefold() for name in names]
    for name, one in zip(names, folded, strict=True):
        if folded.count(one) > 1:
            raise SiteError(
                f"two buildings are called {name!r} (or alike)", where=where, todo="rename one"
            )
    for floor in table.floors:
        if floor.building is not None and floor.building not in names:
            near = difflib.get_close_matches(floor.building, names, n=1)
            raise SiteError(
                f"floor {floor.name!r} lies in building {floor.building!r}, which is not there",
                where=where,
                todo=f"did you mean {near[0]!r}?" if near
                else f"known: {', '.join(names)}" if names else "add it under [[buildings]]",
            )  # fmt: skip
    if table.map_frame is None:
        if names:
            raise SiteError(
                "there are [[buildings]] and no map for them",
                where=where,
                todo="write [map_frame] with the crs of the map",
            )
        return {}
    from hgmap.site.georef import check_map_crs  # most sites have no map frame

    crs = table.map_frame.crs
    check_map_crs(crs, where=f"{where}, [map_frame] crs")
    frames = {"": MapFrame(**table.map_frame.model_dump())}
    for building in table.buildings:
        frames[building.name] = MapFrame(crs, **building.model_dump(exclude={"name"}))
    return frames
