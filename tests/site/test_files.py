"""Files stay inside their folder and are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import HgmapError, SiteError
from hgmap.site.files import digest, inside_folder, read_bytes, slug, write_atomically, write_text
from hgmap.site.staging import staged


@pytest.mark.parametrize("name", ["../x", "a/../../x", "/etc/hostname", "..", "plans/../../x"])
def test_a_path_that_leaves_the_folder_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(SiteError, match="outside the site folder") as caught:
        inside_folder(tmp_path, name, where="floor 'ground'")
    assert caught.value.where == "floor 'ground'"


def test_a_link_that_leaves_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "secret").write_text("x")
    (tmp_path / "site" / "plan").symlink_to(tmp_path / "secret")
    with pytest.raises(SiteError, match="outside"):
        inside_folder(tmp_path / "site", "plan", where="here")


def test_a_site_that_is_itself_reached_through_a_link_is_read(tmp_path: Path) -> None:
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "plan").write_text("x")
    (tmp_path / "link").symlink_to(tmp_path / "site")
    path = inside_folder(tmp_path / "link", "plan", where="here")
    assert read_bytes(path, where="plan") == b"x"


@pytest.mark.parametrize("name", ["a\0b", "x" * 3000, "loop"])
def test_a_path_that_no_disk_can_hold_is_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(SiteError) as caught:
        read_bytes(inside_folder(tmp_path, name, where="here"), where="here")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["", ".", "folder"])
def test_a_folder_in_place_of_a_file_is_one_line(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(SiteError, match="not a file"):
        read_bytes(inside_folder(tmp_path, name, where="here"), where="here")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_that_would_never_end_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(SiteError, match="not a file"):
        read_bytes(tmp_path / "pipe", where="pipe")


def test_a_missing_file_says_so_and_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r"^a\.csv: no such file; "):
        read_bytes(tmp_path / "a.csv", where="a.csv")


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"12345")
    with pytest.raises(SiteError, match="larger"):
        read_bytes(tmp_path / "a", where="a", most_bytes=4)
    assert read_bytes(tmp_path / "a", where="a", most_bytes=5) == b"12345"


def test_the_digest_is_sha256() -> None:
    # FIPS 180-2, appendix B.1: the message "abc" (value from memory)
    assert digest(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_write_that_fails_midway_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    path = tmp_path / "zones.csv"
    write_text(path, "old")

    def fail(temporary: Path) -> None:
        temporary.write_text("half")
        raise OSError(28, "No space left on device")

    with pytest.raises(HgmapError, match=r"cannot be written \(No space left on device\)"):
        write_atomically(path, fail)
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["zones.csv"]


def test_a_write_that_is_cancelled_leaves_the_old_file_and_no_litter(tmp_path: Path) -> None:
    path = tmp_path / "zones.csv"
    write_text(path, "old")

    def cancel(temporary: Path) -> None:
        temporary.write_text("half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_atomically(path, cancel)
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["zones.csv"]


def test_a_replace_that_fails_leaves_the_old_file_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "zones.csv"
    write_text(path, "old")

    def fail(self: Path, target: Path) -> None:
        raise PermissionError(13, "open in another program")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(HgmapError, match="open in another program"):
        write_text(path, "new")
    assert path.read_text() == "old"
    assert [one.name for one in tmp_path.iterdir()] == ["zones.csv"]


def test_a_file_where_the_folder_should_be_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(HgmapError, match="cannot be written"):
        write_text(tmp_path / "out" / "zones.csv", "x")
    assert (tmp_path / "out").read_text() == "mine"


@given(st.text(max_size=300))
def test_a_slug_is_always_one_plain_file_name(name: str) -> None:
    made = slug(name)
    assert made
    assert not set(made) & set('/\\:*?"<>|\0\n .')
    assert len(made.encode("utf-8", "surrogatepass")) <= 240
    assert slug(made) == made


@pytest.mark.parametrize(
    "name",
    ["CON", "nul", "Aux", "prn", "COM1", "com0", "LPT9", "com\u00b9", " Con ", "CON.", "-CON"],
)
def test_a_name_that_windows_keeps_for_a_device_is_written_with_a_mark_behind(name: str) -> None:
    assert slug(name) == name.strip(" .-") + "_"


@pytest.mark.parametrize("name", ["CONference", "COM10", "LPT", "auxiliary", "null", "CON_"])
def test_a_name_that_only_begins_like_a_device_stays(name: str) -> None:
    assert slug(name) == name


def test_a_run_that_cannot_be_written_names_the_file_and_not_the_folder_of_the_meantime(
    tmp_path: Path,
) -> None:
    def full(path: Path) -> None:
        raise OSError(28, "No space left on device")

    out = tmp_path / "out"
    with pytest.raises(HgmapError) as caught, staged(out) as stage:
        write_atomically(stage / "ground" / "map.png", full)
    assert caught.value.where == str(out / "ground" / "map.png")
    assert not list(tmp_path.iterdir())
