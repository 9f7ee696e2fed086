"""Floors that share one plan file: a change of one is said of the other, and reaches it whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.editing.bring_in import WantedPlan, bring_in
from hgmap.editing.open_plan import open_plan
from hgmap.editing.site_files import read_site_files
from hgmap.site.folder import read_site

Run = Callable[..., Any]
TOP = '[[floors]]\nname = "top"\nplan = "./plans/0.geojson"\n'
ALSO = "also changes floor 'top', which has the same plan file"
SPLIT = ("--room", "Room A", "--from", "2,0", "--to", "2,5")


@pytest.fixture
def site(make_site: Callable[..., Path]) -> Path:
    only = "id,floor,room,height,time,value,unit\nr1,ground,Room B,1.5,2026-03-02,1,ug/m3\n"
    return make_site(readings={"first.csv": only}, extra=TOP)


def test_an_edit_names_the_other_floor_and_the_exit_status_is_1(site: Path, run: Run) -> None:
    before = (site / "plans/0.geojson").read_bytes()
    for more in (("--dry-run",), ()):
        assert (site / "plans/0.geojson").read_bytes() == before
        got = run("edit", "split", site, "--floor", "ground", *SPLIT, *more)
        assert got.code == 1
        assert f"! {ALSO}" in got.out
    assert [len(one.rooms) for one in read_site(site).floors] == [3, 3]


def test_a_plan_of_its_own_is_changed_without_a_word(
    make_site: Callable[..., Path], run: Run
) -> None:
    got = run("edit", "split", make_site(), "--floor", "ground", *SPLIT)
    assert "also changes" not in got.out


def test_saving_from_python_says_it_and_a_plan_without_an_edit_does_not(site: Path) -> None:
    plan = open_plan(site, "ground")
    assert plan.also_changed == ()
    (said,) = plan.rename("Room A", "Lab").save().said
    assert said.startswith(ALSO)


def test_a_round_s_word_on_the_other_floor_goes_with_its_opening(site: Path) -> None:
    toml = site / "site.toml"
    opening = open_plan(site, "ground").draft.openings[0].id
    said = f'date = 2026-03-01\nopenings = {{ top = {{ "{opening}" = "closed" }} }}\n'
    toml.write_text(toml.read_text("utf-8").replace("date = 2026-03-01\n", said), "utf-8")
    read_site(site)
    open_plan(site, "ground").remove_opening(opening).save()
    assert opening not in toml.read_text("utf-8")
    read_site(site)


def test_a_plan_that_is_replaced_says_it_and_in_the_window_too(site: Path, run: Run) -> None:
    drawing = site / "plans/0.geojson"
    got = run("import", "plan", drawing, "--into", site, "--floor", "ground", "--replace")
    assert got.code == 1
    assert f"look: {ALSO}" in got.out
    found = bring_in(read_site_files(site), WantedPlan(drawing, "ground", replace=True))
    (floor,) = found.floors
    assert floor.name == "ground"
    assert any(one.text.startswith(ALSO) for one in floor.report.doubts)
