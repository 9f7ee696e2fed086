from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.editing.site_files import (
    SiteFiles,
    also_read,
    changed,
    named_files,
    read_site_files,
    site_of,
)
from hgmap.errors import SiteError
from hgmap.site.folder import read_site
from hgmap.site.model import Site

DEMO = Path(__file__).parents[2] / "demo_site"

SPOILT = {
    "whole": lambda site: None,
    "no plan": lambda site: (site / "plans/0.geojson").unlink(),
    "plan is a folder": lambda site: _folder(site / "plans/0.geojson"),
    "plan is no GeoJSON": lambda site: (site / "plans/0.geojson").write_bytes(b"{"),
    "no readings": lambda site: (site / "readings/first.csv").unlink(),
    "readings are a folder": lambda site: _folder(site / "readings/first.csv"),
    "readings are a link out": lambda site: _link(site / "readings/first.csv"),
    "empty readings": lambda site: (site / "readings/first.csv").write_bytes(b""),
    "a log": lambda site: _write(site, "instruments/log.csv", b"instrument,check,start\n"),
    "log is a folder": lambda site: _write(site, "instruments/log.csv/x", b""),
    "overrules": lambda site: _write(
        site, "instruments/overrules.csv",
        b"reading,round,verdict,initials,reason,date\nR1,first,hold,AB,spilt,2026-03-02\n",
    ),
    "plan outside": lambda site: _in_toml(site, "plans/0.geojson", "../0.geojson"),
    "plan by a detour": lambda site: _in_toml(
        site, "plans/0.geojson", "./plans/../plans//0.geojson"
    ),
    "plan named nothing": lambda site: _in_toml(site, "plans/0.geojson", ""),
    "plan below a file": lambda site: _in_toml(site, "plans/0.geojson", "site.toml/x"),
    "sampling plan below a file": lambda site: _in_toml(
        site, "invented = true", 'invented = true\nsampling_plan = "site.toml/x"'
    ),
    "no sampling plan": lambda site: _in_toml(
        site, "invented = true", 'invented = true\nsampling_plan = "plan.csv"'
    ),
}  # fmt: skip


def _folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def _link(path: Path) -> None:
    outside = path.parents[2] / "outside.csv"
    path.rename(outside)
    path.symlink_to(outside)


def _write(site: Path, name: str, data: bytes) -> None:
    (site / name).parent.mkdir(parents=True, exist_ok=True)
    (site / name).write_bytes(data)


def _in_toml(site: Path, old: str, new: str) -> None:
    text = (site / "site.toml").read_text("utf-8")
    assert old in text
    (site / "site.toml").write_text(text.replace(old, new), "utf-8")


def alike(one: Site, other: Site) -> bool:
    """Compare two sites; the ground of a site has no other measure of equality than its parts."""
    return repr(one) == repr(other) and one.readings == other.readings


@pytest.mark.parametrize("how", SPOILT)
def test_files_in_memory_give_the_same_site_as_the_folder(
    make_site: Callable[..., Path], how: str
) -> None:
    site = make_site()
    SPOILT[how](site)
    assert alike(site_of(read_site_files(site)), read_site(site))


def test_the_demonstration_site_is_the_same_from_memory() -> None:
    files = read_site_files(DEMO)
    assert {"site.toml", "sampling-plan.csv", "instruments/log.csv", "plans/top.geojson"} <= set(
        files.contents
    )
    assert alike(site_of(files), read_site(DEMO))


CELLS = st.text(st.characters(codec="utf-8"), max_size=6)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(
    rows=st.lists(st.lists(CELLS, min_size=11, max_size=11), max_size=4),
    data=st.binary(max_size=60),
)
def test_whatever_stands_in_the_files_memory_and_folder_agree(
    make_site: Callable[..., Path],
    make_rows: Callable[..., list[str]],
    make_table: Callable[..., str],
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[list[str]],
    data: bytes,
) -> None:
    name = f"s{len(list(tmp_path_factory.getbasetemp().rglob('site.toml')))}"
    table = make_table([*make_rows(3), *(",".join(cells) for cells in rows)])
    site = make_site(name, readings={"first.csv": table, "second.csv": data})
    assert alike(site_of(read_site_files(site)), read_site(site))


def test_a_site_file_that_cannot_be_parsed_still_gives_files(
    make_site: Callable[..., Path],
) -> None:
    for broken in ("name = \n", "\xff", "floors = 3\nrounds = [1, {readings = 2}]"):
        site = make_site(f"site{len(broken)}")
        (site / "site.toml").write_bytes(broken.encode("latin-1"))
        files = read_site_files(site)
        assert files.contents["site.toml"] == broken.encode("latin-1")
        with pytest.raises(SiteError):
            site_of(files)


def test_a_mended_site_file_gets_the_files_that_it_names(make_site: Callable[..., Path]) -> None:
    site = make_site()
    good = (site / "site.toml").read_bytes()
    (site / "site.toml").write_bytes(b"name = \n")
    files = read_site_files(site).with_file("site.toml", good)
    whole = also_read(files, named_files(files))
    assert alike(site_of(whole), site_of(read_site_files_of(site, good)))


def read_site_files_of(site: Path, good: bytes) -> SiteFiles:
    (site / "site.toml").write_bytes(good)
    return read_site_files(site)


def test_pictures_beside_the_plans_are_read_up_to_a_size(
    make_site: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    (site / "plans" / "ground.png").write_bytes(b"\x89PNG")
    (site / "plans" / "large.JPG").write_bytes(b"x" * 100)
    (site / "photo.png").write_bytes(b"not a plan")
    monkeypatch.setattr("hgmap.editing.site_files.MOST_PICTURE_BYTES", 50)
    files = read_site_files(site)
    assert files.contents["plans/ground.png"] == b"\x89PNG"
    assert "plans/large.JPG" in files.unread
    assert "photo.png" not in files.contents


def test_what_changed_is_named_and_undo_is_the_files_before(
    make_site: Callable[..., Path],
) -> None:
    files = read_site_files(make_site())
    after = files.with_file("./readings//first.csv", b"id\n").with_file("new.csv", b"x")
    after = after.without("plans/0.geojson").without("never there")
    assert changed(files, after) == ("new.csv", "plans/0.geojson", "readings/first.csv")
    assert changed(files, files) == ()
    assert files.with_file("site.toml", files.contents["site.toml"]) is files
    with pytest.raises(TypeError):
        files.contents["site.toml"] = b""  # type: ignore[index]


def test_no_file_is_put_outside_the_folder_nor_over_one_that_was_not_read(
    make_site: Callable[..., Path],
) -> None:
    site = make_site()
    _folder(site / "readings/first.csv")
    files = read_site_files(site)
    for name in ("../x", "/x", "a/../../x"):
        with pytest.raises(SiteError, match="outside"):
            files.with_file(name, b"")
    with pytest.raises(SiteError, match="not written over"):
        files.with_file("readings/first.csv", b"")


def test_text_is_read_as_utf8_and_says_where_it_is_not(make_site: Callable[..., Path]) -> None:
    files = read_site_files(make_site()).with_file("a.csv", b"\xef\xbb\xbf\xc3\xa4")
    assert files.text("a.csv") == "ä"
    with pytest.raises(SiteError, match=r"a\.csv: is not UTF-8"):
        files.with_file("a.csv", b"\xff").text("a.csv")
    with pytest.raises(SiteError, match=r"b\.csv: no such file"):
        files.text("b.csv")
    assert replace(files).contents == files.contents
