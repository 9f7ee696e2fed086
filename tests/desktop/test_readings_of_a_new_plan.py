"""What becomes of the readings is said before a drawing takes the place of their plan."""

from __future__ import annotations

from typing import Any

import pytest

from hgmap.desktop.bring_in.dialog import NEW, REPLACE, BringInDialog
from hgmap.editing.round_settings import add_round
from hgmap.editing.site_files import SiteFiles
from tests.desktop.test_bring_in import GROUND, Bench, Opener, feature, plan_of

HEAD = "id,floor,room,x,y,height_m,value,unit\n"
ROWS = [f"{n},ground,Hall,{n},1,1.0,0.{n},ug/m3\n" for n in range(1, 6)]


@pytest.fixture
def bench(open_window: Opener, qtbot: Any, tmp_path: Any) -> Bench:
    made = Bench(open_window(), qtbot, tmp_path, GROUND)
    assert made.window.session.edit("readings", with_readings)
    made.settle()
    return made


def with_readings(files: SiteFiles) -> SiteFiles:
    """Return the site with a round of five readings in its hall of 6 m."""
    files = add_round(files, "first")
    text = files.text("site.toml") + 'readings = ["one.csv"]\n'
    files = files.with_file("site.toml", text.encode())
    return files.with_file("one.csv", (HEAD + "".join(ROWS)).encode())


def replacing(bench: Bench, text: str) -> BringInDialog:
    page = bench.bring(text)
    page.goes.setCurrentIndex(page.goes.findData(REPLACE))
    bench.settle()
    return page


def of_readings(page: BringInDialog) -> list[str]:
    return [row.text for row in page.table.rows if "one.csv" in row.text]


def held(bench: Bench) -> int:
    site = bench.window.session.site
    assert site is not None
    return sum(bool(one.held) for one in site.readings)


def test_readings_whose_room_goes_are_counted_before_and_held_after(bench: Bench) -> None:
    page = replacing(bench, plan_of(feature("room", (0, 0, 6, 4), name="Shed")))
    assert "5 readings will be held because of the new plan" in page.warned.text()
    (row,) = of_readings(page)
    assert "5 readings of room 'Hall' will be held" in row
    assert "rows 2 to 6" in row
    assert held(bench) == 0
    page.yes.click()
    bench.settle()
    assert held(bench) == 5


def test_readings_that_lie_outside_the_new_room_are_told_one_by_one(bench: Bench) -> None:
    page = replacing(bench, plan_of(feature("room", (0, 0, 4.5, 4), name="Hall")))
    assert "1 reading will be held because of the new plan" in page.warned.text()
    assert [row for row in of_readings(page) if "row 6" in row]
    page.yes.click()
    bench.settle()
    assert held(bench) == 1


def test_readings_that_will_be_held_stand_before_what_else_was_noted(bench: Bench) -> None:
    page = replacing(bench, plan_of(feature("room", (0, 0, 6, 4), name="Shed")))
    texts = [row.text for row in page.table.rows if row.ticked is None]
    assert len(texts) > 1
    assert "will be held" in texts[0]
    assert any("was on the plan before" in one for one in texts[1:])


def test_nothing_is_said_of_readings_that_stay_where_they_are(bench: Bench) -> None:
    page = replacing(bench, GROUND)
    assert not page.warned.text()
    assert of_readings(page) == []
    page = replacing(bench, plan_of(feature("room", (0, 0, 6, 4), name="Shed")))
    assert "will be held" in page.warned.text()
    page.goes.setCurrentIndex(page.goes.findData(NEW))  # the old plan stays as it is
    bench.settle()
    assert "will be held" not in page.warned.text()
    assert of_readings(page) == []
