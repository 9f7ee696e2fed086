"""A check says everything that is wrong, worst first, and computes nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hgmap.errors import SiteError
from hgmap.site.check import check_site, judge_site
from hgmap.site.folder import read_site
from hgmap.site.model import Problem

MakeSite = Callable[..., Path]


REPEATED = "R16,ground,A,1.10,0.90,1.5,2026-03-02T09:20,8.5,ug/m3,,"

# A day on which every rule of hgmap/site/instrument_rules.toml is kept; invented.
WHO = "one,gold film,INVENTED-1,2025-09-01"
GOOD_DAY = "\n".join(
    [
        "instrument,principle,serial,certificate,check,start,end,values,spacing_s,reference,result",
        f"{WHO},regeneration,2026-03-02T06:30,2026-03-02T07:15,,,,done",
        f"{WHO},warm-up,2026-03-02T07:15,2026-03-02T07:20,,,,done",
        f"{WHO},zero-air,2026-03-02T07:20,2026-03-02T07:22,0 0 0 0 0,15,,pass",
        f"{WHO},span,2026-03-02T07:22,2026-03-02T07:27,2 2 2,,2,pass",
        f"{WHO},zero-air,2026-03-02T15:55,2026-03-02T15:57,0 0 0 0 0,15,,pass",
        f"{WHO},end-of-day,2026-03-02T16:00,2026-03-02T16:05,2 2 2,,2,pass",
        f"{WHO},regeneration,2026-03-02T16:05,2026-03-02T16:50,,,,done",
    ]
)


def test_clean_files_without_an_instrument_log_are_1(make_site: MakeSite) -> None:
    found = check_site(make_site())
    assert found.exit_code == 1
    assert [one for one in found.problems if one.severity != "note"] == []
    assert found.level is not None
    (report,) = found.quality
    assert report.fitness.verdict == "fit with cautions"
    assert any("no instrument log" in one for one in report.fitness.reasons)


def test_a_site_is_0_where_its_readings_are_fit_to_map_and_nothing_else_is_said(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    folder = make_site(readings={"first.csv": make_table([*make_rows(), REPEATED])})
    (folder / "instruments").mkdir()
    (folder / "instruments/log.csv").write_text(GOOD_DAY)
    site = read_site(folder)
    found = judge_site(site)
    assert [one.fitness.verdict for one in found.quality] == ["fit to map"]
    assert found.exit_code == 0
    lax = Problem("warning", "site.toml, [map]", "clear_at 0.1 is laxer")
    assert judge_site(replace(site, problems=(lax,))).exit_code == 1
    assert judge_site(replace(site, log=None)).exit_code == 1
    assert site.log is not None
    assert judge_site(replace(site, log=replace(site.log, checks=()))).exit_code == 1


def test_each_round_has_its_own_verdict(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    readings = {"first.csv": make_table(make_rows()), "second.csv": make_table(make_rows(2))}
    found = check_site(make_site(readings=readings))
    assert [(one.round, one.fitness.verdict) for one in found.quality] == [
        ("first", "fit with cautions"), ("second", "not fit"),
    ]  # fmt: skip


def test_errors_come_before_held_rows_and_notes(
    make_site: MakeSite, make_plan: Any, make_rows: Any, make_table: Any
) -> None:
    rows = [*make_rows(), "R99,ground,A,1,1,1.5,,NaN,ug/m3,,"]
    found = check_site(
        make_site(
            plans={"ground": make_plan(), "cellar": b"{", "attic": make_plan()},
            readings={"first.csv": make_table(rows), "second.csv": ""},
        )
    )
    severities = [one.severity for one in found.problems]
    assert severities == sorted(severities, key=["error", "held", "note"].index)
    assert severities.count("error") == 2
    assert severities.count("held") == 1
    assert any("attic" in one.where and "no usable reading" in one.message
               for one in found.problems)  # fmt: skip
    assert found.exit_code == 1


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"level": None}, "no action level"),
        ({"use": None}, "what the building is used for"),
        ({"plans": {}}, "no floor can be used"),
        ({"plans": {"ground": None}}, "no floor can be used"),
        ({"readings": {}}, "the site has no round"),
    ],
)
def test_a_site_that_cannot_be_mapped_is_2(
    make_site: MakeSite, changes: dict[str, Any], text: str
) -> None:
    found = check_site(make_site(**changes))
    assert found.exit_code == 2
    assert any(one.severity == "error" and text in one.message for one in found.problems)


def test_all_faults_of_one_site_are_said_at_once(make_site: MakeSite) -> None:
    found = check_site(make_site(plans={}, readings={}, level=None))
    assert sum(one.severity == "error" for one in found.problems) == 3


def test_a_laxer_rule_is_a_warning_of_a_check(make_site: MakeSite) -> None:
    found = check_site(make_site(extra="[map]\nclear_at = 0.1\n"))
    assert [one.message[:12] for one in found.problems if one.severity == "warning"] == [
        "clear_at 0.1"
    ]
    assert found.exit_code == 1


def test_a_lost_readings_file_names_each_round_that_it_is_lost_to(
    make_site: MakeSite, make_rows: Any, make_table: Any
) -> None:
    extra = '[[rounds]]\nname = "second"\nreadings = ["readings/first.csv"]\n'
    found = check_site(make_site(readings={"first.csv": None}, extra=extra))
    assert [(one.where, one.round) for one in found.problems if one.severity == "error"] == [
        ("readings/first.csv", "first"), ("readings/first.csv", "second"),
    ]  # fmt: skip


def test_a_bare_number_for_a_level_is_an_error(make_site: MakeSite) -> None:
    found = check_site(make_site(), level="1")
    assert found.exit_code == 2
    assert "has no unit" in found.problems[0].message


def test_no_site_is_an_error_of_its_own(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match="no such folder"):
        check_site(tmp_path / "nowhere")
