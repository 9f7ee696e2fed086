"""Sheets look as they did when somebody last looked at them: a hash of each, no pixels kept."""

from __future__ import annotations

from dataclasses import replace

import pytest
from scipy import ndimage

from hgmap.report.drawing import Dot, Label
from tests.report.sheet_cases import KINDS, house_sheets
from tests.report.sheet_looks import (
    MOST_DIFFERING,
    differing,
    ink_of,
    kept,
    look_of,
    look_of_ink,
)

HINT = "look at the sheet; if it is right, run: python -m tests.report.sheet_looks"


@pytest.fixture(scope="session")
def inks():
    return {kind: ink_of(house_sheets()[kind]) for kind in KINDS}


@pytest.mark.parametrize("kind", KINDS)
def test_a_sheet_looks_as_it_did(inks, kind):
    assert differing(look_of_ink(inks[kind]), kept()[kind]) <= MOST_DIFFERING, HINT


def test_no_two_kinds_of_sheet_look_alike():
    looks = kept()
    for n, one in enumerate(KINDS):
        for other in KINDS[:n]:
            assert differing(looks[one], looks[other]) > 2 * MOST_DIFFERING, (one, other)


@pytest.mark.parametrize("kind", KINDS)
def test_a_hair_more_or_less_is_the_same_look(inks, kind):
    moved = ndimage.shift(inks[kind], (0.2, -0.2), order=1)  # a tenth of a millimetre
    assert differing(look_of_ink(moved), kept()[kind]) <= MOST_DIFFERING


def test_a_sheet_without_its_legend_does_not_pass():
    sheet = house_sheets()["zones"]
    heading = next(one for one in sheet.page
                   if isinstance(one, Label) and one.text == "Zones, for this level")  # fmt: skip
    end = next(one for one in sheet.page if isinstance(one, Label) and one.text == "On the plan")
    texts = [one for one in sheet.page if isinstance(one, Label)]
    gone = {id(one) for one in texts if one.x >= heading.x - 0.1 and end.y < one.y <= heading.y}
    assert len(gone) > 10
    bare = replace(sheet, page=tuple(one for one in sheet.page if id(one) not in gone))
    assert differing(look_of(bare), kept()["zones"]) > 2 * MOST_DIFFERING


def test_a_sheet_without_its_readings_or_its_title_block_does_not_pass():
    sheet = house_sheets()["readings"]
    plan = replace(sheet.frames[0], drawing=tuple(
        one for one in sheet.frames[0].drawing if not isinstance(one, Label | Dot)
    ))  # fmt: skip
    bare = replace(sheet, frames=(plan, *sheet.frames[1:]))
    assert differing(look_of(bare), kept()["readings"]) > MOST_DIFFERING
    foot = tuple(one for one in sheet.page if not (isinstance(one, Label) and one.y < 35.0))
    assert differing(look_of(replace(sheet, page=foot)), kept()["readings"]) > 2 * MOST_DIFFERING
