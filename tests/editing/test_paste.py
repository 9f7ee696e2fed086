from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.editing.paste import pasted
from hgmap.editing.save import save
from hgmap.editing.site_files import SiteFiles, changed, read_site_files, site_of
from hgmap.errors import SiteError
from hgmap.site.folder import read_site
from hgmap.site.intake.answers import Answers

MakeSite = Callable[..., Path]
TABS = (
    "Point\tX (m)\tY (m)\tHeight (m)\tHg (µg/m³)\tNotes\n"
    "P1\t1.5\t1.0\t1.5\t0.41\tby the door\n"
    "P2\t7.5\t1.0\t1.5\t<0.05\t=1+1\n"
)


@pytest.fixture
def files(make_site: MakeSite) -> SiteFiles:
    return read_site_files(make_site())


def test_pasted_rows_become_readings_of_the_round(files: SiteFiles) -> None:
    result = pasted(TABS, files, "first", "ground")
    assert result.question is None
    assert result.imported is not None
    assert (result.imported.rows, result.imported.left_out) == (2, ())
    assert changed(files, result.files) == ("readings/pasted-1.csv", "site.toml")
    new = {one.id: one for one in site_of(result.files).readings if "pasted" in one.where}
    assert [(one.value, one.qualifier, one.round, one.floor, one.held) for one in new.values()] == [
        (0.41, "", "first", "ground", ()),
        (0.05, "<", "first", "ground", ()),
    ]
    assert new["P2"].note == "=1+1"
    assert site_of(result.files).readings[:15] == site_of(files).readings
    save(result.files, files)
    assert read_site(files.folder).readings == site_of(result.files).readings


def test_a_second_paste_gets_a_file_of_its_own_and_the_same_rows_are_noticed(
    files: SiteFiles,
) -> None:
    once = pasted(TABS, files, "first", "ground").files
    other = pasted(TABS.replace("P", "Q"), once, "second", "ground")
    assert changed(once, other.files) == ("readings/pasted-2.csv", "site.toml")
    nameless = "\n".join(line.partition("\t")[2] for line in TABS.splitlines())
    first = pasted(nameless, files, "first", "ground").files
    again = pasted(nameless, first, "first", "ground")
    assert again.question is not None
    assert "already" in again.question.text
    assert again.files is first


def test_what_has_to_be_asked_is_asked_with_its_choices(files: SiteFiles) -> None:
    dates = TABS.replace("Notes", "Date").replace("by the door", "02/03/2026")
    dates = dates.replace("=1+1", "03/03/2026")
    result = pasted(dates, files, "first", "ground")
    assert result.files is files
    assert result.question is not None
    assert (result.question.about, result.question.choices) == (
        "dates", ("day-first", "month-first")
    )  # fmt: skip
    said = pasted(dates, files, "first", "ground", Answers(dates="day-first"))
    assert said.question is None
    unit = pasted(TABS.replace(" (µg/m³)", ""), files, "first", "ground")
    assert unit.question is not None
    assert unit.question.about == "unit"
    said = pasted(TABS.replace(" (µg/m³)", ""), files, "first", "ground", Answers(unit="ug/m3"))
    assert said.imported is not None


@pytest.mark.parametrize("text", ["", " \n", "hello", "\x00\x01", "a\tb\nc\td\n", "\ud800", "Hg\n"])
def test_garbage_is_one_sentence_and_changes_nothing(files: SiteFiles, text: str) -> None:
    result = pasted(text, files, "first", "ground")
    assert result.files is files
    assert result.question is not None
    assert "\n" not in result.question.text
    assert "hgmap-" not in result.question.text
    assert "pasted" in result.question.text or "--" in result.question.text


CELL = st.text(st.sampled_from('0123456789.,<nd ab-="'), max_size=5)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
@given(rows=st.lists(st.lists(CELL, min_size=6, max_size=6), min_size=1, max_size=5))
def test_no_pasted_row_is_lost(files: SiteFiles, rows: list[list[str]]) -> None:
    rows = [["".join(one.split('"')) for one in cells] for cells in rows]
    text = TABS + "".join("\t".join(cells) + "\n" for cells in rows)
    result = pasted(text, files, "first", "ground")
    if result.imported is None:
        assert result.question is not None
        assert result.files is files
        return
    done = result.imported
    left_out = sum(one.last - one.first + 1 for one in done.left_out)
    assert done.rows + left_out + len(done.unfilled) == 2 + len(rows)
    new = [one for one in site_of(result.files).readings if "pasted" in one.where]
    assert len(new) == done.rows


def test_a_site_that_cannot_be_read_takes_no_rows(files: SiteFiles) -> None:
    with pytest.raises(SiteError, match="TOML syntax"):
        pasted(TABS, files.with_file("site.toml", b"name ="), "first")
