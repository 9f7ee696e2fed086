"""A person may decide against the tool, with initials and a reason, and never silently."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, ReadingsError
from hgmap.site.instruments.overrules import apply_overrules, read_overrules
from hgmap.site.reading import Finding, Reading

HEADER = "reading,round,verdict,initials,reason,date"
HOLD = Finding("hold", "saturation", "the film was saturated", ("log.csv, row 7",))
CAUTION = Finding("caution", "certificate", "no certificate")


def read(*rows: str) -> Any:
    return read_overrules("\n".join([HEADER, *rows]).encode(), where="overrules.csv")


@pytest.fixture
def held(make_reading: Any) -> Reading:
    reading: Reading = make_reading(
        held=(HOLD.text,), cautions=(CAUTION.text,), findings=(HOLD, CAUTION)
    )
    return reading


def test_use_lifts_what_the_log_holds_and_prints_who_said_so(held: Reading) -> None:
    overrules, problems = read("R1,before,use,AB,film was fresh,2026-03-05")
    assert problems == []
    assert overrules[0].date == date(2026, 3, 5)
    (told,), problems = apply_overrules([held], overrules)
    assert problems == []
    assert told.verdict == "usable with a caution"
    assert told.findings == (replace(HOLD, overruled="AB: film was fresh"), CAUTION)
    assert told.cautions == (
        "no certificate",
        "the film was saturated (log.csv, row 7); overruled by AB: film was fresh",
    )


def test_use_never_makes_a_reading_of_one_without_unit_or_place(held: Reading) -> None:
    reading = held._replace(held=("no unit", *held.held))
    (told,), problems = apply_overrules([reading], read("R1,before,use,AB,sure,")[0])
    assert told.held == ("no unit",)
    assert problems[0].where == "overrules.csv, row 2"
    assert problems[0].message == "reading 'R1': stays held, nobody can lift that: no unit"


def test_use_without_a_round_lifts_nothing_where_two_rounds_have_the_id(held: Reading) -> None:
    other = held._replace(round="after")
    told, problems = apply_overrules([held, other], read("R1,,use,AB,film was fresh,")[0])
    assert [one.verdict for one in told] == ["held", "held"]
    assert problems[0].message == "reading 'R1' is in several rounds: the row lifts nothing"
    told, problems = apply_overrules([held, other], read("R1,,hold,AB,sure,")[0])
    assert all("held by AB: sure" in one.held[-1] for one in told)
    assert problems == []


def test_hold_holds_and_wins_over_use(held: Reading, make_reading: Any) -> None:
    plain = make_reading()
    (told,), problems = apply_overrules([plain], read("R1,,hold,AB,door stood open,")[0])
    assert (told.verdict, problems) == ("held", [])
    assert told.held == ("held by AB: door stood open (overrules.csv, row 2)",)
    assert told.findings[0].rule == "overrule"
    for rows in (("R1,,hold,AB,no,", "R1,,use,CD,yes,"), ("R1,,use,CD,yes,", "R1,,hold,AB,no,")):
        (told,), problems = apply_overrules([held], read(*rows)[0])
        assert HOLD.text in told.held
        assert "stays held" in problems[0].message


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("R1,before,use,,film was fresh,", "no initials"),
        ("R1,before,use,AB,,", "no reason"),
        ("R1,before,use,AB,   ,", "no reason"),
        ("R1,before,perhaps,AB,why,", "verdict 'perhaps' is neither use nor hold"),
        (",before,use,AB,why,", "no reading"),
        ("*,,use,AB,why,", "every reading of which round?"),
        ("R1,before,use,AB,fresh, I think,2026-03-05", "more cells than the header"),
    ],
)
def test_a_row_without_initials_or_reason_lifts_nothing(held: Reading, row: str, says: str) -> None:
    overrules, problems = read(row)
    assert overrules == []
    assert says in problems[-1].message
    assert "lifts nothing" in problems[-1].message
    (told,), _ = apply_overrules([held], overrules)
    assert told is held


def test_a_hold_without_initials_holds_all_the_same(make_reading: Any) -> None:
    overrules, problems = read("R1,before,hold,,,")
    assert "holds all the same" in problems[0].message
    (told,), _ = apply_overrules([make_reading()], overrules)
    assert told.held == (
        "held by someone who left no initials: no reason written (overrules.csv, row 2)",
    )


def test_a_star_is_every_reading_of_its_round(held: Reading) -> None:
    others = [held._replace(id="R2"), held._replace(id="R3", round="after")]
    told, problems = apply_overrules([held, *others], read("*,before,use,AB,checked,")[0])
    assert [one.usable for one in told] == [True, True, False]
    assert problems == []


def test_an_overrule_of_another_round_meets_nothing(held: Reading) -> None:
    (told,), problems = apply_overrules([held], read("R1,after,use,AB,fresh,")[0])
    assert told is held
    assert problems[0].message == "no reading 'R1' in round 'after'"
    assert problems[0].where == "overrules.csv, row 2"


def test_what_a_star_does_not_reach_is_told_in_one_line(make_reading: Any) -> None:
    plain = [make_reading(id=f"R{number}") for number in range(5)]
    told, problems = apply_overrules(plain, read("*,before,use,AB,checked,")[0])
    assert told == plain
    assert [one.message for one in problems] == [
        "reading 'R0', 'R1', 'R2' and 2 more: nothing holds it"
    ]


def test_a_date_that_cannot_be_read_is_told(held: Reading) -> None:
    overrules, problems = read("R1,before,use,AB,fresh,last week")
    assert overrules[0].date is None
    assert "date 'last week'" in problems[0].message


@pytest.mark.parametrize("data", [b"", b"reading,verdict\nR1,use\n", b"a,a\n", b"PK\x03\x04"])
def test_a_file_that_holds_no_decisions_is_refused(data: bytes) -> None:
    with pytest.raises(ReadingsError, match=r"^overrules\.csv"):
        read_overrules(data, where="overrules.csv")


@given(st.binary(max_size=200))
def test_no_bytes_make_the_reader_crash(data: bytes) -> None:
    try:
        read_overrules(data, where="overrules.csv")
    except HgmapError:
        return


WORDS = st.sampled_from(["", "R1", "R2", "*", "before", "after", "use", "hold", "AB", "why"])


@given(
    st.lists(st.tuples(WORDS, WORDS, st.sampled_from(["use", "hold"]), WORDS, WORDS), max_size=4),
    st.booleans(),
)
def test_no_decision_lifts_what_is_no_finding_or_lacks_initials(
    rows: list[tuple[str, ...]], structural: bool
) -> None:
    reading = Reading(
        id="R1", round="before", floor="", room="", x=None, y=None, height_m=None, time=None,
        value=1.0, unit="ug/m3", qualifier="", note="", concentration=1.0, band="", placed="",
        where="readings.csv, row 2", findings=(HOLD,),
        held=("no place", HOLD.text) if structural else (HOLD.text,),
    )  # fmt: skip
    overrules, _ = read("R9,,hold,AB,why,", *(",".join((*row, "")) for row in rows))
    (told,), _ = apply_overrules([reading], overrules)
    signed = any(
        one[2] == "use" and one[3] and one[4] and one[0] in ("R1", "*") and one[1] in ("", "before")
        for one in rows
    )
    assert not told.usable or (signed and not structural)
    if told.usable:
        assert told.findings[0].overruled
        assert told.findings[0].text in told.cautions
    else:
        assert HOLD.text in told.held or told.findings[0].overruled
