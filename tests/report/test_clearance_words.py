"""Figures of a clearance in words: a sign is never lost."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.decide.clearance.statistics import room_statistics
from hgmap.report.clearance_notes import elsewhere_words
from hgmap.report.clearance_words import why_of
from hgmap.report.document.content import Table
from hgmap.report.document.write_up import write_up
from hgmap.site.folder import read_site
from hgmap.survey_report import ReportOptions, survey_of
from tests.clearance_cases import EVERY
from tests.report.document.conftest import options


@pytest.mark.parametrize(
    ("highest", "over", "told"),
    [(None, None, "–"), (0.4, None, "0.4"), (100.0, 100.0, ">100"), (3.0, 0.5, ">3")],
)
def test_a_saturated_reading_at_another_height_keeps_its_sign(
    highest: float | None, over: float | None, told: str
) -> None:
    found = room_statistics(
        "store", [1.0, 2.0], [True, True], 0.8, highest_elsewhere=highest, saturated_elsewhere=over
    )
    assert elsewhere_words(found) == told


def test_of_two_rooms_of_one_name_it_is_said_which_does_not_meet(
    make_site: Callable[..., Path], make_plan: Any, make_rows: Any, make_table: Any
) -> None:
    low = [",".join([*row.split(",")[:7], "0.1", *row.split(",")[8:]])
           for row in make_rows(floor="first", prefix="F")]  # fmt: skip
    site = make_site(plans={"ground": make_plan(), "first": make_plan()},
                     readings={"first.csv": make_table([*make_rows(), *low])})  # fmt: skip
    wanted: ReportOptions = options(rule=EVERY)
    _, survey = survey_of(read_site(site), wanted)
    (level,) = survey.clearance.levels
    bad = list(why_of(level, "does not meet", 1))
    assert bad
    assert all(one.startswith(("Room A (ground, A): ", "Room B (ground, B): ")) for one in bad)
    parts = write_up(survey).parts
    summed = next(one for one in parts if "does not meet: " in str(one))
    assert "(ground, " in str(summed)
    whys = [one for one in parts if isinstance(one, Table) and one.caption.startswith("Why,")]
    assert [one.caption for one in whys] == [
        f"Why, room by room: {name} (in {level.level.unit})" for name in ("ground", "first")
    ]
    assert {row[1] for row in whys[0].rows} != {row[1] for row in whys[1].rows}


def test_the_outcome_stands_beside_the_name_of_the_room(
    make_site: Callable[..., Path],
) -> None:
    _, survey = survey_of(read_site(make_site()), options(rule=EVERY))
    tables = [one for one in write_up(survey).parts if isinstance(one, Table)]
    tables = [one for one in tables if one.caption.startswith("Outcome of the rooms")]
    assert tables
    for one in tables:
        assert [column.heading for column in one.columns[:2]] == ["room", "outcome"]
        assert {row[1] for row in one.rows} <= {"meets", "cannot tell yet", "does not meet"}
