"""What the README shows can be used as it stands."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import hgmap
from hgmap.site.check import SiteCheck, check_site
from hgmap.site.quality.sampling_plan import read_sampling_plan

README = Path(hgmap.__file__).parents[1] / "README.md"


def blocks(language: str) -> list[str]:
    if not README.is_file():
        pytest.skip("no README beside an installed package")
    found = re.findall(r"```(\w+)\n(.*?)```", README.read_text("utf-8"), re.DOTALL)
    return [text for name, text in found if name == language]


@pytest.fixture
def checked(make_site: Callable[..., Path], make_table: Any, make_rows: Any) -> SiteCheck:
    """Return a site with the log, the sampling plan and the clearance round of the README."""
    log, plan = blocks("csv")
    table = make_table(make_rows())
    conditions = blocks("toml")[0]
    folder = make_site(readings={"before.csv": table}, top='sampling_plan = "plan.csv"',
                       extra="\n" + conditions)  # fmt: skip
    after = table.replace("2026-03-02", "2026-03-16")
    (folder / "readings/after.csv").write_text(after, "utf-8")
    (folder / "instruments").mkdir()
    (folder / "instruments/log.csv").write_text(log + log.split("\n", 1)[1].replace(
        "2026-03-02", "2026-03-16"), "utf-8")  # fmt: skip
    (folder / "plan.csv").write_text(plan, "utf-8")
    return check_site(folder, "atsdr-commercial-occupancy")


def test_the_log_of_a_day_vouches_for_every_reading_of_that_day(checked: SiteCheck) -> None:
    assert [one.message for one in checked.problems if one.severity != "note"] == []
    assert {one.verdict for one in checked.site.readings} == {"usable"}
    assert [len(one.measures.drifts) for one in checked.quality] == [1, 1]


def test_the_log_lacks_nothing_at_the_lowest_level_either(checked: SiteCheck) -> None:
    low = check_site(checked.site.folder, "0.5 ug/m3")
    assert {one.verdict for one in low.site.readings} == {"usable"}


def test_the_conditions_lack_nothing_of_the_guidance(checked: SiteCheck) -> None:
    (_, after) = (one.measures.conditions[0] for one in checked.quality)
    assert after.asked
    assert after.met


def test_the_sampling_plan_is_read_whole() -> None:
    plan = blocks("csv")[1]
    planned, problems = read_sampling_plan(plan.encode(), where="plan.csv")
    assert (len(planned), problems) == (3, [])
