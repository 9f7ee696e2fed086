"""The picture of a fit: what it says of the arrows, and that nothing covers anything."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely

from hgmap.report.drawing import Path as Drawn
from hgmap.report.drawing import Sheet, texts
from hgmap.report.frame_sheet import OnTheMap, frame_sheet
from hgmap.report.plan_page import Head
from hgmap.site.folder import read_site
from hgmap.site.map_frame import MapFrame

MakeSite = Callable[..., Path]
PLAN = ((0.0, 0.0), (12.0, 0.0), (12.0, 5.0), (0.0, 5.0))
FRAME = MapFrame("EPSG:25832", 604_000.0, 5_712_000.0, 17.0)


def sheet_of(site: Path, residuals: Any, frame: MapFrame = FRAME, **shown: Any) -> Sheet:
    import dataclasses

    floors = [dataclasses.replace(one, map_frame=frame) for one in read_site(site).floors]
    names = [f"P{k}" for k in range(1, 5)]
    what = OnTheMap(floors, shown.pop("others", {}), names, frame.to_map(PLAN),
                    np.asarray(residuals, float), **shown)  # fmt: skip
    return frame_sheet(what, Head("Test (invented)", "Plan on the map", ("a line",), True))


@pytest.mark.parametrize(
    ("angle", "size"), [(0.0, 0.0), (17.0, 0.004), (95.0, 0.3), (95.0, 0.0012), (180.0, 40.0)]
)
def test_the_picture_says_how_much_longer_its_arrows_are_than_the_misses(
    make_site: MakeSite, check_page: Any, angle: float, size: float
) -> None:
    misses = np.array([(1, 0), (0, 1), (-1, 0), (0, -1)]) * size
    frame = MapFrame("EPSG:25832", 604_000.0, 5_712_000.0, angle)
    sheet = sheet_of(make_site(), misses, frame)
    check_page(sheet)
    told = " ".join(texts(sheet))
    drawn = [item.shape.length for item in sheet.frames[0].drawing
             if isinstance(item, Drawn) and item.pen.colour == "#c74a00"
             and len(item.shape.coords) == 2]  # fmt: skip
    if not size:
        assert "the fit goes through every point" in told
        assert not drawn
        return
    times = float(told.split("drawn ")[1].split(" times")[0])
    assert drawn == pytest.approx([times * size] * 4)
    assert f"P1  {size * 1000:.0f} mm" in told
    assert "grid north" in told
    assert " E" in told
    assert " N" in told


@pytest.mark.parametrize("tall", [False, True])
def test_other_buildings_and_the_deed_are_drawn_and_named_in_the_key(
    make_site: MakeSite, check_page: Any, tall: bool
) -> None:
    other = shapely.box(604_020, 5_712_000, 604_031, 5_712_009)
    deed = shapely.box(603_990, 5_711_990, 604_040, 5_712_090 if tall else 5_712_020)
    sheet = sheet_of(make_site(), np.full((4, 2), 0.01), others={"Annex": other}, outline=deed)
    check_page(sheet)
    told = texts(sheet)
    assert "Annex" in told
    assert {"another building", "the deed"} <= set(told)
    assert "another floor" not in told
    alone = texts(sheet_of(make_site("alone"), np.full((4, 2), 0.01)))
    assert not {"another building", "the deed"} & set(alone)


def test_many_points_at_one_wall_are_all_marked_and_no_text_covers_another(
    make_site: MakeSite, check_page: Any
) -> None:
    floor = dataclasses.replace(read_site(make_site()).floors[0], map_frame=FRAME)
    plan = [(k * 0.12, 0.0) for k in range(100)]
    residuals = np.random.default_rng(1).normal(0, 0.01, (100, 2))
    names = [f"point {k} of a long wall" for k in range(100)]
    shown = OnTheMap([floor], {}, names, FRAME.to_map(plan), residuals)
    sheet = frame_sheet(shown, Head("Test", "Plan on the map", ("a line",), False))
    check_page(sheet)
    marks = [one for one in sheet.frames[0].drawing if getattr(one, "shape", "") == "plus"]
    assert len(marks) == 100
