from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.log_edits import add_check, delete_checks, log_sheet, set_log_cells
from hgmap.editing.site_files import SiteFiles
from hgmap.errors import SiteError
from hgmap.site.instruments.log import read_log
from hgmap.site.records import LOG_FILE

EMPTY = SiteFiles(Path("nowhere"), {})
CHECK = {"instrument": "analyser 1", "check": "zero-air", "start": "2026-03-16T07:00"}
OLD = b"Instrument;Time;Check;Values\nA1;2026-03-16T07:00;zero-air;0,1 0,25\n"


def test_the_first_check_begins_a_log_that_can_be_read() -> None:
    files = add_check(EMPTY, {**CHECK, "values": "0.0 0.01", "result": "pass"})
    log = read_log(files.data(LOG_FILE), where=LOG_FILE)
    assert [(one.instrument, one.kind, one.values, one.passed) for one in log.checks] == [
        ("analyser 1", "zero-air", (0.0, 0.01), True)
    ]
    assert not log.problems


def test_a_check_is_added_in_the_log_s_own_way_of_writing_and_old_rows_stay() -> None:
    files = SiteFiles(Path("nowhere"), {LOG_FILE: OLD})
    after = add_check(files, {**CHECK, "instrument": "A1", "values": "0.5 0.75"})
    data = after.data(LOG_FILE)
    assert data.startswith(OLD)
    log = read_log(data, where=LOG_FILE)
    assert [one.values for one in log.checks] == [(0.1, 0.25), (0.5, 0.75)]


@pytest.mark.parametrize("name", ["instrument", "check", "start"])
def test_a_check_without_what_every_check_has_is_refused(name: str) -> None:
    with pytest.raises(SiteError, match=name):
        add_check(EMPTY, {**CHECK, name: " "})


def test_a_cell_is_changed_and_a_column_that_was_not_there_is_added() -> None:
    files = SiteFiles(Path("nowhere"), {LOG_FILE: OLD})
    after = set_log_cells(files, {(2, "result"): "fail", (2, "start"): "2026-03-16T08:00"})
    (check,) = read_log(after.data(LOG_FILE), where=LOG_FILE).checks
    assert (check.passed, check.start.hour) == (False, 8)


def test_with_the_last_check_the_log_goes_for_an_empty_one_would_hold_everything() -> None:
    one = add_check(EMPTY, CHECK)
    two = add_check(one, {**CHECK, "start": "2026-03-16T08:00"})
    assert delete_checks(two, [3]).contents == one.contents
    assert LOG_FILE not in delete_checks(two, [2, 3]).contents
    with pytest.raises(SiteError):
        delete_checks(EMPTY, [2])


@given(
    st.text(
        alphabet=st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cf", "Zl", "Zp"]),
        max_size=30,
    )
)
def test_a_note_never_runs_as_a_formula_and_reads_as_it_was_written(note: str) -> None:
    files = add_check(EMPTY, {**CHECK, "note": note})
    sheet = log_sheet(files)
    assert sheet is not None
    assert not any(cell.startswith(("=", "+", "-", "@")) for _, row in sheet.rows for cell in row)
