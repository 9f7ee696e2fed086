"""The sheet of several levels: it names each level, its area at each, and is written twice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from hgmap.batch import LEVEL_SHEETS, MapOptions, map_site
from hgmap.report.drawing import Area, texts
from hgmap.report.levels_look import LEVEL_LOOKS, nested_areas
from hgmap.report.levels_sheet import levels_sheet
from hgmap.report.words import square_metres


def test_each_level_is_named_drawn_and_counted(make_site: Callable[..., Path]) -> None:
    options = MapOptions(
        cell_m=0.5, level="back in=3 ug/m3", further_levels=("isolate=8 ug/m3", "leave=20 ug/m3")
    )
    run = map_site(make_site(), options)
    (one,) = run.floors
    sheet = levels_sheet(run.site, run.round, one.evidence, one.surface, one.nested)
    printed = texts(sheet)
    for zones in one.nested:
        assert zones.purpose in printed
        assert f"{zones.level.value:g} µg/m³" in printed
        assert square_metres(zones.area_m2("remediate")) in printed
        assert square_metres(zones.area_m2("clear")) in printed
    hatches = {item.hatch for item in sheet.page if isinstance(item, Area) and item.hatch}
    assert {look.hatch for look in LEVEL_LOOKS[:3]} <= hatches
    for name in LEVEL_SHEETS:
        assert (run.out / "ground" / name).stat().st_size > 1000


def test_no_two_levels_look_alike_without_their_colour() -> None:
    hatches = [(look.hatch.name, look.hatch.spacing_pt) for look in LEVEL_LOOKS if look.hatch]
    lines = [look.pen.dashes for look in LEVEL_LOOKS]
    assert len(set(hatches)) == len(LEVEL_LOOKS)
    assert len(set(lines)) == len(LEVEL_LOOKS)


@pytest.mark.usefixtures("no_sheets")
def test_a_purpose_that_looks_like_a_formula_is_guarded_in_the_table(
    make_site: Callable[..., Path],
) -> None:
    text = '[[nested_levels]]\nname = "+cmd"\nlevel = "10 ug/m3"\n'
    run = map_site(make_site(extra=text), MapOptions(cell_m=0.5))
    table = (run.out / "nested-zones.csv").read_text("utf-8-sig")
    assert "\n'+cmd," in table.replace("\r", "")


@pytest.mark.usefixtures("no_sheets")
def test_a_room_that_is_nowhere_clear_nor_to_remediate_has_the_line_of_each_level(
    make_site: Callable[..., Path],
) -> None:
    options = MapOptions(cell_m=0.5, level="3 ug/m3", further_levels=("8 ug/m3",), whole_rooms=True)
    run = map_site(make_site(), options)
    (one,) = run.floors
    doubtful = [
        replace(zones, zones=tuple(replace(zone, name="resample") for zone in zones.zones))
        for zones in one.nested
    ]
    colours = {item.pen.colour for item in nested_areas(doubtful, 5.0)
               if isinstance(item, Area) and item.pen}  # fmt: skip
    assert {look.pen.colour for look in LEVEL_LOOKS[:2]} <= colours
    sheet = levels_sheet(run.site, run.round, one.evidence, one.surface, one.nested)
    assert any(text.startswith("bare:") for text in texts(sheet))
