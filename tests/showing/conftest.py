"""One small survey, mapped, compared and cleared once, with names that try to run as HTML."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from hgmap.batch import MapOptions, MapRun, map_read_site
from hgmap.clearance import ClearanceOptions, ClearanceRun, rule_on_rooms
from hgmap.compare import Comparison, compare_read_site
from hgmap.design import DesignRun, design_site
from hgmap.design_options import DesignOptions
from hgmap.site.check import SiteCheck, check_site
from hgmap.site.folder import read_site
from hgmap.site.model import Site

HOSTILE = "<script>alert(1)</script> & \"q\" 'p' $x$ \u202egnp"


class Held(NamedTuple):
    """Everything that a person holds after each public call."""

    site: Site
    check: SiteCheck
    run: MapRun
    change: Comparison
    cleared: ClearanceRun
    design: DesignRun


@pytest.fixture(scope="session")
def held(
    site_maker: Callable[..., Path],
    make_room: Callable[..., dict[str, Any]],
    make_feature: Callable[..., dict[str, Any]],
    make_plan: Callable[..., dict[str, Any]],
    make_rows: Callable[..., list[str]],
    make_table: Callable[..., str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Held:
    a, b = make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5)
    a["properties"]["name"] = HOSTILE
    door = make_feature("opening", "LineString", [[6, 2], [6, 3]], id="<b>d</b>")
    rows = make_rows(12)
    again = [row.replace("2026-03-02", "2026-03-03") for row in rows]
    spoilt = "X1,ground,<i>nowhere</i>,1,1,1.5,2026-03-02T09:30,1,ug/m3,,<u>note</u>"
    site = site_maker(
        tmp_path_factory.mktemp("showing") / "site",
        plans={"ground": make_plan(a, b, door), "upper": make_plan(a, b, door)},
        readings={"first.csv": make_table([*rows, spoilt]), "second.csv": make_table(again)},
    )
    read = read_site(site)
    options = MapOptions(round="first", cell_m=0.5)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hgmap.batch._write_sheets", lambda *_: [])
        patch.setattr("hgmap.batch.write_resample_sheet", lambda *_: ([], []))
        run = map_read_site(read, options)
    change = compare_read_site(read, "first", "second", MapOptions(cell_m=0.5, floors=("ground",)))
    cleared = rule_on_rooms(read, ClearanceOptions(round="first", rule="every-reading-below"))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hgmap.design._write", lambda *_: None)
        design = design_site(site, DesignOptions(spacing_m=3.0))
    return Held(read, check_site(site), run, change, cleared, design)
