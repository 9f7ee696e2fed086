from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import SiteError
from hgmap.site.folder import read_site, site_from
from hgmap.site.store import FolderStore, MemoryStore, plain_name


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "out.csv").write_bytes(b"secret")
    site = tmp_path / "site"
    (site / "plans").mkdir(parents=True)
    (site / "plans" / "a.geojson").write_bytes(b"{}")
    return site


@pytest.mark.parametrize("name", ["../out.csv", "/out.csv", "plans/../../out.csv", "a\0b"])
def test_a_path_that_leaves_the_folder_is_refused_on_the_disk_and_in_memory_alike(
    folder: Path, name: str
) -> None:
    said = []
    for store in (FolderStore(folder), MemoryStore({"../out.csv": b"x", "/out.csv": b"x"})):
        for call in (store.read, store.exists):
            with pytest.raises(SiteError) as caught:
                call(name, where="floor 'ground'")
            said.append(str(caught.value))
    assert len(set(said)) == 1
    assert said[0].startswith("floor 'ground': ")


def test_a_link_out_of_the_folder_is_refused(folder: Path) -> None:
    (folder / "link.csv").symlink_to(folder.parent / "out.csv")
    with pytest.raises(SiteError, match="lies outside the site folder"):
        FolderStore(folder).read("link.csv", where="round 'first'")


@pytest.mark.parametrize(
    "name",
    ["plans/a.geojson", "./plans//a.geojson", "plans/../plans/a.geojson"],
)
def test_one_file_is_found_however_its_path_is_written(folder: Path, name: str) -> None:
    for store in (FolderStore(folder), MemoryStore({"plans/a.geojson": b"{}"})):
        assert store.exists(name, where="x")
        assert store.read(name, where="x") == b"{}"


def test_a_missing_file_is_missed_in_the_same_words(folder: Path) -> None:
    said = set()
    for store in (FolderStore(folder), MemoryStore({})):
        assert not store.exists("b.csv", where="x")
        with pytest.raises(SiteError) as caught:
            store.read("b.csv", where="x")
        said.add(str(caught.value))
    assert said == {"b.csv: no such file; check the name or put the file there"}


@given(st.lists(st.sampled_from(["a", "..", ".", "b c", "ä"]), min_size=1, max_size=6))
def test_a_plain_name_is_plain_and_never_climbs(parts: list[str]) -> None:
    depth = lowest = 0
    for one in parts:
        depth += {"..": -1, ".": 0}.get(one, 1)
        lowest = min(lowest, depth)
    name = "/".join(parts)
    try:
        plain = plain_name(name, where="x")
    except SiteError:
        assert lowest < 0
    else:
        assert plain_name(plain, where="x") == plain
        assert ".." not in plain.split("/")
        assert plain == os.path.normpath(name)


def test_a_folder_without_a_site_file_says_so_as_before(tmp_path: Path) -> None:
    with pytest.raises(SiteError) as caught:
        read_site(tmp_path)
    assert str(caught.value).startswith(f"{tmp_path / 'site.toml'}: no such file")
    with pytest.raises(SiteError) as in_memory:
        site_from(MemoryStore({}), tmp_path)
    assert str(in_memory.value) == str(caught.value)


def test_a_linked_site_file_is_read_as_before(make_site: Callable[..., Path]) -> None:
    site = make_site()
    (site / "site.toml").rename(site.parent / "kept.toml")
    (site / "site.toml").symlink_to(site.parent / "kept.toml")
    assert read_site(site).name == "Test building (invented)"
