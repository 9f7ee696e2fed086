"""A sampling plan is read, and the readings are held against it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.site.model import PlannedReadings, Site
from hgmap.site.quality.completeness import completeness
from hgmap.site.quality.sampling_plan import read_sampling_plan
from hgmap.site.reading import Reading

Make = Callable[..., Reading]
MakeSite = Callable[..., Site]
HEADER = "round,floor,room,band,kind,count\n"


def test_a_plan_is_read_with_empty_cells_for_any() -> None:
    text = HEADER + "first,ground,A,adult breathing,,3\n,,,,field blank,2\n"
    planned, problems = read_sampling_plan(text.encode(), where="plan.csv")
    assert problems == []
    assert planned == [
        PlannedReadings("first", "ground", "A", "adult breathing", "reading", 3, "plan.csv, row 2"),
        PlannedReadings("", "", "", "", "field blank", 2, "plan.csv, row 3"),
    ]


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",,,,,0", "count '0' is not a whole number"),
        (",,,,,2.5", "count '2.5'"),
        (",,,,,-1", "count '-1'"),
        (",ground,,,,", "count ''"),
        (",,,,,1e9", "count '1e9'"),
        (",,,,,٣", "count '٣'"),
        (",,,,,99999999999", "is not a whole number"),
        (",,,,feild blank,1", "did you mean 'field blank'?"),
    ],
)
def test_a_row_that_cannot_be_used_is_said_and_the_rest_kept(row: str, words: str) -> None:
    planned, problems = read_sampling_plan(f"{HEADER}{row}\n,,,,,1\n".encode(), where="plan.csv")
    assert [one.where for one in planned] == ["plan.csv, row 3"]
    (problem,) = problems
    assert (problem.severity, problem.where) == ("warning", "plan.csv, row 2")
    assert words in problem.message


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"PK\x03\x04 zip", "not a text table"),
        (b"round,floor\nfirst,ground\n", "no column 'count'"),
        (b"count,count\n1,1\n", "stands twice"),
    ],
)
def test_a_file_that_cannot_be_used_is_one_error(data: bytes, words: str) -> None:
    planned, problems = read_sampling_plan(data, where="plan.csv")
    assert planned == []
    assert [one.severity for one in problems] == ["error"]
    assert words in problems[0].message


@given(st.one_of(st.binary(max_size=200), st.text(max_size=200).map(lambda one: one.encode())))
def test_no_bytes_break_the_reader_of_plans(data: bytes) -> None:
    planned, problems = read_sampling_plan(b"count,kind\n" + data, where="plan.csv")
    assert planned or problems


@given(
    st.lists(
        st.tuples(st.sampled_from(["", "ground", "Ground, upper"]), st.integers(1, 100_000)),
        min_size=1,
    )
)
def test_a_plan_that_is_written_is_read_back(lines: list[tuple[str, int]]) -> None:
    text = HEADER + "".join(f'first,"{floor}",A,,laboratory,{n}\n' for floor, n in lines)
    planned, problems = read_sampling_plan(text.encode(), where="plan.csv")
    assert problems == []
    assert [(one.floor, one.count) for one in planned] == lines


def test_without_a_plan_each_room_needs_a_usable_breathing_zone_reading(
    reading: Make, site: MakeSite
) -> None:
    found = completeness(
        site(
            reading("a"), reading("b", room="B", x=8.0, held=("no unit",)),
            reading("c", room="B", x=8.0, band="source search", kind="source search"),
        ),
        "first",
    )  # fmt: skip
    assert (found.planned, found.taken, found.usable) == (2, 2, 1)
    assert found.rooms_without == ("Ground floor: B Store",)
    assert not found.complete
    assert found.summary.startswith("1 of 2 rooms")


def test_a_plan_counts_what_was_planned_taken_and_usable(reading: Make, site: MakeSite) -> None:
    plan = (
        PlannedReadings("first", "Ground Floor", "hall", "Adult breathing", "reading", 2, "r2"),
        PlannedReadings("", "", "", "", "field blank", 2, "r3"),
        PlannedReadings("second", "", "", "", "reading", 50, "r4"),
        PlannedReadings("first", "attic", "", "", "reading", 1, "r5"),
        PlannedReadings("first", "", "Z", "", "reading", 1, "r6"),
    )
    readings = [
        reading("a"), reading("b"), reading("c"), reading("d", held=("no unit",)),
        reading("k", kind="field blank", room="", floor="", band=""),
    ]  # fmt: skip
    found = completeness(site(*readings, sampling_plan=plan), "first")
    assert [(one.planned, one.taken, one.usable) for one in found.lines] == [
        (2, 4, 3), (2, 1, 1), (1, 0, 0), (1, 0, 0),
    ]  # fmt: skip
    assert (found.planned, found.usable) == (6, 3)
    assert found.share == pytest.approx(0.5)
    assert "no such floor" in found.lines[2].text
    assert "no such room" in found.lines[3].text


def test_one_reading_in_ten_is_wanted_twice(reading: Make, site: MakeSite) -> None:
    eleven = [reading(f"r{k}", x=0.5 * k) for k in range(11)]
    assert completeness(site(*eleven), "first", 1).replicates_wanted == 2
    ten = [*eleven[:10], eleven[10]._replace(kind="duplicate")]
    assert completeness(site(*ten), "first", 1).replicates_wanted == 1


@given(st.integers(1, 30), st.integers(0, 30))
def test_a_share_is_never_above_one(
    reading: Make, site: MakeSite, planned: int, taken: int
) -> None:
    plan = (PlannedReadings("", "", "", "", "reading", planned, "r2"),)
    readings = [reading(f"r{k}") for k in range(taken)]
    found = completeness(site(*readings, sampling_plan=plan), "first")
    assert found.share == pytest.approx(min(1.0, taken / planned))
