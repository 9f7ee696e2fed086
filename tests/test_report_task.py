"""``hgmap report`` over several sites: side by side, resumed, one bad site stops no other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hgmap.report_task import report_sites
from hgmap.survey_report import ReportOptions, report_site
from tests.many_sites import QUICK, several_floors

ASKED = ReportOptions(QUICK, formats=("html",))
Build = Callable[..., Path]


@pytest.fixture
def build(make_site: Any, make_plan: Any, make_rows: Any, make_table: Any) -> Build:
    def made(folder: str = "site") -> Path:
        return several_floors(make_site, make_plan, make_rows, make_table, folder)

    return made


@pytest.fixture
def mapped(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of the floors that are really mapped, as they are."""
    import hgmap.report_task as report_task

    names: list[str] = []
    real = report_task.sheeted_floor

    def noted(case: Any, floor: Any, *rest: Any) -> Any:
        names.append(floor.name)
        return real(case, floor, *rest)

    monkeypatch.setattr(report_task, "sheeted_floor", noted)
    return names


def test_reports_side_by_side_are_those_that_each_site_has_alone(
    build: Build, tmp_path: Path
) -> None:
    site, formats = build(), ("docx", "html", "pdf")
    alone = report_site(site, replace(ASKED, formats=formats, out=tmp_path / "alone"))
    (found,) = report_sites([site], replace(ASKED, formats=formats, out=tmp_path / "two"), jobs=2)
    assert found.run is not None
    assert found.run.exit_code == alone.exit_code
    for one in alone.files:
        assert (tmp_path / "two" / one.name).read_bytes() == one.read_bytes(), one.name
    assert not list((tmp_path / "two").glob(".unfinished*"))


def test_a_report_is_up_to_date_until_its_site_its_words_or_its_style_change(
    build: Build, mapped: list[str], tmp_path: Path
) -> None:
    site, style = build(), tmp_path / "house.toml"
    style.write_text('name = "One house"\n', "utf-8")
    asked = replace(ASKED, style=style)

    def again(options: ReportOptions = asked) -> list[str]:
        mapped.clear()
        report_sites([site], options, resume=True)
        return mapped.copy()

    assert again() == ["f0", "f1"]
    assert again() == []
    style.write_text('name = "Another house"\n', "utf-8")
    assert again() == ["f0", "f1"]
    assert again(replace(asked, rule="every-reading-below")) == ["f0", "f1"]
    assert again(replace(asked, rule="every-reading-below")) == []
    with (site / "site.toml").open("a") as file:
        file.write("[map]\nguard_m = 2.0\n")
    assert again(replace(asked, rule="every-reading-below")) == ["f0", "f1"]


def test_maps_and_a_report_in_one_folder_are_each_up_to_date_of_their_own(
    build: Build, mapped: list[str], no_sheets: None
) -> None:
    from hgmap.many.sites import map_sites

    site = build()
    report_sites([site], ASKED)
    (made,) = map_sites([site], QUICK, resume=True)
    assert made.run is not None, "a report says nothing of the maps"
    mapped.clear()
    (again,) = report_sites([site], ASKED, resume=True)
    assert again.current is not None
    assert mapped == []


def test_a_site_that_cannot_be_reported_stops_no_other_and_the_exit_status_says_so(
    build: Build, run: Callable[..., Any], tmp_path: Path
) -> None:
    good, bad = build("good"), tmp_path / "bad"
    bad.mkdir()
    found = run("report", bad, good, "--cell", 1, "--to", "html")
    assert found.code == 1
    assert f"not made: {bad}" in found.out.replace("\n", "")
    assert (good / "results/first/report.html").exists()
    assert not (bad / "results").exists()
