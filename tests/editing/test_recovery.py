from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from hgmap.editing.process import Owner, start_of
from hgmap.editing.recovery import RecoveryFolder
from hgmap.editing.save import ChangedOnDisk, save
from hgmap.editing.site_files import changed, read_site_files
from hgmap.errors import HgmapError, SiteError

MakeSite = Callable[..., Path]

KEEP = """
import sys
from pathlib import Path
from hgmap.editing.recovery import RecoveryFolder
from hgmap.editing.site_files import read_site_files
base = read_site_files(Path(sys.argv[1]))
kept = RecoveryFolder(Path(sys.argv[2]))
for count in range(int(sys.argv[3])):
    data = b"%d\\n" % count * 20_000
    files = base.with_file("readings/first.csv", data).with_file("notes.csv", data)
    kept.keep(files, base)
    print(count, flush=True)
"""


def keep_elsewhere(site: Path, root: Path, times: int = 1) -> subprocess.Popen[str]:
    words = [sys.executable, "-c", KEEP, str(site), str(root), str(times)]
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def kept_by_the_dead(site: Path, root: Path) -> None:
    done = keep_elsewhere(site, root)
    done.communicate()
    assert done.returncode == 0


def test_the_work_of_a_process_that_ended_is_offered_and_restored(
    make_site: MakeSite, tmp_path: Path
) -> None:
    site, root = make_site(), tmp_path / "kept"
    before = read_site_files(site)
    kept_by_the_dead(site, root)
    here = RecoveryFolder(root)
    (found,) = here.pending()
    assert (found.folder, found.names) == (site, ("notes.csv", "readings/first.csv"))
    assert (found.trouble, found.changed_since) == ("", ())
    base, files = here.restore(found)
    assert base == before == read_site_files(site)
    assert files.contents["notes.csv"] == b"0\n" * 20_000
    assert save(files, base) == files
    here.drop(found)
    assert here.pending() == ()
    assert list(root.iterdir()) == []


def test_killed_at_any_moment_it_holds_one_whole_state(make_site: MakeSite, tmp_path: Path) -> None:
    site = make_site()
    before = read_site_files(site)
    for attempt in range(6):
        root = tmp_path / f"kept{attempt}"
        process = keep_elsewhere(site, root, 100_000)
        assert process.stdout is not None
        last = [int(process.stdout.readline()) for _ in range(2 + attempt)][-1]
        time.sleep(0.001 * attempt)
        os.kill(process.pid, signal.SIGKILL)
        process.communicate()
        (found,) = RecoveryFolder(root).pending()
        assert found.trouble == ""
        base, files = RecoveryFolder(root).restore(found)
        assert base == before
        data = files.contents["readings/first.csv"]
        number = int(data.split(b"\n", 1)[0])
        assert number >= last
        assert data == files.contents["notes.csv"] == b"%d\n" % number * 20_000


def test_a_killed_process_that_nobody_waited_for_is_dead(
    make_site: MakeSite, tmp_path: Path
) -> None:
    process = keep_elsewhere(make_site(), tmp_path / "kept", 100_000)
    assert process.stdout is not None
    process.stdout.readline()
    assert RecoveryFolder(tmp_path / "kept").pending() == ()  # it lives
    os.kill(process.pid, signal.SIGKILL)
    for _ in range(500):
        if RecoveryFolder(tmp_path / "kept").pending():
            break
        time.sleep(0.01)
    assert len(RecoveryFolder(tmp_path / "kept").pending()) == 1
    process.communicate()


def test_the_work_of_a_living_process_is_its_own(make_site: MakeSite, tmp_path: Path) -> None:
    site = make_site()
    base = read_site_files(site)
    mine = RecoveryFolder(tmp_path / "kept")
    mine.keep(base.with_file("a.csv", b"1"), base)
    assert RecoveryFolder(tmp_path / "kept").pending() == ()
    (place,) = (tmp_path / "kept").iterdir()
    lock = json.loads((place / "lock.json").read_text("utf-8"))
    assert lock == {"pid": os.getpid(), "start": start_of(os.getpid())}
    # the same number, and another start: it was used again
    (place / "lock.json").write_text(json.dumps({**lock, "start": "elsewhen 7"}), "utf-8")
    if start_of(os.getpid()):
        assert len(RecoveryFolder(tmp_path / "kept").pending()) == 1
    (place / "lock.json").write_text("{", "utf-8")
    assert len(RecoveryFolder(tmp_path / "kept").pending()) == 1


def test_saved_or_undone_work_is_forgotten(make_site: MakeSite, tmp_path: Path) -> None:
    base = read_site_files(make_site())
    mine = RecoveryFolder(tmp_path / "kept")
    mine.forget(base.folder)
    mine.keep(base.with_file("a.csv", b"1"), base)
    mine.keep(base, base)
    assert list((tmp_path / "kept").iterdir()) == []
    mine.keep(base.without("readings/first.csv"), base)
    mine.forget(base.folder)
    assert list((tmp_path / "kept").iterdir()) == []


def test_a_later_change_on_the_disk_is_told_and_not_written_over(
    make_site: MakeSite, tmp_path: Path
) -> None:
    site, root = make_site(), tmp_path / "kept"
    kept_by_the_dead(site, root)
    (site / "readings/first.csv").write_bytes(b"theirs")
    (site / "plans/0.geojson").write_bytes(b"{}")
    (site / "notes.csv").write_bytes(b"theirs")
    here = RecoveryFolder(root)
    (found,) = here.pending()
    assert found.changed_since == ("notes.csv", "plans/0.geojson", "readings/first.csv")
    base, files = here.restore(found)
    assert files.contents["plans/0.geojson"] == b"{}"
    assert changed(base, files) == ("notes.csv", "readings/first.csv")
    with pytest.raises(ChangedOnDisk) as caught:
        save(files, base)
    assert caught.value.names == ("notes.csv", "readings/first.csv")
    assert (site / "readings/first.csv").read_bytes() == b"theirs"


def test_a_folder_that_is_gone_keeps_the_work(make_site: MakeSite, tmp_path: Path) -> None:
    site, root = make_site(), tmp_path / "kept"
    kept_by_the_dead(site, root)
    shutil.rmtree(site)
    here = RecoveryFolder(root)
    (found,) = here.pending()
    assert "the folder is gone" in found.trouble
    with pytest.raises(SiteError, match=r"the edits lie in .*edited\.zip"):
        here.restore(found)
    assert here.pending() == (found,)


def test_a_damaged_state_is_told_and_never_followed_out_of_the_folder(
    make_site: MakeSite, tmp_path: Path
) -> None:
    site, root = make_site(), tmp_path / "kept"
    kept_by_the_dead(site, root)
    (place,) = root.iterdir()
    whole = (place / "edited.zip").read_bytes()
    for broken in (b"", whole[:-30], whole[:200] + b"x" + whole[201:], b"PK"):
        (place / "edited.zip").write_bytes(broken)
        (found,) = RecoveryFolder(root).pending()
        assert "damaged" in found.trouble
        with pytest.raises(SiteError, match="damaged"):
            RecoveryFolder(root).restore(found)
    with zipfile.ZipFile(place / "edited.zip", "w") as archive:
        about = {"folder": str(site), "kept_at": "", "edited": ["../evil.csv"], "digests": {}}
        archive.writestr("about.json", json.dumps(about))
        archive.writestr("after/../evil.csv", b"evil")
    (found,) = RecoveryFolder(root).pending()
    assert found.trouble
    with pytest.raises(SiteError):
        RecoveryFolder(root).restore(found)
    assert not list(tmp_path.rglob("evil.csv"))


def test_no_name_of_a_site_leads_out_of_the_recovery_folder(
    make_site: MakeSite, tmp_path: Path
) -> None:
    site = make_site("..odd name &%")
    base = read_site_files(site)
    root = tmp_path / "kept"
    RecoveryFolder(root).keep(base.with_file("a/b/ü.csv", b"1"), base)
    (place,) = root.iterdir()
    assert sorted(one.name for one in place.iterdir()) == ["edited.zip", "lock.json"]
    assert not (site / "a").exists()


def test_only_what_lies_below_the_folder_is_dropped(make_site: MakeSite, tmp_path: Path) -> None:
    site, root = make_site(), tmp_path / "kept"
    kept_by_the_dead(site, root)
    (found,) = RecoveryFolder(root).pending()
    RecoveryFolder(tmp_path / "other").drop(found)
    assert RecoveryFolder(root).pending() == (found,)


def test_a_recovery_folder_that_cannot_be_made_is_one_line(
    make_site: MakeSite, tmp_path: Path
) -> None:
    base = read_site_files(make_site())
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(HgmapError, match="save often"):
        RecoveryFolder(tmp_path / "file" / "kept").keep(base.with_file("a", b""), base)
    assert RecoveryFolder(tmp_path / "file").pending() == ()


def test_a_process_is_told_by_its_number_and_its_start() -> None:
    assert Owner.this().alive
    assert not Owner(0, "").alive
    assert not Owner(-1, "").alive
    assert not Owner(2**40, "").alive
    child = subprocess.Popen([sys.executable, "-c", ""])
    child.wait()
    assert not Owner(child.pid, "").alive
