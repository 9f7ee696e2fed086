"""Small invented sites of several floors, and what tells two folders of results apart."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio

from hgmap.batch import MapRun
from hgmap.floor_map import MapOptions
from hgmap.many import kept
from hgmap.many.sites import SiteOutcome, map_sites

QUICK = MapOptions(cell_m=1.0, method="idw", walls=False)
"""The quickest map there is, where a test is about something else."""

STAMP = kept.STAMP.format(kind="map")
WORK = kept.WORK.format(kind="map")

MakeSite = Callable[..., Path]


def several_floors(make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any,
                   folder: str = "site", floors: int = 2) -> Path:  # fmt: skip
    """Write a site of some floors, each with a few readings less than the one before."""
    names = [f"f{number}" for number in range(floors)]
    rows = [row for k, name in enumerate(names) for row in make_rows(15 - k, name, f"{name}-")]
    return make_site(folder, plans={name: make_plan() for name in names},
                     readings={"first.csv": make_table(rows)})  # fmt: skip


def mapped_one(site: Path, **how: Any) -> SiteOutcome[MapRun]:
    """Map one site quickly."""
    (outcome,) = map_sites([site], how.pop("options", QUICK), **how)
    return outcome


def shown(folder: Path) -> list[str]:
    """Return what lies in a folder of results under a final name."""
    return sorted(
        one.relative_to(folder).as_posix()
        for one in folder.rglob("*")
        if one.is_file() and WORK not in one.parts
    )


def content(folder: Path, leave_out: Iterable[str] = (STAMP,)) -> dict[str, Any]:
    """Return what tells results apart: bytes; layers of the GeoPackage, which has a date in it."""
    found: dict[str, Any] = {}
    for name in shown(folder):
        if name in leave_out:
            continue
        path = folder / name
        if path.suffix == ".gpkg":
            for layer, _ in pyogrio.list_layers(path):
                found[f"{name}/{layer}"] = _rows(gpd.read_file(path, layer=layer))
        else:
            found[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return found


def _rows(layer: gpd.GeoDataFrame | pd.DataFrame) -> list[tuple[str, ...]]:
    if not isinstance(layer, gpd.GeoDataFrame):  # a table
        return [tuple(row) for row in layer.astype(str).itertuples(index=False)]
    shapes = layer.geometry.to_wkb(hex=True).astype(str)
    table = layer.drop(columns=layer.geometry.name).astype(str)
    return [(shape, *row) for shape, row in zip(shapes, table.itertuples(index=False), strict=True)]
