from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.overrule_edits import decisions, hold, release, withdraw
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.errors import SiteError
from hgmap.site.instruments.overrules import read_overrules
from hgmap.site.reading import Reading
from hgmap.site.records import OVERRULES_FILE
from hgmap.site.trust import judged_site

MakeSite = Callable[..., Path]
DAY = dt.date(2026, 3, 9)
DEMO = read_site_files(Path(__file__).parents[2] / "demo_site")
ONE = site_of(DEMO).readings[0]


def judged(files: SiteFiles, identifier: str, round_: str) -> Reading:
    return next(
        one
        for one in judged_site(site_of(files), None).readings
        if (one.id, one.round) == (identifier, round_)
    )


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Zl", "Zp"]), max_size=12)


@given(initials=WORDS, reason=WORDS, date=st.none() | st.dates(dt.date(1990, 1, 1)),
       which=st.sampled_from([hold, release]))  # fmt: skip
def test_what_is_read_of_a_decision_is_what_was_meant(
    initials: str,
    reason: str,
    date: dt.date | None,
    which: Callable[..., SiteFiles],
) -> None:
    try:
        files = which(DEMO, ONE, initials, reason, date)
    except SiteError:
        assert (
            not initials.split()
            or not reason.split()
            or any(one.startswith("'") for one in (initials.strip(), reason.strip()))
        )
        return
    assert changed(DEMO, files) == (OVERRULES_FILE,)
    (found,), problems = read_overrules(files.contents[OVERRULES_FILE], where=OVERRULES_FILE)
    assert problems == []
    assert (found.reading, found.round) == (ONE.id, ONE.round)
    assert found.verdict == ("hold" if which is hold else "use")
    assert (found.initials, found.reason) == (" ".join(initials.split()), " ".join(reason.split()))
    assert found.date == date
    for cell in files.text(OVERRULES_FILE).splitlines()[1].split(","):
        assert not cell.strip('"').startswith(("=", "+", "-", "@"))


def test_a_held_reading_is_held_until_it_is_withdrawn() -> None:
    files = hold(DEMO, ONE, "AB", "spilt beside the inlet, seen", DAY)
    assert (
        judged(files, ONE.id, ONE.round)
        .held[-1]
        .startswith("held by AB: spilt beside the inlet, seen")
    )
    with pytest.raises(SiteError, match="held by AB, and a hold wins"):
        release(files, ONE, "CD", "it was not")
    back = withdraw(files, ONE)
    assert decisions(back, ONE) == ()
    assert judged(back, ONE.id, ONE.round) == judged(DEMO, ONE.id, ONE.round)
    again = release(back, ONE, "CD", "it was not", DAY)
    assert [one.verdict for one in decisions(again, ONE)] == ["use"]
    with pytest.raises(SiteError, match="nobody decided"):
        withdraw(back, ONE)


def test_an_id_of_several_rounds_is_held_in_the_one_that_was_meant(
    make_site: MakeSite, make_rows: Callable[..., list[str]], make_table: Callable[..., str]
) -> None:
    table = make_table(make_rows(4))
    files = read_site_files(make_site(readings={"first.csv": table, "second.csv": table}))
    second = next(one for one in site_of(files).readings if one.round == "second")
    after = hold(files, second, "AB", "spilt")
    assert judged(after, second.id, "second").held
    assert not judged(after, second.id, "first").held


def test_somebodys_own_file_keeps_its_lines_and_gets_the_columns_that_it_lacks() -> None:
    data = b'Initials;Reading;Verdict;Reason\r\nXY;A001;hold;"seen; twice"\r\n'
    files = hold(DEMO.with_file(OVERRULES_FILE, data), ONE, "AB", "spilt", DAY)
    lines = files.contents[OVERRULES_FILE].splitlines(keepends=True)
    assert lines[0] == b"Initials;Reading;Verdict;Reason;round;date\r\n"
    assert lines[1] == data.splitlines(keepends=True)[1]
    assert lines[2] == b"AB;B001;hold;spilt;before;2026-03-09\r\n"
    assert len(site_of(files).overrules) == 2


def test_an_empty_file_gets_its_header() -> None:
    files = hold(DEMO.with_file(OVERRULES_FILE, b"\xef\xbb\xbf\n"), ONE, "AB", "spilt")
    assert len(decisions(files, ONE)) == 1


@pytest.mark.parametrize(("initials", "reason"), [("", "why"), ("AB", ""), (" ", "why")])
def test_nobody_decides_without_a_name_and_a_reason(initials: str, reason: str) -> None:
    for which in (hold, release):
        with pytest.raises(SiteError, match="a decision has a name and a reason"):
            which(DEMO, ONE, initials, reason)


def test_an_id_that_looks_like_a_formula_is_held_and_a_star_is_refused() -> None:
    odd = ONE._replace(id="=1+1")
    files = hold(DEMO, odd, "AB", "why")
    assert decisions(files, odd)[0].reading == "=1+1"
    assert b"\n'=1+1," in files.contents[OVERRULES_FILE]
    with pytest.raises(SiteError, match="cannot name this id"):
        hold(DEMO, ONE._replace(id="*"), "AB", "why")


def test_a_decision_about_others_too_is_not_withdrawn_for_one() -> None:
    every = b"reading,round,verdict,initials,reason\n*,before,hold,AB,storm\n"
    with pytest.raises(SiteError, match="every reading of round 'before'"):
        withdraw(DEMO.with_file(OVERRULES_FILE, every), ONE)
    single = b"reading,verdict,initials,reason\nB001,hold,AB,storm\n"
    files = withdraw(DEMO.with_file(OVERRULES_FILE, single), ONE)
    assert files.contents[OVERRULES_FILE] == b"reading,verdict,initials,reason\n"


def test_decisions_that_cannot_be_read_are_not_written_over() -> None:
    for data in (b"\x00\x01", b"reading,verdict\nB001,hold\n"):
        with pytest.raises(SiteError):
            release(DEMO.with_file(OVERRULES_FILE, data), ONE, "AB", "why")
