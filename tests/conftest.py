"""One profile for every test: the same examples each run; HYPOTHESIS_PROFILE=search looks further.

And small invented sites to spoil: ``make_site`` writes one, ``run`` runs the command line on it.
"""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import settings

from tests.clearance_cases import CONDITIONS, LOG, USUAL, MakeSite

settings.register_profile("repeatable", max_examples=40, deadline=None, derandomize=True)
settings.register_profile("search", max_examples=400, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))

HEADER = "id,floor,room,x,y,height,time,value,unit,qualifier,note"
LEVEL = 'name = "atsdr-commercial-occupancy"'  # 3 µg/m³, for a commercial building


class Outcome(NamedTuple):
    """What a run of the command line left."""

    code: int
    out: str
    err: str

    @property
    def text(self) -> str:
        """Both streams."""
        return self.out + self.err


def _feature(kind: str, shape: str, coordinates: Any, **properties: Any) -> dict[str, Any]:
    return {
        "type": "Feature",
        "properties": {"kind": kind, **properties},
        "geometry": {"type": shape, "coordinates": coordinates},
    }


def _room(name: str, west: float, south: float, east: float, north: float) -> dict[str, Any]:
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return _feature("room", "Polygon", [ring], id=name, name=f"Room {name}")


def _plan(*features: dict[str, Any]) -> dict[str, Any]:
    """Two rooms of 6 m by 5 m side by side, a door between them; or the features given."""
    door = _feature("opening", "LineString", [[6, 2], [6, 3]], id="d1")
    usual = (_room("A", 0, 0, 6, 5), _room("B", 6, 0, 12, 5), door)
    return {"type": "FeatureCollection", "features": list(features or usual)}


def _rows(n: int = 15, floor: str = "ground", prefix: str = "R") -> list[str]:
    """Rows of readings on a regular net, falling smoothly from the corner at (1, 1)."""
    rows = []
    for k in range(n):
        x, y = 1.1 + 2.45 * (k % 5), 0.9 + 1.6 * (k // 5 % 3)
        value = 9 * math.exp(-math.hypot(x - 1, y - 1) / 4)
        room = "A" if x < 6 else "B"
        rows.append(
            f"{prefix}{k + 1},{floor},{room},{x:.2f},{y:.2f},1.5,2026-03-02T09:{k:02d},"
            f"{value:.4g},ug/m3,,"
        )
    return rows


def _table(rows: Iterable[str]) -> str:
    return "\n".join([HEADER, *rows]) + "\n"


@pytest.fixture(scope="session")
def make_room() -> Callable[..., dict[str, Any]]:
    """Return a function from a name and west, south, east, north to a room feature."""
    return _room


@pytest.fixture(scope="session")
def make_feature() -> Callable[..., dict[str, Any]]:
    """Return a function from kind, geometry type, coordinates, properties to a feature."""
    return _feature


@pytest.fixture(scope="session")
def make_plan() -> Callable[..., dict[str, Any]]:
    """Return a function from features to a plan; two rooms and a door where none are given."""
    return _plan


@pytest.fixture(scope="session")
def make_rows() -> Callable[..., list[str]]:
    """Return a function that makes good rows of readings."""
    return _rows


@pytest.fixture(scope="session")
def make_table() -> Callable[[Iterable[str]], str]:
    """Return a function that puts the usual header over rows."""
    return _table


def _write_site(
    root: Path,
    *,
    plans: Mapping[str, dict[str, Any] | bytes | None] | None = None,
    readings: Mapping[str, str | bytes | None] | None = None,
    use: str | None = "commercial",
    level: str | None = LEVEL,
    top: str = "",
    extra: str = "",
    toml: str | None = None,
) -> Path:
    (root / "plans").mkdir(parents=True)
    (root / "readings").mkdir()
    plans = {"ground": _plan()} if plans is None else plans
    readings = {"first.csv": _table(_rows())} if readings is None else readings
    text = 'schema_version = 1\nname = "Test building (invented)"\ninvented = true\n'
    text += f'use = "{use}"\n' if use else ""
    text += f"{top}\n"
    text += f"[level]\n{level}\n" if level else ""
    for number, (floor, plan) in enumerate(plans.items()):
        file = f"plans/{number}.geojson"
        text += f'[[floors]]\nname = {json.dumps(floor)}\nplan = "{file}"\n'
        if plan is not None:
            data = plan if isinstance(plan, bytes) else json.dumps(plan).encode()
            (root / file).write_bytes(data)
    for day, (file, table) in enumerate(readings.items(), start=1):
        stem = file.removesuffix(".csv")
        text += f'[[rounds]]\nname = "{stem}"\ndate = 2026-03-{day:02d}\n'
        text += f'readings = ["readings/{file}"]\n'
        if table is not None:
            data = table if isinstance(table, bytes) else table.encode()
            (root / "readings" / file).write_bytes(data)
    (root / "site.toml").write_text(toml if toml is not None else text + extra, "utf-8")
    return root


@pytest.fixture(scope="session")
def site_maker() -> Callable[..., Path]:
    """Return a function that writes a site into a folder that is not there yet."""
    return _write_site


@pytest.fixture
def make_site(tmp_path: Path) -> Callable[..., Path]:
    """Return a function that writes a site folder.

    ``plans`` maps floor names to a plan, bytes, or None for a file that is not there; ``readings``
    maps file names to text, bytes or None, each file a round of its own.
    """

    def make(folder: str = "site", **what: Any) -> Path:
        return _write_site(tmp_path / folder, **what)

    return make


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> Callable[..., Outcome]:
    """Return a function that runs the command line in this process.

    Whatever the words, there is no traceback, and stderr holds at most one line from us.
    """
    from hgmap.cli.app import main

    def run_it(*words: object) -> Outcome:
        monkeypatch.setattr(sys, "argv", ["hgmap", *(str(word) for word in words)])
        capfd.readouterr()
        with pytest.raises(SystemExit) as stop:
            main()
        out, err = capfd.readouterr()
        code = stop.value.code
        assert isinstance(code, int)
        assert code in (0, 1, 2)
        assert "Traceback" not in out + err
        if err.startswith("hgmap:"):
            assert err.count("\n") == 1, err
        return Outcome(code, out, err)

    return run_it


@pytest.fixture
def no_sheets(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the drawing of sheets out, where a test is about something else and has to be quick."""
    monkeypatch.setattr("hgmap.batch._write_sheets", lambda *_: [])
    monkeypatch.setattr("hgmap.batch.write_resample_sheet", lambda *_: ([], []))


@pytest.fixture
def clearing(make_site: MakeSite, make_table: Any) -> Callable[..., Path]:
    """Return a function that writes a clearance round with everything that it needs."""

    def make(table: Iterable[str], *, log: str | None = LOG, extra: str | None = None,
             use: str = "commercial", folder: str = "site", stray: str = "",
            **conditions: Any) -> Path:  # fmt: skip
        text = CONDITIONS.format(**{**USUAL, **conditions}) if extra is None else extra
        text_of = make_table([*table, stray] if stray else table)
        site = make_site(folder, readings={"first.csv": text_of}, extra=text, use=use)
        if log is not None:
            (site / "instruments").mkdir()
            (site / "instruments/log.csv").write_text(log, "utf-8")
        return site

    return make
