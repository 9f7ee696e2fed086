"""What tests of the window do again and again: wait, rename the site, look at the disk."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pytestqt.qtbot import QtBot

from hgmap.desktop.session import Session
from hgmap.desktop.window import Window
from hgmap.editing.settings import set_site_name
from tests.desktop.patience import SLOW_MS

SITE = """schema_version = 1
name = "A house"
use = "dwelling"

[[floors]]
name = "ground"
plan = "plans/ground.geojson"
"""
PLAN = """{"type": "FeatureCollection", "features": [
{"type": "Feature", "properties": {"kind": "room", "id": "R1", "name": "Hall"}, "geometry":
 {"type": "Polygon", "coordinates": [[[0, 0], [6, 0], [6, 4], [0, 4], [0, 0]]]}}]}"""


def house_in(place: Path) -> Path:
    """Write a site of one room and no reading below a folder, and return its folder."""
    (place / "house" / "plans").mkdir(parents=True)
    (place / "house" / "plans" / "ground.geojson").write_text(PLAN)
    (place / "house" / "site.toml").write_text(SITE)
    return place / "house"


def calm(window: Window, qtbot: Any) -> None:
    """Wait until nothing is worked out any more."""
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)


def settle(qtbot: QtBot, window: Window) -> None:
    """Wait until there is a map of now, or the reason why there is none."""
    session: Session = window.session
    qtbot.waitUntil(
        lambda: (
            not session.behind
            and not window.jobs.busy
            and (session.mapped is not None or bool(session.why_no_map))
        ),
        timeout=SLOW_MS,
    )


def rename(window: Window, name: str) -> None:
    """Make an edit that can be seen in site.toml."""
    assert window.session.edit("name", lambda files: set_site_name(files, name))


def below(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder."""
    return {str(one): one.read_bytes() for one in sorted(folder.rglob("*")) if one.is_file()}
