from __future__ import annotations

import errno
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from hgmap.editing.save import ChangedOnDisk, changed_on_disk, meet_disk, over_disk, save
from hgmap.editing.site_files import SiteFiles, changed, read_site_files
from hgmap.errors import HgmapError, SiteError

MakeSite = Callable[..., Path]


def everything(folder: Path) -> dict[str, bytes]:
    """Every file below a folder, temporary ones too, and every empty folder."""
    return {
        str(one.relative_to(folder)): b"" if one.is_dir() else one.read_bytes()
        for one in folder.rglob("*")
        if one.is_file() or not any(one.iterdir())
    }


def edited(files: SiteFiles) -> SiteFiles:
    """Change one file, make one in a new folder, take one away, and site.toml."""
    toml = files.contents["site.toml"]
    return (
        files.with_file("readings/first.csv", files.contents["readings/first.csv"] + b"R99\n")
        .with_file("readings/new/second.csv", b"id\n")
        .with_file("site.toml", toml + b"# seen\n")
        .without("plans/0.geojson")
    )


def test_saving_writes_what_was_changed_and_nothing_else(make_site: MakeSite) -> None:
    site = make_site(readings={"first.csv": "id\n", "second.csv": "id\n"})
    base = read_site_files(site)
    untouched = (site / "readings/second.csv").stat()
    (site / "notes.txt").write_bytes(b"mine")
    after = save(edited(base), base)
    assert after == edited(base)
    assert (site / "readings/second.csv").stat() == untouched
    assert (site / "notes.txt").read_bytes() == b"mine"
    assert not (site / "plans/0.geojson").exists()
    assert everything(site) == {**after.contents, "notes.txt": b"mine", "plans": b""}
    assert save(after, after) is after


NAMES = st.sampled_from(["a.csv", "readings/first.csv", "b/c/d.csv", "plans/0.geojson"])
EDITS = st.lists(st.tuples(NAMES, st.none() | st.binary(max_size=5)), max_size=6)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=30)
@given(edits=EDITS)
def test_what_was_saved_is_what_is_read(
    make_site: MakeSite, tmp_path: Path, edits: list[tuple[str, bytes | None]]
) -> None:
    site = make_site(f"s{len(list(tmp_path.iterdir()))}")
    files = base = read_site_files(site)
    for name, data in edits:
        files = files.without(name) if data is None else files.with_file(name, data)
    saved = save(files, base)
    kept = {k: v for k, v in everything(site).items() if (site / k).is_file()}
    assert kept == dict(saved.contents) == dict(files.contents)
    assert changed_on_disk(saved) == ()
    assert save(base, saved) == base  # undone, and saved again
    assert read_site_files(site) == base


def full_at(monkeypatch: pytest.MonkeyPatch, call: str, count: int, error: int) -> None:
    """Let a call of the system fail from its ``count``-th use on."""
    real, seen = getattr(os, call), []

    def fail(*words: object, **more: object) -> object:
        seen.append(words)
        if len(seen) == count:
            raise OSError(error, os.strerror(error))
        return real(*words, **more)

    monkeypatch.setattr(f"hgmap.editing.save.os.{call}", fail)


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize(
    ("call", "error"),
    [("fsync", errno.ENOSPC), ("replace", errno.ENOSPC), ("replace", errno.EACCES)],
)
def test_a_full_or_locked_disk_leaves_everything_as_it_was(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch, call: str, count: int, error: int
) -> None:
    site = make_site()
    base = read_site_files(site)
    before = everything(site)
    files = edited(base)
    with monkeypatch.context() as broken:
        full_at(broken, call, count, error)
        with pytest.raises(HgmapError) as caught:
            save(files, base)
    assert "\n" not in str(caught.value)
    assert os.strerror(error) in str(caught.value)
    assert everything(site) == before
    assert files == edited(base)
    save(files, base)  # nothing was lost: it works once there is room again
    assert read_site_files(site).contents["site.toml"].endswith(b"# seen\n")


def test_without_hard_links_a_copy_is_put_back(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    base = read_site_files(site)
    before = everything(site)
    full_at(monkeypatch, "replace", 3, errno.EIO)

    def no_links(*_: object) -> None:
        raise OSError(errno.EPERM, "no links here")

    monkeypatch.setattr("hgmap.editing.save.os.link", no_links)
    with pytest.raises(HgmapError):
        save(edited(base), base)
    assert everything(site) == before


def test_an_interruption_puts_back_too(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    base = read_site_files(site)
    before = everything(site)
    real, seen = os.replace, []

    def stop(*words: str) -> None:
        seen.append(words)
        if len(seen) == 2:
            raise KeyboardInterrupt
        real(*words)

    monkeypatch.setattr("hgmap.editing.save.os.replace", stop)
    with pytest.raises(KeyboardInterrupt):
        save(edited(base), base)
    assert everything(site) == before


def test_a_folder_that_may_not_be_written_is_one_line(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    base = read_site_files(site)
    before = everything(site)
    if os.geteuid() == 0:  # rights do not bind that user

        def refuse(*_: object, **__: object) -> None:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

        monkeypatch.setattr("hgmap.editing.save.tempfile.mkstemp", refuse)
    else:
        (site / "readings").chmod(0o555)
    try:
        with pytest.raises(HgmapError, match="nothing was written") as caught:
            save(base.with_file("readings/first.csv", b"id\n"), base)
    finally:
        (site / "readings").chmod(0o755)
    assert os.strerror(errno.EACCES) in str(caught.value)
    assert everything(site) == before


def test_a_folder_that_is_gone_is_not_made_anew(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    shutil.rmtree(site)
    with pytest.raises(HgmapError, match="the folder is gone"):
        save(edited(base), base)
    assert not site.exists()


def test_a_file_that_became_a_folder_counts_as_changed(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    (site / "readings/first.csv").unlink()
    (site / "readings/first.csv").mkdir()
    before = everything(site)
    with pytest.raises(ChangedOnDisk) as caught:
        save(edited(base), base)
    assert caught.value.names == ("readings/first.csv",)
    assert everything(site) == before


def test_a_new_file_that_stands_in_the_way_is_not_written_over(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    (site / "readings/new").mkdir()
    (site / "readings/new/second.csv").write_bytes(b"somebody's")
    with pytest.raises(ChangedOnDisk, match=r"second\.csv"):
        save(edited(base), base)
    assert (site / "readings/new/second.csv").read_bytes() == b"somebody's"


def test_a_file_where_a_folder_is_needed_is_one_line(make_site: MakeSite) -> None:
    site = make_site()
    (site / "notes").write_bytes(b"")
    base = read_site_files(site)
    with pytest.raises(HgmapError) as caught:
        save(base.with_file("notes/a.csv", b""), base)
    assert "\n" not in str(caught.value)


def test_what_another_process_changed_is_told_by_name(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    code = "import sys; open(sys.argv[1], 'ab').write(b'R77,\\n')"
    subprocess.run([sys.executable, "-c", code, str(site / "readings/first.csv")], check=True)
    assert changed_on_disk(base) == ("readings/first.csv",)
    before = everything(site)
    with pytest.raises(ChangedOnDisk) as caught:
        save(base.with_file("site.toml", b'name = "x"\n'), base)
    assert caught.value.names == ("readings/first.csv",)
    assert everything(site) == before


def test_a_change_while_the_files_were_being_written_is_seen(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    base = read_site_files(site)
    real = os.fsync

    def meddle(handle: int) -> None:
        (site / "readings/first.csv").write_bytes(b"somebody's")
        real(handle)

    monkeypatch.setattr("hgmap.editing.save.os.fsync", meddle)
    with pytest.raises(ChangedOnDisk):
        save(edited(base), base)
    assert (site / "readings/first.csv").read_bytes() == b"somebody's"
    assert not list(site.rglob(".tmp-*"))


def test_the_disk_is_met_file_by_file(make_site: MakeSite) -> None:
    site = make_site(readings={"first.csv": "id\n", "second.csv": "id\n"})
    base = read_site_files(site)
    files = base.with_file("readings/first.csv", b"mine")
    (site / "readings/first.csv").write_bytes(b"theirs")
    (site / "readings/second.csv").write_bytes(b"theirs too")
    (site / "plans/0.geojson").unlink()
    files, base, conflicts = meet_disk(files, base)
    assert conflicts == ("readings/first.csv",)
    assert changed(base, files) == ("readings/first.csv",)
    assert files.contents["readings/second.csv"] == b"theirs too"
    assert "plans/0.geojson" not in files.contents
    with pytest.raises(ChangedOnDisk):
        save(files, base)
    save(files, read_site_files(site))
    assert (site / "readings/first.csv").read_bytes() == b"mine"


def add_round(site: Path) -> None:
    """Let another program bring a second file of readings, and name it in site.toml."""
    (site / "readings/third.csv").write_bytes(b"theirs")
    toml = (site / "site.toml").read_text()
    named = toml.replace('"readings/first.csv"', '"readings/first.csv", "readings/third.csv"')
    assert named != toml
    (site / "site.toml").write_text(named)


def test_writing_over_the_disk_takes_no_file_away_that_another_program_brought(
    make_site: MakeSite,
) -> None:
    site = make_site()
    base = read_site_files(site)
    files = base.with_file("readings/first.csv", b"mine")
    add_round(site)
    save(files, over_disk(files, base))
    assert (site / "readings/first.csv").read_bytes() == b"mine"
    assert (site / "site.toml").read_bytes() == base.contents["site.toml"]
    assert (site / "readings/third.csv").read_bytes() == b"theirs"


def test_writing_over_the_disk_needs_nothing_of_what_stands_there(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    files = base.with_file("readings/first.csv", b"mine")
    (site / "site.toml").write_text("rounds = []\n")  # it names the readings no more
    save(files, over_disk(files, base))
    shutil.rmtree(site / "readings")
    (site / "site.toml").unlink()
    save(files, over_disk(files, files))
    assert read_site_files(site).contents == files.contents


def test_a_file_that_the_disks_site_toml_names_comes_with_it(make_site: MakeSite) -> None:
    site = make_site()
    base = read_site_files(site)
    files = base.with_file("readings/first.csv", b"mine")
    add_round(site)
    files, base, conflicts = meet_disk(files, base)
    assert conflicts == ()
    assert files.contents["readings/third.csv"] == b"theirs"
    assert changed(base, files) == ("readings/first.csv",)


def test_rights_and_links_inside_the_folder_are_kept(make_site: MakeSite) -> None:
    site = make_site()
    (site / "readings/first.csv").rename(site / "readings/real.csv")
    (site / "readings/real.csv").chmod(0o640)
    (site / "readings/first.csv").symlink_to("real.csv")
    base = read_site_files(site)
    save(base.with_file("readings/first.csv", b"id\n"), base)
    assert (site / "readings/first.csv").is_symlink()
    assert (site / "readings/real.csv").read_bytes() == b"id\n"
    assert (site / "readings/real.csv").stat().st_mode & 0o777 == 0o640


def test_files_of_another_folder_are_refused(make_site: MakeSite) -> None:
    one, other = read_site_files(make_site("one")), read_site_files(make_site("other"))
    with pytest.raises(SiteError, match="not the folder"):
        save(one, other)


def test_what_cannot_be_put_back_is_named_and_not_swept_away(
    make_site: MakeSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = make_site()
    base = read_site_files(site)
    real, seen = os.replace, []

    def break_down(*words: str) -> None:
        seen.append(words)
        if len(seen) >= 3:
            raise OSError(errno.EIO, "broken")
        real(*words)

    monkeypatch.setattr("hgmap.editing.save.os.replace", break_down)
    with pytest.raises(HgmapError, match=r"first\.csv \(it lies in \.tmp-"):
        save(edited(base), base)
    (kept,) = (site / "readings").glob(".tmp-*")
    assert kept.read_bytes() == base.contents["readings/first.csv"]
