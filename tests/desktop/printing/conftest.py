"""A small house, printed in a window."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.desktop.print_page import PrintDialog
from hgmap.desktop.window import Window
from hgmap.editing.begin import Beginning, DrawnPlan, begin_site
from hgmap.editing.begin_readings import FirstReadings
from hgmap.site.model import LevelRequest
from tests.desktop.printing.hands import calm

PLAN = b"""{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Hall"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]}}]}"""
ROWS = b"".join(
    b"A%d,Hall,%d,%d,1.2,0.%d,ug/m3\n" % (k, 1 + k % 5, 1 + k % 3, k) for k in range(1, 7)
)
READINGS = b"id,room,x,y,height,value,unit\n" + ROWS

Opener = Callable[..., Window]


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Begin a site of one room, with cells so coarse that it is mapped in no time."""
    place = tmp_path_factory.mktemp("begun")
    (place / "plan.geojson").write_bytes(PLAN)
    begun = begin_site(Beginning(
        place / "house", "A house", "dwelling", "ground", DrawnPlan(place / "plan.geojson"),
        FirstReadings("day.csv", READINGS), LevelRequest(name="atsdr-residential-occupancy"),
    ))  # fmt: skip
    with (begun.folder / "site.toml").open("a", encoding="utf-8") as file:
        file.write("\n[map]\ncell_m = 0.4\n")
    return begun.folder


@pytest.fixture
def window(open_window: Opener, qtbot: Any, tmp_path: Path, house: Path) -> Window:
    shutil.copytree(house, tmp_path / "house")
    shown = open_window()
    shown.open_site(tmp_path / "house")
    calm(shown, qtbot)
    assert shown.session.mapped is not None
    return shown


@pytest.fixture
def quick_pdf(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make no PDF where none is looked into: of all that a run writes it takes the longest."""
    for place in ("paper", "quality_page", "resample_sheet"):
        monkeypatch.setattr(f"hgmap.report.{place}.pdf_bytes", lambda sheets: b"%PDF")


@pytest.fixture
def dialog(window: Window, qtbot: Any) -> PrintDialog:
    window.print_page()
    shown = window._dialogs[0]
    assert isinstance(shown, PrintDialog)
    calm(window, qtbot)
    return shown
