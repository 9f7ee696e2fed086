"""Bearings that count from north or south towards east or west."""

from __future__ import annotations


def azimuth_of(from_south: bool, degrees: float, to_west: bool) -> float:
    """Return the azimuth (degrees, clockwise from north, below 360) of a quadrant bearing.

    Examples
    --------
    >>> azimuth_of(True, 30.0, False), azimuth_of(False, 0.0, True)
    (150.0, 0.0)
    """
    azimuth = 180.0 - degrees if from_south else degrees
    return (360.0 - azimuth if to_west else azimuth) % 360.0
