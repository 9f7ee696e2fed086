"""What a report says of the round before, in each format, and where there is nothing to say."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from pypdf import PdfReader

from hgmap.report.document.content import Table
from hgmap.report.document.survey import Survey
from hgmap.report.document.write_up import write_up
from hgmap.report.drawing import texts
from hgmap.survey_report import report_site
from tests.report.document.conftest import Written, options, read_back


@pytest.fixture(scope="module")
def two_visits(
    tmp_path_factory: pytest.TempPathFactory, site_maker: Callable[..., Path],
    make_rows: Callable[..., list[str]], make_table: Callable[..., str],
) -> Path:  # fmt: skip
    """Return a site read twice; the second time everything is a hundredth."""
    root = tmp_path_factory.mktemp("change") / "site"
    rows = make_rows()
    fell = []
    for row in rows:
        cells = row.split(",")
        place = cells.index("ug/m3") - 1
        cells[place] = f"{float(cells[place]) / 100:g}"
        fell.append(",".join(cells).replace("first", "second"))
    site_maker(root, readings={"first.csv": make_table(rows), "second.csv": make_table(fell)})
    return root


@pytest.fixture(scope="module")
def compared(two_visits: Path, tmp_path_factory: pytest.TempPathFactory) -> Written:
    asked = options(out=tmp_path_factory.mktemp("compared"), since="first")
    asked = replace(asked, map=replace(asked.map, round="second"))
    return read_back(report_site(two_visits, asked))


@pytest.mark.parametrize("ending", ["pdf", "docx", "html"])
@pytest.mark.parametrize("what", [
    "What has changed since", "Change since", "Change of the rooms: ground", "rooms fell",
    "A fall is not a clearance", "ratios are after over before", "places measured in both rounds",
])  # fmt: skip
def test_the_change_stands_in(compared: Written, what: str, ending: str) -> None:
    assert what.replace(" ", "") in compared.text[ending].replace(" ", "")


def test_its_map_is_a_page_and_a_picture_of_the_screen(compared: Written) -> None:
    change = compared.run.survey.change
    assert change is not None
    assert change.floors[0][0].rooms[0].word == "fell"
    titles = [str(one["/Title"]) for one in PdfReader(compared.folder / "report.pdf").outline]
    assert any("change from" in one for one in titles)
    plans = [dict(more)["aria-label"] for tag, more in compared.page.tags
             if tag == "div" and "aria-label" in more]  # fmt: skip
    assert any("change from" in str(one) for one in plans)


def test_what_stands_against_the_comparison_is_among_the_cautions(compared: Written) -> None:
    change = compared.run.survey.change
    assert change is not None
    assert change.warnings
    text = "".join(compared.text["html"].split())
    for one in change.warnings:
        assert text.count("".join(one.split())[1:]) >= 3, one
    assert compared.run.exit_code == 1


def test_a_comparison_that_cannot_be_made_says_why_and_costs_no_report(written: Written) -> None:
    survey = written.run.survey
    assert survey.change is None
    assert "Change since" not in written.text["html"]
    text = _with_change(survey)
    assert text.count("Cannot tell: no height band has usable readings") == 2


def _with_change(survey: Survey) -> str:
    from hgmap.report.document.survey import SurveyChange

    why = "no height band has usable readings of both rounds"
    return str(write_up(replace(survey, change=SurveyChange(survey.round, why_none=why))).parts)


@pytest.mark.parametrize(
    ("since", "told"), [("never", "no round 'never'"), ("first", "is the round of the report")]
)
def test_another_round_is_asked_for_before_anything_is_mapped(
    two_visits: Path, run: Callable, since: str, told: str
) -> None:
    found = run("report", two_visits, "--round", "first", "--since", since)
    assert found.code == 2
    assert told in found.err
    assert not (two_visits / "results").exists()


def test_its_sheets_are_listed_with_those_of_the_maps(compared: Written) -> None:
    survey = compared.run.survey
    assert survey.change is not None
    (listed,) = (one for one in write_up(survey).parts
                 if isinstance(one, Table) and one.caption == "The sheets on paper")  # fmt: skip
    added = listed.rows[-len(survey.change.floors) :]
    for (name, which, *_), (_, sheet) in zip(added, survey.change.floors, strict=True):
        assert "change from" in name
        assert name in sheet.title
        assert f"sheet {which}" in texts(sheet)
