"""Zones stay apart for eyes that miss one kind of cone, and on a printer without colour."""

from __future__ import annotations

import io
from itertools import combinations

import numpy as np
import pytest
import shapely
from scipy import ndimage

from hgmap.decide.model import Zone, Zones
from hgmap.report.drawing import Frame, Sheet
from hgmap.report.palette import ZONE_LOOKS
from hgmap.report.paper import png_bytes
from hgmap.report.plan_drawing import zone_areas
from hgmap.site.building import Floor
from tests.report.test_sheet import LEVEL

# Machado, Oliveira and Fernandes (2009), severity 1, on linear RGB; values from memory. Their rows
# add up to 1, so that grey stays grey.
SEEN = {
    "no protan cones": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no deutan cones": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no tritan cones": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
    "grey": [[0.2126, 0.7152, 0.0722]] * 3,
}
LEAST = {"no protan cones": 10.0, "no deutan cones": 10.0, "no tritan cones": 10.0, "grey": 5.0}
"""Of CIE 1976 colour difference; 2.3 is said to be just noticeable (value from memory)."""


def linear(colour):
    srgb = np.array([int(colour[at : at + 2], 16) for at in (1, 3, 5)]) / 255.0
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def lab(rgb):
    to_xyz = np.array(
        [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    )
    share = to_xyz @ np.clip(rgb, 0.0, 1.0) / to_xyz.sum(axis=1)
    bent = np.where(share > 0.008856, np.cbrt(share), 7.787 * share + 16.0 / 116.0)
    return np.array([116.0 * bent[1] - 16.0, 500.0 * (bent[0] - bent[1]),
                     200.0 * (bent[1] - bent[2])])  # fmt: skip


@pytest.mark.parametrize("way", list(SEEN))
def test_the_rows_of_a_simulation_keep_grey_grey(way):
    assert np.array(SEEN[way]).sum(axis=1) == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("way", list(SEEN))
def test_outlines_of_zones_stay_apart_in_colour(way):
    seen = {name: lab(np.array(SEEN[way]) @ linear(look.pen.colour))
            for name, look in ZONE_LOOKS.items()}  # fmt: skip
    for one, other in combinations(seen, 2):
        assert np.linalg.norm(seen[one] - seen[other]) > LEAST[way], (one, other)


def printed_grey(name):
    """Ink (0 to 1) of a square of 30 mm of one zone, its outline cut off; 0.1 mm a pixel."""
    from matplotlib.image import imread

    square = shapely.box(0.0, 0.0, 40.0, 40.0)
    zone = Zone(name, "room", "Room", square, None, None, None, ())
    zones = Zones(Floor("ground", "Ground", ()), LEVEL, (zone,), (), 0.5, 0.05)
    frame = Frame(zone_areas(zones, 1.0), 0.0, 0.0, 40.0, 40.0, 0.0, 0.0, 1.0)
    rgb = imread(io.BytesIO(png_bytes(Sheet(40.0, 40.0, (frame,), ()), 254.0)))[..., :3]
    return 1.0 - (rgb @ np.array([0.2126, 0.7152, 0.0722]))[50:350, 50:350]


def test_hatches_of_zones_differ_on_a_grey_printer():
    ink = {name: printed_grey(name) for name in ZONE_LOOKS}
    assert ink["clear"].max() < 0.01
    lean, spots = {}, {}
    for name in ("remediate", "resample", "no data"):
        down, across = np.gradient(ink[name])
        lean[name] = abs((down * across).mean()) / (0.5 * (down**2 + across**2).mean())
        spots[name] = ndimage.label(ink[name] > 0.2)[1]
    assert lean["remediate"] > 0.8  # lines one way
    assert lean["resample"] < 0.2  # no way
    assert lean["no data"] < 0.2  # both ways
    assert spots["resample"] > 100  # dots
    assert spots["no data"] < 5  # a net
    assert ink["remediate"].mean() > 1.5 * ink["no data"].mean()
