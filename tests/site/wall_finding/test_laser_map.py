"""A laser map that nobody here made, turned and full of clutter, against walls told by eye."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
import pytest
from PIL import Image
from shapely import LineString

from hgmap.site.plan_picture import PlanPicture
from hgmap.site.wall_finding.proposals import propose_walls
from hgmap.site.wall_finding.proposed import WallProposals
from tests.site.wall_finding.drawn_floors import found_share, wall_lines

RASTER: Final = Path(__file__).parents[4] / "shared" / "data" / "raster"
NAME: Final = "willow-2010-02-18-0.10"

# Walls that a person sees in the enlarged image, read off a grid laid over it, in pixels (column,
# row of both ends), before anything was compared with what is proposed. Within about 2 px.
BY_EYE: Final = (
    (191, 48, 270, 81), (162, 64, 152, 90), (148, 98, 118, 170), (115, 179, 95, 225),
    (175, 69, 164, 95), (162, 104, 132, 174), (127, 184, 104, 239), (254, 107, 218, 194),
    (270, 81, 290, 72), (239, 96, 229, 121), (325, 66, 395, 97), (314, 80, 400, 117),
    (403, 102, 438, 116), (448, 120, 525, 153), (411, 124, 492, 158), (521, 164, 514, 182),
    (510, 190, 496, 223), (445, 252, 460, 218), (336, 270, 292, 378), (360, 271, 353, 293),
    (349, 294, 329, 346), (330, 351, 416, 386), (430, 352, 416, 386), (406, 410, 336, 568),
    (431, 391, 352, 575), (303, 406, 268, 492), (286, 392, 264, 443), (236, 374, 286, 392),
    (220, 424, 262, 440), (254, 468, 273, 477), (258, 457, 242, 495), (307, 541, 292, 580),
    (251, 530, 238, 562), (459, 330, 440, 370),
)  # fmt: skip


def metres_a_pixel() -> float:
    lines = (RASTER / f"{NAME}.yaml").read_text("utf-8").splitlines()
    keys = dict(line.split(":", 1) for line in lines if ":" in line)
    assert keys["origin"].strip() == "[0.000000, 0.000000, 0.000000]"
    return float(keys["resolution"])


@pytest.fixture(scope="module")
def found() -> WallProposals:
    if not RASTER.is_dir():
        pytest.skip("the data of others is not beside this checkout")
    grey = np.array(Image.open(RASTER / f"{NAME}.png").convert("L"))
    scale = metres_a_pixel()
    picture = PlanPicture("plans/map.png", scale, origin_y_m=scale * grey.shape[0])
    return propose_walls(grey, picture)


def in_metres(found: WallProposals) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    made = []
    for a, b, c, d in BY_EYE:
        (ax, ay), (bx, by) = found.picture.to_metres([(a, b), (c, d)])
        made.append(((float(ax), float(ay)), (float(bx), float(by))))
    return made


def test_grey_is_ground_that_nobody_has_seen(found: WallProposals) -> None:
    assert found.laser_map
    assert 180 < found.threshold < 200  # the cells that nobody has seen are 205


def test_nine_tenths_of_the_walls_that_a_person_sees_are_proposed(found: WallProposals) -> None:
    assert found_share(tuple(in_metres(found)), wall_lines(found), 0.3) > 0.9


def test_the_walls_run_as_the_building_is_turned(found: WallProposals) -> None:
    chief = found.directions_deg[0] % 90
    seen = []
    for a, b in in_metres(found):
        angle = np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])) % 90
        seen.append((float(LineString([a, b]).length), float(angle)))
    lengths, angles = np.array(seen).T
    assert chief == pytest.approx(float(np.average(angles, weights=lengths)), abs=1.5)


def test_whatever_is_proposed_has_ink_under_most_of_it(found: WallProposals) -> None:
    # clutter is proposed too: a person has to choose
    assert min(one.support for one in found.walls) >= 0.4
    weights = [one.length_m for one in found.walls]
    assert np.average([one.support for one in found.walls], weights=weights) > 0.7
