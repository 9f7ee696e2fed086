"""The coordinate systems of a GeoPackage's layers, and one for all of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from hgmap.errors import PlanError
from hgmap.site.georef import WGS84
from hgmap.site.importers.names import one_line_text

SAME_UNIT: Final = 1e-9


def layer_crs(said: str | None) -> pyproj.CRS | None:
    """Return the system of a layer; None for a drawing's own axes."""
    if not said:
        return None
    crs = pyproj.CRS.from_user_input(said)
    if crs.is_geographic and crs.name.casefold().startswith("undefined"):
        return WGS84
    if not crs.is_geographic and not crs.is_projected and _unit_m(crs) is None:
        return None
    return crs


def _unit_m(crs: pyproj.CRS) -> float | None:
    """Return how many metres one unit is; None where it is a metre or nobody says."""
    axis = next(iter(crs.axis_info), None)
    if axis is None or axis.unit_name.casefold() in ("unknown", "", "metre", "meter"):
        return None
    factor = float(axis.unit_conversion_factor)
    return factor if factor > 0 and abs(factor - 1) > SAME_UNIT else None


def common_crs(
    layers: list[tuple[str, pyproj.CRS | None]], notes: list[str], *, file: str
) -> tuple[pyproj.CRS | None, list[Callable[[Any], Any]]]:
    """Return one system for all layers, in degrees or metres, and the way there from each."""
    without = [layer for layer, own in layers if own is None]
    if without and len(without) < len(layers):
        raise PlanError(
            f"layer {one_line_text(without[0])!r} has no coordinate system, and others have",
            where=file,
            todo="give every layer the same system",
        )
    first = layers[0][1]
    if first is None:
        return None, [_as_it_is] * len(layers)
    if not first.is_geographic and not first.is_projected:  # a drawing's own axes, say in feet
        factor = _unit_m(first) or 1.0
        if any(own != first for _, own in layers):
            raise PlanError(
                "its layers have different axes of their own",
                where=file,
                todo="give every layer the same system",
            )
        notes.append(f"lengths are in {first.axis_info[0].unit_name}: made metres")
        return None, [_scaled(factor)] * len(layers)
    common = first
    if first.is_projected and _unit_m(first) is not None:
        notes.append(
            f"{one_line_text(first.name)} is in {first.axis_info[0].unit_name}: made longitude and "
            "latitude"
        )
        common = WGS84
    ways: list[Callable[[Any], Any]] = []
    for layer, own in layers:
        assert own is not None
        if own == common:
            ways.append(_as_it_is)
            continue
        if own != first:
            notes.append(
                f"layer {one_line_text(layer)!r} is in {one_line_text(own.name)}: made "
                f"{one_line_text(common.name)}"
            )
        ways.append(_moved(pyproj.Transformer.from_crs(own, common, always_xy=True)))
    return common, ways


def _as_it_is(shape: Any) -> Any:
    return shape


def _scaled(factor: float) -> Callable[[Any], Any]:
    return lambda shape: None if shape is None else shapely.transform(shape, lambda xy: xy * factor)


def _moved(transformer: pyproj.Transformer) -> Callable[[Any], Any]:
    def convert(xy: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack(transformer.transform(xy[:, 0], xy[:, 1]))

    return lambda shape: None if shape is None else shapely.transform(shape, convert)
