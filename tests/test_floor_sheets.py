"""The sheets of a run: which are written, which are put away, and what is refused before it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.batch import SHEETS, MapOptions, MapRun, map_floor_of, map_site
from hgmap.errors import HgmapError
from hgmap.floor_sheets import floor_sheets
from hgmap.map_case import map_case
from hgmap.report.drawing import texts
from hgmap.report.sheet_setup import sheet_setup
from hgmap.site.folder import read_site

MakeSite = Callable[..., Path]


def mapped(site: Path, **options: Any) -> MapRun:
    return map_site(site, MapOptions(cell_m=0.5, **options))


def sheet_files(run: MapRun) -> set[str]:
    return {path.name for path in (run.out / "ground").iterdir()}


def test_every_sheet_is_written_when_asked_and_old_ones_do_not_lie_beside_a_newer_map(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    def quick(path: Path, *_: Any, **__: Any) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"")

    monkeypatch.setattr("hgmap.floor_sheets.paper.write", quick)
    monkeypatch.setattr("hgmap.batch.write_resample_sheet", lambda *_: ([], []))
    site = make_site()
    room = read_site(site).floors[0].rooms[0]
    run = mapped(site, sheets=True, rooms=(room.name or room.id,))
    named = f"sheet-room-{room.id}.png"
    assert sheet_files(run) >= {
        "map.pdf", "map.png", "sheets.pdf", "sheet-estimate.png", "sheet-uncertainty.png",
        "sheet-readings.png", named,
    }  # fmt: skip
    floor = json.loads((run.out / "summary.json").read_text("utf-8"))["floors"][0]
    assert f"ground/{named}" in floor["files"]
    assert len(floor["settings_digest"]) == 10
    left = sheet_files(mapped(site))
    assert left >= set(SHEETS)
    assert not {one for one in left if one.startswith("sheet")}


def test_a_scale_that_does_not_fit_is_refused_before_anything_is_estimated(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("estimated")

    monkeypatch.setattr("hgmap.batch.map_floor", never)
    site = make_site()
    with pytest.raises(HgmapError, match=r"--scale: .* does not fit A4 at 1 : 2: .* use --scale "):
        mapped(site, setup=sheet_setup("a4", 2.0))
    assert not (site / "results").exists()


def test_a_room_that_is_nowhere_is_refused(make_site: MakeSite) -> None:
    with pytest.raises(HgmapError, match="--room: no room 'cellar'; known: "):
        mapped(make_site(), rooms=("cellar",))


def test_the_zones_of_readings_with_cautions_say_so_on_their_own_sheet(make_site: MakeSite) -> None:
    options = MapOptions(cell_m=1.0, method="idw", walls=False)
    case = map_case(read_site(make_site()), options)
    assert case.quality.fitness.verdict == "fit with cautions"  # no instrument log
    one = map_floor_of(case, case.site.floors[0], options, lambda done, whole: None)
    together = " ".join(texts(floor_sheets(case, one, options)["map"]))
    assert "readings fit with cautions: no instrument log" in " ".join(together.split())
