"""A blank or a bag that no kind names is held, whoever wrote the file."""

from __future__ import annotations

import json
from typing import Any

import pytest

from hgmap.site.building import Floor
from hgmap.site.folder import DEFAULT_HEIGHT_BANDS
from hgmap.site.plan import read_plan
from hgmap.site.reading import Reading
from hgmap.site.readings import ReadingContext, read_readings

HEADER = "id,floor,room,height,value,unit,kind,duplicate_of,note"


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
        detection_limit=None,
        default_height_m=None,
    )


def read(context: ReadingContext, *rows: str) -> list[Reading]:
    data = "\n".join((HEADER, *rows)).encode()
    return read_readings(data, context, where="a.csv", round_name="before")[0]


@pytest.mark.parametrize(
    ("identifier", "note", "said"),
    [("FB-1", "", "id 'FB-1' speaks of a field blank: write the kind, or 'reading'"),
     ("Trip blank", "", "id 'Trip blank' speaks of a field blank: write the kind, or 'reading'"),
     ("R7", "bag headspace", "note 'bag headspace' speaks of a headspace: write the kind, or "
      "'reading'")],
)  # fmt: skip
def test_a_blank_without_a_kind_is_held(
    identifier: str, note: str, said: str, context: ReadingContext
) -> None:
    one, two = read(
        context, "R1,ground,A,1.5,1,ug/m3,,,", f"{identifier},ground,A,1.5,1,ug/m3,,,{note}"
    )
    assert one.held == ()
    assert two.held == (said,)


@pytest.mark.parametrize(
    "row",
    ["FB-1,ground,A,1.5,1,ug/m3,reading,,", "FB-1,,,,1,ug/m3,field blank,,field blank",
     "DUP-1,ground,A,1.5,1,ug/m3,duplicate,R1,", "DUP-1,ground,A,1.5,1,ug/m3,,R1,",
     "R2,ground,A,1.5,1,ug/m3,,,beside the bag of the cleaner", "LAB-1,ground,A,1.5,1,ug/m3,,,"],
)  # fmt: skip
def test_a_kind_that_is_written_or_a_note_that_says_more_holds_nothing(
    row: str, context: ReadingContext
) -> None:
    assert read(context, row)[0].held == ()
