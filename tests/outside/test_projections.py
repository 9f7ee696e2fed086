"""The map frame against published projection examples.

Unless a line says otherwise the source is IOGP publication 373-7-2 (EPSG guidance note 7-2), its
worked examples, values from memory. Each is projected on its own datum, so no datum shift enters.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pyproj
import pytest

from hgmap.errors import SiteError
from hgmap.site.georef import check_map_crs, local_frame_at, lonlat_to_local
from hgmap.site.map_frame import MapFrame


def degrees(degree: int, minute: float, second: float = 0.0) -> float:
    return degree + minute / 60 + second / 3600


class Example(NamedTuple):
    crs: str
    lon_deg: float
    lat_deg: float
    east: float
    north: float
    within: float = 0.006  # half a unit of the second decimal, and a little


IN_METRES = {
    # printed with k = 0.9996013 and 1/f = 299.32496; the registry carries more digits. The text
    # of this example was read at epsg.io, method 9807.
    "British National Grid": Example("EPSG:27700", 0.5, 50.5, 577274.99, 69740.50, 0.02),
    # Ordnance Survey, A guide to coordinate systems in Great Britain (value from memory)
    "British National Grid, OS guide": Example(
        "EPSG:27700", degrees(1, 43, 4.5177), degrees(52, 39, 27.2531), 651409.903, 313177.270
    ),
    "JAD69 / Jamaica": Example(
        "EPSG:24200", -degrees(76, 56, 37.26), degrees(17, 55, 55.80), 255966.58, 142493.51
    ),
    "RD New": Example("EPSG:28992", 6, 53, 196105.283, 557057.739),
    "ETRS89 / LAEA Europe": Example("EPSG:3035", 5, 50, 3962799.45, 2999718.85),
    "WGS 84 / Pseudo-Mercator": Example(
        "EPSG:3857", -degrees(100, 20), degrees(24, 22, 54.433), -11169055.58, 2800000.00
    ),
    "WGS 84 / UPS North": Example("EPSG:5041", 44, 73, 3320416.75, 632668.43),
    "Makassar / NEIEZ": Example("EPSG:3002", 120, -3, 5009726.58, 569150.82),
    "Timbalai 1948 / RSO Borneo": Example(
        "EPSG:29873", degrees(115, 48, 19.8196), degrees(5, 23, 14.1129), 679245.73, 596562.78
    ),
    # Snyder (1987), Map Projections: A Working Manual, USGS Professional Paper 1395, Clarke 1866
    # (values from memory)
    "Snyder, UTM zone 18": Example(
        "+proj=utm +zone=18 +ellps=clrk66 +units=m +type=crs", -73.5, 40.5, 627106.5, 4484124.4,
        0.06,
    ),
    "Snyder, Lambert conformal conic": Example(
        "+proj=lcc +lat_1=33 +lat_2=45 +lat_0=23 +lon_0=-96 +ellps=clrk66 +units=m +type=crs",
        -75, 35, 1894410.9, 1564649.5, 0.06,
    ),
    "Snyder, Albers equal-area conic": Example(
        "+proj=aea +lat_1=29.5 +lat_2=45.5 +lat_0=23 +lon_0=-96 +ellps=clrk66 +units=m +type=crs",
        -75, 35, 1885472.7, 1535925.0, 0.06,
    ),
}  # fmt: skip

NOT_IN_METRES = {
    # US survey feet; read in several public test suites
    "NAD27 / Texas South Central": Example("EPSG:32040", -96, 28.5, 2963503.91, 254759.80),
    # Clarke's links
    "Trinidad 1903 / Trinidad Grid": Example("EPSG:30200", -62, 10, 66644.94, 82536.22),
}


def project(crs: pyproj.CRS, example: Example) -> tuple[float, float]:
    own_datum = pyproj.Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True)
    east, north = own_datum.transform(example.lon_deg, example.lat_deg)
    return float(east), float(north)


@pytest.mark.parametrize("example", IN_METRES.values(), ids=IN_METRES)
def test_a_frame_in_metres_projects_its_published_example(example: Example) -> None:
    crs = check_map_crs(example.crs, where="here")
    assert project(crs, example) == pytest.approx((example.east, example.north), abs=example.within)


@pytest.mark.parametrize("example", NOT_IN_METRES.values(), ids=NOT_IN_METRES)
def test_a_frame_in_feet_or_links_projects_but_is_refused_for_a_map(example: Example) -> None:
    crs = pyproj.CRS.from_user_input(example.crs)
    assert project(crs, example) == pytest.approx((example.east, example.north), abs=example.within)
    with pytest.raises(SiteError, match="not a projected system in metres"):
        check_map_crs(example.crs, where="here")


@pytest.mark.parametrize("name", ["ETRS89 / LAEA Europe", "WGS 84 / UPS North"])
def test_a_plan_in_degrees_lands_on_the_published_place_less_its_origin(name: str) -> None:
    # these two share WGS 84 (to pyproj ETRS89 is the same), the datum that plans in degrees have
    example = IN_METRES[name]
    frame = MapFrame(example.crs, origin_x_m=3_000_000.0, origin_y_m=600_000.0)
    x, y = lonlat_to_local(frame)(np.array([example.lon_deg]), np.array([example.lat_deg]))
    assert x[0] == pytest.approx(example.east - 3_000_000, abs=example.within)
    assert y[0] == pytest.approx(example.north - 600_000, abs=example.within)


def test_geocentric_coordinates_of_the_published_example() -> None:
    # IOGP 373-7-2, geographic 3D to geocentric (values from memory); checks pyproj alone
    to_geocentric = pyproj.Transformer.from_crs("EPSG:4979", "EPSG:4978", always_xy=True)
    found = to_geocentric.transform(degrees(2, 7, 46.38), degrees(53, 48, 33.82), 73.0)
    assert found == pytest.approx((3771793.968, 140253.342, 5124304.349), abs=0.0015)


@pytest.mark.parametrize(("lon_deg", "lat_deg"), [(-74.17, 40.73), (8.5, 60.0), (151.2, -33.9)])
def test_metres_in_the_local_frame_are_metres_on_the_ellipsoid(
    lon_deg: float, lat_deg: float
) -> None:
    # geodesic distances by pyproj's Geod: another algorithm (Karney 2013, Journal of Geodesy 87)
    geod = pyproj.Geod(ellps="WGS84")
    convert = lonlat_to_local(local_frame_at(lon_deg, lat_deg))
    for azimuth in range(0, 360, 30):
        for middle_m, length_m in ((50.0, 80.0), (4900.0, 150.0)):
            lon, lat, _ = geod.fwd(lon_deg, lat_deg, 77.0, middle_m)
            lon2, lat2, _ = geod.fwd(lon, lat, azimuth, length_m)
            x, y = convert(np.array([lon, lon2]), np.array([lat, lat2]))
            # 3e-7 of the length, and 1e-7 m for the seven digits of the frame's centre
            assert np.hypot(*np.diff([x, y]).ravel()) == pytest.approx(
                length_m, rel=3.2e-7, abs=1e-7
            )


def test_the_local_frame_points_north_and_east_at_its_centre() -> None:
    convert = lonlat_to_local(local_frame_at(8.5, 60.0))
    x, y = convert(np.array([8.5, 8.5, 8.501]), np.array([60.0, 60.001, 60.0]))
    assert (x[0], y[0]) == pytest.approx((0, 0), abs=1e-6)
    assert x[1] == pytest.approx(0, abs=1e-6)
    assert y[1] > 100
    assert x[2] > 50
    assert abs(y[2]) < 0.01
