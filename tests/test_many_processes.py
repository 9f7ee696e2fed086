"""Floors in processes of their own: the same bytes, and a process that is killed is survived."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from hgmap.many.processes import Processes, _Hand
from tests import quick_worker
from tests.many_sites import QUICK, STAMP, WORK, content, mapped_one, several_floors, shown

PATIENCE_S = 120.0

Build = Callable[..., Path]

pytestmark = pytest.mark.skipif(os.name == "nt", reason="no kill -9 there")


@pytest.fixture
def build(make_site: Any, make_plan: Any, make_rows: Any, make_table: Any) -> Build:
    def made(folder: str = "site", floors: int = 2) -> Path:
        return several_floors(make_site, make_plan, make_rows, make_table, folder, floors)

    return made


@pytest.fixture
def no_paper(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the paper out, here and in the workers."""
    quick_worker.leave_paper_out(monkeypatch.setattr)


@pytest.fixture(scope="module")
def site(
    site_maker: Any, make_plan: Any, make_rows: Any, make_table: Any,
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:  # fmt: skip
    """Return a site of two floors."""
    root = tmp_path_factory.mktemp("many")

    def make(folder: str, **what: Any) -> Path:
        made: Path = site_maker(root / folder, **what)
        return made

    return several_floors(make, make_plan, make_rows, make_table, floors=2)


@pytest.fixture(scope="module")
def without_paper(site: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return the results, but for the paper, as one process makes them."""
    out = tmp_path_factory.mktemp("one") / "out"
    with pytest.MonkeyPatch.context() as patch:
        quick_worker.leave_paper_out(patch.setattr)
        mapped_one(site, options=replace(QUICK, out=out))
    return content(out)


class Killer:
    """A watch that kills the process of a floor as it begins, so many times."""

    def __init__(self, floor: str, times: int) -> None:
        self.floor, self.times = floor, times

    def begin(self, site: str, floors: int, kept: int) -> None:
        pass

    def share(self, site: str, floor: str, share: float) -> None:
        if floor == self.floor and share == 0.0 and self.times:
            self.times -= 1
            for worker in multiprocessing.active_children():
                assert worker.pid is not None
                os.kill(worker.pid, signal.SIGKILL)

    def finish(self, site: str) -> None:
        pass


def test_two_floors_at_a_time_give_the_bytes_of_one_at_a_time_and_a_killed_one_is_made_again(
    site: Path, tmp_path: Path
) -> None:
    mapped_one(site, options=replace(QUICK, out=tmp_path / "one"))
    options = replace(QUICK, out=tmp_path / "two")
    outcome = mapped_one(site, options=options, jobs=2, watch=Killer("f0", times=1))
    assert outcome.run is not None
    assert outcome.run.failed == ()
    assert any("SIGKILL" in note and "made again" in note for note in outcome.notes)
    assert "f1/map.pdf" in (made := content(tmp_path / "two"))
    assert made == content(tmp_path / "one")
    assert not multiprocessing.active_children()


@pytest.mark.usefixtures("no_paper")
def test_a_floor_whose_process_is_killed_twice_is_reported_and_the_others_are_kept(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    monkeypatch.setattr(  # one worker, so that nobody else is hit
        "hgmap.many.processes.Processes", lambda jobs, share: Processes(1, share)
    )
    outcome = mapped_one(site, options=replace(QUICK, out=out), jobs=2, watch=Killer("f0", times=2))
    assert outcome.run is not None
    assert [one.floor.name for one in outcome.run.floors] == ["f1"]
    (lost,) = outcome.run.failed
    assert (lost.floor, outcome.exit_code) == ("f0", 1)
    assert "SIGKILL" in lost.message
    assert not (out / STAMP).exists()
    assert [one.name for one in (out / WORK).iterdir()] == ["f1.floor"]


WITHOUT_PAPER = """
from hgmap.cli.app import main
from tests import quick_worker
if __name__ == "__main__":
    quick_worker.leave_paper_out()
    main()
"""


@pytest.mark.usefixtures("no_paper")
def test_a_run_that_is_killed_leaves_nothing_half_written_and_resume_ends_it(
    site: Path, without_paper: dict[str, Any], tmp_path: Path
) -> None:
    out = tmp_path / "out"
    words = [sys.executable, "-c", WITHOUT_PAPER, "map", str(site), "--cell", "1", "--method",
             "idw", "--straight", "--out", str(out), "--jobs", "2"]  # fmt: skip
    with subprocess.Popen(
        words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={**os.environ, quick_worker.WAITS: "f1"},
    ) as run:  # fmt: skip
        end = time.monotonic() + PATIENCE_S
        while not (out / WORK / "f0.floor").exists() and time.monotonic() < end:
            assert run.poll() is None
            time.sleep(0.01)
        run.kill()
    assert run.returncode == -signal.SIGKILL
    assert shown(out) == []
    assert [one.name for one in (out / WORK).glob("*.floor")] == ["f0.floor"]
    done = mapped_one(site, options=replace(QUICK, out=out), resume=True)
    assert done.kept == 1
    assert not (out / WORK).exists()
    assert content(out) == without_paper


@pytest.mark.usefixtures("no_paper")
def test_a_process_that_is_killed_while_it_starts_is_started_again(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from multiprocessing.context import SpawnProcess

    real, started = SpawnProcess.start, [0]

    def start(self: SpawnProcess) -> None:
        real(self)
        started[0] += 1
        if started[0] == 1:
            self.kill()

    monkeypatch.setattr(SpawnProcess, "start", start)
    options = replace(QUICK, out=tmp_path / "out", floors=("f1",))
    outcome = mapped_one(site, options=options, jobs=2)
    assert outcome.run is not None
    assert outcome.run.failed == ()
    assert started[0] >= 2


class HeardByAnother:
    """A process that was killed; another thread got its exit status and writes it down late."""

    def __init__(self, times: int) -> None:
        self.times = times

    def join(self) -> None:
        pass

    @property
    def exitcode(self) -> int | None:
        self.times -= 1
        return None if self.times >= 0 else -signal.SIGKILL


def test_how_a_process_ended_is_known_though_another_thread_heard_of_it_first() -> None:
    ours, _ = multiprocessing.Pipe()
    worker: Any = HeardByAnother(times=3)
    assert "SIGKILL" in _Hand(worker, ours).ended()


FILES_NO_LARGER = """
import resource, sys
from hgmap.cli.app import main
resource.setrlimit(resource.RLIMIT_FSIZE, (60_000, 60_000))
sys.argv = ["hgmap", *sys.argv[1:]]
main()
"""


def test_files_that_do_not_fit_on_the_disk_are_said_and_none_is_half_there(
    build: Build, tmp_path: Path
) -> None:
    site, out = build(floors=1), tmp_path / "out"
    done = subprocess.run(
        [sys.executable, "-c", FILES_NO_LARGER, "map", str(site), "--cell", "1", "--method", "idw",
         "--straight", "--out", str(out)],
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "Traceback" not in done.stderr
    assert "File too large" in done.stdout + done.stderr
    assert not out.exists() or shown(out) == []


@pytest.mark.usefixtures("no_paper")
def test_two_workers_of_a_cluster_give_the_bytes_of_one_process(
    site: Path, without_paper: dict[str, Any], tmp_path: Path
) -> None:
    pytest.importorskip("distributed")
    from hgmap.many.cluster import Cluster

    widths: list[int] = []

    class Noted(Cluster):
        def close(self) -> None:
            widths.append(len(self._client.nthreads()))
            super().close()

    two = tmp_path / "two"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("hgmap.many.cluster.Cluster", Noted)
        outcome = mapped_one(site, options=replace(QUICK, out=two), cluster="local", jobs=2)
    assert widths == [2]
    assert outcome.run is not None
    assert content(two) == without_paper


def test_a_cluster_that_does_not_answer_is_one_line(
    build: Build, run: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("hgmap.many.cluster.PATIENCE_S", 0.5)
    got = run("map", build(), "--cluster", "tcp://127.0.0.1:9")
    assert got.code == 2
    assert "the cluster does not answer" in got.err
    got = run("map", build("other"), "--cluster", "nonsense")
    assert got.code == 2
    assert "--cluster nonsense" in got.err
