"""Angles, scales and frames in words."""

from __future__ import annotations

import math

from hgmap.site.map_frame import MapFrame


def dms(degrees: float) -> str:
    r"""Write an angle in degrees, minutes and seconds to a tenth of a second.

    Examples
    --------
    >>> dms(183.21806), dms(-0.5), dms(59.999999999)
    ('183°13\'05.0"', '-0°30\'00.0"', '60°00\'00.0"')
    """
    tenths = round(abs(degrees) * 36_000)
    minutes, tenths = divmod(tenths, 600)
    whole, minutes = divmod(minutes, 60)
    sign = "-" if degrees < 0 and (whole or minutes or tenths) else ""
    return f"{sign}{whole}°{minutes:02d}'{tenths / 10:04.1f}\""


def ppm(scale: float) -> str:
    """Write a scale as parts per million above or below 1.

    Examples
    --------
    >>> ppm(0.9996), ppm(1.0)
    ('-400.0 ppm', '0.0 ppm')
    """
    parts = round((scale - 1.0) * 1e6, 1)
    return f"{parts:+.1f} ppm" if parts else "0.0 ppm"


def frame_line(frame: MapFrame) -> str:
    r"""Say how a building lies on the map.

    Examples
    --------
    >>> frame_line(MapFrame("EPSG:25832", 1.0, 2.0, 90.0, 1.0001))
    'turned 90°00\'00.0" counter-clockwise, scale 1.000100 (+100.0 ppm)'
    """
    turn = math.remainder(frame.angle_deg, 360.0)
    way = "clockwise" if turn < 0 else "counter-clockwise"
    parts = [f"turned {dms(abs(turn))} {way}", f"scale {frame.scale:.6f} ({ppm(frame.scale)})"]
    if frame.scale_y is not None:
        parts[1] = f"{parts[1]} along x"
        parts.append(f"{frame.scale_y:.6f} ({ppm(frame.scale_y)}) along y")
        parts.append(f"axes {dms(90.0 + frame.skew_deg)} apart")
    return ", ".join(parts)
