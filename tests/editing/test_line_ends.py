"""site.toml keeps its line ends, its byte-order mark and its comments, whoever adds to it."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.editing.bring_in import WantedPlan, bring_in
from hgmap.editing.site_files import read_site_files
from hgmap.site.folder import read_site
from hgmap.site.line_ends import BOM, in_form_of, plain_ends

Run = Callable[..., Any]
Change = Callable[[Run, Path, Path], Any]
ROWS = "id,floor,room,height,time,value,unit\nn1,ground,Room B,1.5,2026-04-02,1,ug/m3\n"


def drawing(folder: Path) -> Path:
    ring = [[0, 0], [4, 0], [4, 3], [0, 3], [0, 0]]
    hall = {"type": "Feature", "properties": {"kind": "room", "name": "Hall"},
            "geometry": {"type": "Polygon", "coordinates": [ring]}}  # fmt: skip
    file = folder / "a.geojson"
    file.write_text(json.dumps({"type": "FeatureCollection", "features": [hall]}))
    return file


def floor_more(run: Run, site: Path, scratch: Path) -> Any:
    return run("import", "plan", drawing(scratch), "--into", site, "--floor", "top", "--units",
               "metres")  # fmt: skip


def round_more(run: Run, site: Path, scratch: Path) -> Any:
    file = scratch / "new.csv"
    file.write_text(ROWS)
    return run("import", "readings", file, "--into", site, "--round", "again")


def floor_copied(run: Run, site: Path, scratch: Path) -> Any:
    return run("edit", "copy-floor", site, "--floor", "ground", "--to", "top")


@pytest.mark.parametrize("change", [floor_more, round_more, floor_copied])
@pytest.mark.parametrize("end", [b"\n", b"\r\n"], ids=["LF", "CRLF"])
@pytest.mark.parametrize("mark", [b"", BOM], ids=["", "BOM"])
def test_site_toml_keeps_its_line_ends(
    make_site: Callable[..., Path], run: Run, tmp_path: Path, change: Change, end: bytes,
    mark: bytes,
) -> None:  # fmt: skip
    site = make_site(extra="# a remark\n")
    toml = site / "site.toml"
    before = mark + toml.read_bytes().replace(b"\n", end)
    toml.write_bytes(before)
    got = change(run, site, tmp_path)
    assert got.code in (0, 1), got.text
    after = toml.read_bytes()
    assert len(after) > len(before)
    assert after.count(b"\n") == after.count(end)
    assert after.count(BOM) == before.count(BOM) == (after.startswith(BOM))
    assert b"# a remark" + end in after
    read_site(site)


def test_a_drawing_brought_in_by_the_window_keeps_them_too(
    make_site: Callable[..., Path], tmp_path: Path
) -> None:
    site = make_site()
    toml = site / "site.toml"
    toml.write_bytes(toml.read_bytes().replace(b"\n", b"\r\n"))
    wanted = WantedPlan(drawing(tmp_path), "top", {"units": "metres"})
    after = bring_in(read_site_files(site), wanted).after.data("site.toml")
    assert b'name = "top"\r\n' in after
    assert after.count(b"\n") == after.count(b"\r\n")


@given(st.text("ab\r\n"), st.sampled_from([b"", BOM]))
def test_a_text_that_nobody_changed_is_written_as_it_was(text: str, mark: bytes) -> None:
    data = mark + text.encode()
    assert in_form_of(plain_ends(text), data) == data
