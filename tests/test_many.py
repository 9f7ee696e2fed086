"""Many sites in one run: what is skipped, what is kept, and what a bad floor or site may not do."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

from hgmap.batch import map_site
from hgmap.errors import EstimateError, HgmapError
from hgmap.many.sites import exit_code, map_sites
from hgmap.terminal.many import SitesProgress, print_sites
from tests.many_sites import QUICK, STAMP, WORK, content, mapped_one, several_floors, shown

Build = Callable[..., Path]


@pytest.fixture
def build(make_site: Any, make_plan: Any, make_rows: Any, make_table: Any) -> Build:
    def made(folder: str = "site", floors: int = 2) -> Path:
        return several_floors(make_site, make_plan, make_rows, make_table, folder, floors)

    return made


@pytest.fixture
def no_paper(no_sheets: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the sheets and the quality page out, where a test is about something else."""
    monkeypatch.setattr("hgmap.batch.write_quality", lambda *_: [])


@pytest.fixture
def floors_made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of the floors that are really made, as they are."""
    import hgmap.many.task as many_task

    made: list[str] = []
    real = many_task.make_floor

    def noted(case: Any, floor: Any, *rest: Any) -> Any:
        made.append(floor.name)
        return real(case, floor, *rest)

    monkeypatch.setattr(many_task, "make_floor", noted)
    return made


class Stop:
    """A watch that ends the run after some floors."""

    def __init__(self, after: int) -> None:
        self.after = after
        self.done: set[str] = set()

    def begin(self, site: str, floors: int, kept: int) -> None:
        pass

    def share(self, site: str, floor: str, share: float) -> None:
        if share == 0.0 and len(self.done) >= self.after:
            raise KeyboardInterrupt
        if share == 1.0:
            self.done.add(floor)

    def finish(self, site: str) -> None:
        pass


# --- the results are those of one site mapped alone


def test_a_site_in_a_batch_has_the_files_that_it_has_alone(build: Build, tmp_path: Path) -> None:
    site = build()
    map_site(site, replace(QUICK, out=tmp_path / "alone"))
    outcome = mapped_one(site, options=replace(QUICK, out=tmp_path / "batch"))
    assert outcome.run is not None
    assert content(tmp_path / "batch") == content(tmp_path / "alone")
    assert not (tmp_path / "batch" / WORK).exists()


# --- resume


@pytest.mark.usefixtures("no_paper")
def test_resume_leaves_out_what_is_up_to_date(build: Build, floors_made: list[str]) -> None:
    site = build()
    first = mapped_one(site)
    floors_made.clear()
    again = mapped_one(site, resume=True)
    assert floors_made == []
    assert again.current is not None
    assert again.exit_code == first.exit_code
    mapped_one(site)
    assert floors_made == ["f0", "f1"]  # without --resume everything is made


@pytest.mark.usefixtures("no_paper")
def test_a_floor_that_was_lost_is_named_again_where_results_are_up_to_date(
    build: Build, capsys: pytest.CaptureFixture[str]
) -> None:
    site = build()
    plan = sorted((site / "plans").iterdir())[1]
    plan.write_text("{")
    outcome = mapped_one(site)
    again = mapped_one(site, resume=True)
    assert again.current is not None
    print_sites([outcome, again], lambda run: None)
    told = capsys.readouterr().out
    assert f"plans/{plan.name}: is not GeoJSON" in " ".join(told.split())
    assert "clean" not in told  # of a building, that is for the zones to say


def change_reading(site: Path, out: Path) -> None:
    file = site / "readings/first.csv"
    file.write_text(file.read_text().replace("09:00", "09:30"))


def change_site(site: Path, out: Path) -> None:
    with (site / "site.toml").open("a") as file:
        file.write("[map]\nguard_m = 2.0\n")


def edit_result(site: Path, out: Path) -> None:
    with (out / "zones.csv").open("a") as file:
        file.write("edited\n")


def lose_result(site: Path, out: Path) -> None:
    (out / "rooms.csv").unlink()


def lose_stamp(site: Path, out: Path) -> None:
    (out / STAMP).unlink()


def spoil_stamp(site: Path, out: Path) -> None:
    (out / STAMP).write_text('{"digest": []')


@pytest.mark.usefixtures("no_paper")
@pytest.mark.parametrize(
    "change", [change_reading, change_site, edit_result, lose_result, lose_stamp, spoil_stamp]
)
def test_resume_makes_again_what_is_not_as_it_was_made(
    build: Build, floors_made: list[str], change: Callable[[Path, Path], None]
) -> None:
    site = build()
    out = mapped_one(site).out
    assert out is not None
    floors_made.clear()
    change(site, out)
    assert mapped_one(site, resume=True).run is not None
    assert floors_made == ["f0", "f1"]
    assert "edited" not in (out / "zones.csv").read_text()
    assert mapped_one(site, resume=True).current is not None


@pytest.mark.usefixtures("no_paper")
def test_resume_makes_again_with_other_options_or_another_version(
    build: Build, floors_made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    site = build()
    mapped_one(site)
    floors_made.clear()
    mapped_one(site, resume=True, options=replace(QUICK, level="1 ug/m3"))
    assert floors_made == ["f0", "f1"]
    monkeypatch.setattr("hgmap.many.kept.__version__", "another")
    mapped_one(site, resume=True, options=replace(QUICK, level="1 ug/m3"))
    assert floors_made == ["f0", "f1"] * 2


@pytest.mark.usefixtures("no_paper")
def test_a_run_that_is_stopped_keeps_its_floors_out_of_sight_and_resume_goes_on(
    build: Build, floors_made: list[str], tmp_path: Path
) -> None:
    site, out = build(floors=3), tmp_path / "out"
    options = replace(QUICK, out=out)
    with pytest.raises(KeyboardInterrupt):
        mapped_one(site, options=options, watch=Stop(after=2))
    assert shown(out) == []
    kept = sorted(one.name for one in (out / WORK).iterdir())
    assert kept == ["f0.floor", "f1.floor"]
    floors_made.clear()
    outcome = mapped_one(site, resume=True, options=options)
    assert floors_made == ["f2"]
    assert outcome.kept == 2
    mapped_one(site, options=replace(QUICK, out=tmp_path / "undisturbed"))
    assert content(out) == content(tmp_path / "undisturbed")


@pytest.mark.usefixtures("no_paper")
def test_a_run_that_is_stopped_before_its_first_floor_leaves_nothing(
    build: Build, tmp_path: Path
) -> None:
    site = build()
    with pytest.raises(KeyboardInterrupt):
        mapped_one(site, watch=Stop(after=0))
    assert not (site / "results").exists()


@pytest.mark.usefixtures("no_paper")
@pytest.mark.parametrize("spoilt", ["changed input", "damaged", "cut off"])
def test_a_kept_floor_of_other_inputs_or_a_damaged_one_is_made_again(
    build: Build, floors_made: list[str], tmp_path: Path, spoilt: str
) -> None:
    site, out = build(), tmp_path / "out"
    options = replace(QUICK, out=out)
    with pytest.raises(KeyboardInterrupt):
        mapped_one(site, options=options, watch=Stop(after=1))
    kept = out / WORK / "f0.floor"
    data = kept.read_bytes()
    if spoilt == "changed input":
        change_reading(site, out)
    elif spoilt == "damaged":
        at = data.index(b"Room A")
        kept.write_bytes(data[:at] + b"Room B" + data[at + 6 :])
    else:
        kept.write_bytes(data[: len(data) // 2])
    floors_made.clear()
    assert mapped_one(site, resume=True, options=options).kept == 0
    assert floors_made == ["f0", "f1"]


@pytest.mark.usefixtures("no_paper")
def test_another_run_in_the_same_folder_is_refused_while_it_lives(build: Build) -> None:
    from hgmap.editing.process import Owner, start_of

    site = build()
    out = mapped_one(site).out
    assert out is not None
    before = content(out)
    (out / WORK).mkdir()
    lock = out / WORK / "lock.json"
    parent = os.getppid()
    lock.write_text(json.dumps(Owner(parent, start_of(parent))._asdict()))
    outcome = mapped_one(site)
    assert "another run" in str(outcome.error)
    assert content(out) == before
    lock.write_text(json.dumps(Owner(parent, "long gone")._asdict()))
    assert mapped_one(site).run is not None


def test_of_two_runs_that_begin_at_once_one_gets_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from hgmap.editing.process import Owner, start_of
    from hgmap.many import kept

    parent = Owner(os.getppid(), start_of(os.getppid()))
    theirs = json.dumps(parent._asdict())
    write = kept.write_text

    def late(path: Path, text: str) -> None:
        write(path, text)
        # the other one was a hair faster
        (path.parent / "lock.json").write_text(theirs)

    monkeypatch.setattr(kept, "write_text", late)
    with pytest.raises(HgmapError, match="another run"):
        kept.Unfinished(tmp_path, "map", "digest", resume=False)
    assert [one.name for one in (tmp_path / WORK).iterdir()] == ["lock.json"]


# --- what is bad stays alone


@pytest.mark.usefixtures("no_paper")
@pytest.mark.parametrize("error", [EstimateError("will not do", where="here"), KeyError("a bug")])
def test_a_bad_floor_is_reported_and_the_others_are_made_and_resume_tries_it_again(
    build: Build, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    import hgmap.many.task as many_task

    site, real = build(), many_task.make_floor
    made: list[str] = []

    def fail(case: Any, floor: Any, *rest: Any) -> Any:
        made.append(floor.name)
        if floor.name == "f0":
            raise error
        return real(case, floor, *rest)

    monkeypatch.setattr(many_task, "make_floor", fail)
    outcome = mapped_one(site)
    assert outcome.run is not None
    assert [one.floor for one in outcome.run.failed] == ["f0"]
    assert str(error.args[0]).split(":")[-1].strip() in outcome.run.failed[0].message
    assert [one.floor.name for one in outcome.run.floors] == ["f1"]
    assert outcome.exit_code == 1
    made.clear()
    monkeypatch.setattr(many_task, "make_floor", real)
    whole = mapped_one(site, resume=True)
    assert (whole.kept, made) == (1, [])
    assert whole.run is not None
    assert [one.floor.name for one in whole.run.floors] == ["f0", "f1"]
    assert not (whole.run.out / WORK).exists()


@pytest.mark.usefixtures("no_paper")
def test_a_bad_site_stops_nobody(build: Build, tmp_path: Path, run: Any) -> None:
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad/site.toml").write_text("nothing = [")
    good, other = build("one"), build("two")
    got = run("map", good, tmp_path / "bad", tmp_path / "nowhere", other, "--cell", "1",
              "--method", "idw", "--straight")  # fmt: skip
    assert got.code == 1
    assert f"not made: {tmp_path / 'bad'}: " in got.out
    assert "no such folder" in got.out
    for site in (good, other):
        assert (site / "results/first/zones.csv").is_file()
    table = got.out[got.out.index("floors made") :]
    assert table.count("nothing made") == 2
    assert run("map", tmp_path / "bad", tmp_path / "nowhere").code == 2


def test_one_bad_site_alone_is_one_line_on_stderr(run: Any, tmp_path: Path) -> None:
    got = run("map", tmp_path / "nowhere")
    assert (got.code, got.out) == (2, "")
    assert "no such folder" in got.err


@pytest.mark.usefixtures("no_paper")
def test_results_of_several_sites_go_into_a_folder_each(build: Build, tmp_path: Path) -> None:
    one, two = build("a/house"), build("b/shed")
    map_sites([one, two, one], replace(QUICK, out=tmp_path / "out"))
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == ["house", "shed"]
    with pytest.raises(HgmapError, match="two of the sites would write into 'house'"):
        map_sites([one, build("c/house")], replace(QUICK, out=tmp_path / "out"))


def test_no_floor_at_a_time_is_refused(build: Build) -> None:
    with pytest.raises(HgmapError, match="--jobs"):
        map_sites([build()], QUICK, jobs=0)


def test_the_worst_of_nothing_is_that_nothing_was_done() -> None:
    assert exit_code([]) == 2


# --- where results cannot be written


@pytest.mark.usefixtures("no_paper")
def test_a_folder_that_cannot_be_written_is_one_line_before_anything_is_computed(
    build: Build, tmp_path: Path, run: Any, floors_made: list[str]
) -> None:
    (tmp_path / "file").write_text("in the way")
    got = run("map", build(), "--out", tmp_path / "file" / "out")
    assert got.code == 2
    assert "cannot be written" in got.err
    assert floors_made == []


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="rights do not bind this user")
def test_a_read_only_folder_is_one_line(build: Build, tmp_path: Path, run: Any) -> None:
    (tmp_path / "out").mkdir(mode=0o500)
    got = run("map", build(), "--out", tmp_path / "out")
    assert got.code == 2
    assert "cannot be written" in got.err


@pytest.mark.usefixtures("no_paper")
def test_a_disk_that_is_full_at_one_site_stops_no_other(
    build: Build, monkeypatch: pytest.MonkeyPatch
) -> None:
    import hgmap.many.kept as kept

    real = kept.write_bytes

    def full(path: Path, data: bytes) -> None:
        if "poor" in str(path):
            raise HgmapError("cannot be written (No space left on device)", where=str(path))
        real(path, data)

    monkeypatch.setattr(kept, "write_bytes", full)
    poor, rich = map_sites([build("poor"), build("rich")], QUICK)
    assert "No space left" in str(poor.error)
    assert str(poor.error).startswith(str(poor.folder / "results"))
    assert ".unfinished" not in str(poor.error)
    assert rich.run is not None
    assert not (poor.folder / "results").exists()


@pytest.mark.usefixtures("no_paper")
def test_a_sheet_that_finds_no_room_is_named_where_it_would_have_been(
    build: Build, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    def full(case: Any, floor: Any, options: Any, folder: Path, report: Any) -> None:
        where = str(folder / floor.name / "map.png")
        raise HgmapError("cannot be written (No space left on device)", where=where)

    monkeypatch.setattr("hgmap.many.task.make_floor", full)
    (one,) = map_sites([build()], replace(QUICK, out=tmp_path / "out"))
    assert one.run is not None
    for problem in one.run.failed:
        assert problem.where == str(tmp_path / "out" / problem.floor / "map.png")
    assert not (tmp_path / "out").exists()


def test_a_disk_without_room_for_the_lock_leaves_no_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import hgmap.many.kept as kept

    def full(path: Path, text: str) -> None:
        raise HgmapError("cannot be written (No space left on device)", where=str(path))

    monkeypatch.setattr(kept, "write_text", full)
    with pytest.raises(HgmapError, match=r"out: cannot be written") as error:
        kept.Unfinished(tmp_path / "new" / "out", "map", "digest", resume=False)
    assert ".unfinished" not in str(error.value)
    assert not (tmp_path / "new").exists()


# --- what is shown


def test_each_site_has_a_bar_and_all_have_one() -> None:
    stream = io.StringIO()
    console = Console(file=stream, force_terminal=True, width=120, _environ={})
    with SitesProgress(2, console) as watch:
        watch.begin("north", 4, 1)
        watch.begin("s" * 100, 2, 0)
        watch.share("north", "f1", 0.5)
        watch.share("north", "f2", 1.0)
        watch.bars.refresh()
        watch.finish("north")
        watch.share("north", "f3", 0.5)  # it came late
        whole = watch.bars.tasks[0]
        assert (whole.completed, whole.total) == (1, 2)
        assert len(watch.bars.tasks) == 2
    shown_text = stream.getvalue()
    assert "2 of 4 floors" in shown_text
    assert "62 %" in shown_text
    assert "all sites" in shown_text
    assert "…" + "s" * 39 in shown_text
