"""The detection limit of a row: what a result below it shows, and what one shows that is unread."""

from __future__ import annotations

import json
from typing import Any

import pytest

from hgmap.site.building import Floor
from hgmap.site.folder import DEFAULT_HEIGHT_BANDS
from hgmap.site.plan import read_plan
from hgmap.site.reading import Reading
from hgmap.site.readings import ReadingContext, read_readings

HEADER = "id,floor,room,x,y,height,value,unit,qualifier,low,detection_limit"


@pytest.fixture(scope="module")
def context(make_plan: Any) -> ReadingContext:
    plan = read_plan(json.dumps(make_plan()).encode(), where="p", floor="ground")
    floor = Floor("ground", "Ground floor", plan.rooms, plan.walls, plan.openings)
    return ReadingContext(
        medium="air",
        analyte="elemental mercury vapour",
        floors={"ground": floor},
        lost_floors=frozenset(),
        rounds=frozenset({"before"}),
        bands=DEFAULT_HEIGHT_BANDS,
        detection_limit=(0.05, "µg/m³"),
        default_height_m=None,
    )


def read(context: ReadingContext, cells: str) -> Reading:
    data = f"{HEADER}\nR1,ground,A,1,1,1.5,{cells}\n".encode()
    return read_readings(data, context, where="a.csv", round_name="before")[0][0]


@pytest.mark.parametrize(
    "cells",
    ["0.09,ug/m3,,,0.9", "0.05,ug/m3,<,,0.9", "<0.05,ug/m3,,,0.9", "~0.09,ug/m3,,,0.9",
     "0.3,ug/m3,to,0.1,0.9", "up to 0.5,ug/m3,,,0.9", "90,ng/m3,,,900",
     "0.09,ug/m3,,,900 ng/m3"],
)  # fmt: skip
def test_a_result_below_its_rows_detection_limit_is_a_non_detect_at_the_limit(
    cells: str, context: ReadingContext
) -> None:
    reading = read(context, cells)
    assert reading.held == ()
    assert (reading.qualifier, reading.concentration) == ("<", pytest.approx(0.9))
    assert reading.concentration_low is None
    assert any("below the row's detection limit" in text for text in reading.cautions)


@pytest.mark.parametrize(
    ("cells", "qualifier", "concentration"),
    [("0.9,ug/m3,,,0.9", "", 0.9), ("1,ug/m3,<,,0.9", "<", 1.0), (">0.5,ug/m3,,,0.9", ">", 0.5),
     ("0.9,ug/m3,,,900 ng/m3", "", 0.9), ("0.09,ug/m3,,,", "", 0.09),
     ("0.09,ug/m3,,,n/a", "", 0.09)],
)  # fmt: skip
def test_a_result_at_or_above_its_rows_detection_limit_stands(
    cells: str, qualifier: str, concentration: float, context: ReadingContext
) -> None:
    reading = read(context, cells)
    assert (reading.qualifier, reading.concentration) == (qualifier, pytest.approx(concentration))
    assert (reading.held, reading.cautions) == ((), ())


@pytest.mark.parametrize("value", ["ND", "0"])
def test_the_sites_limit_does_not_stand_in_for_one_of_the_row_that_cannot_be_read(
    value: str, context: ReadingContext
) -> None:
    assert "detection limit" in read(context, f'{value},ug/m3,,,"1,850"').held[0]
    assert read(context, f"{value},ug/m3,,,").concentration == pytest.approx(0.05)


def test_a_number_whose_detection_limit_cannot_be_read_says_so(context: ReadingContext) -> None:
    reading = read(context, "0.09,ug/m3,,,low")
    assert (reading.held, reading.concentration) == ((), pytest.approx(0.09))
    assert reading.cautions == ("detection limit 'low' cannot be read",)


def test_a_detection_limit_of_another_medium_holds_its_reading(context: ReadingContext) -> None:
    assert "detection limit '1 mg/kg'" in read(context, "0.09,ug/m3,,,1 mg/kg").held[0]
