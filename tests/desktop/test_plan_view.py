from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from pytestqt.qtbot import QtBot

from hgmap.desktop import pipeline
from hgmap.desktop.window import Window
from hgmap.report.drawing import Drawing, Label
from tests.desktop.patience import SLOW_MS

DEMO = Path(__file__).parents[2] / "demo_site"


@pytest.fixture
def window(qtbot: QtBot) -> Iterator[Window]:
    made = Window(remembering=False)
    qtbot.addWidget(made)
    made.resize(1280, 800)
    made.show()
    yield made
    made.close_for_good()


def test_the_window_does_not_wait_for_names_and_readings(
    window: Window, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "*.py"))
    drawings: list[Drawing] = []
    monkeypatch.setattr(
        window.canvas, "set_drawing", lambda drawing, extent: drawings.append(drawing)
    )
    assert window.open_site(folder, ask=False)
    assert not any(drawings)  # the window does not wait for them
    qtbot.waitUntil(
        lambda: any(isinstance(item, Label) for drawing in drawings for item in drawing),
        timeout=SLOW_MS,
    )


def test_the_key_comes_with_the_map(window: Window, qtbot: QtBot, tmp_path: Path) -> None:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "*.py"))
    assert window.open_site(folder, ask=False)
    assert window.explain.key.pixmap().isNull()
    qtbot.waitUntil(lambda: not window.explain.key.pixmap().isNull(), timeout=SLOW_MS)
    assert window.explain.key_title.isVisible()


def test_a_picture_that_cannot_be_laid_out_does_not_leave_the_old_one(
    window: Window, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "*.py"))
    assert window.open_site(folder, ask=False)
    qtbot.waitUntil(lambda: window.plan_view.scene is not None, timeout=SLOW_MS)

    def breaks(*_: object) -> None:
        raise ZeroDivisionError("by nothing")

    monkeypatch.setattr(pipeline, "scene_of", breaks)
    window.plan_view.lay_out()
    qtbot.waitUntil(lambda: "by nothing" in window.notice.text.text(), timeout=SLOW_MS)
    assert window.plan_view.scene is None
    assert window.canvas._backing.ground.drawing == ()


OPEN_A_SITE = """
import sys
from pathlib import Path
from hgmap.desktop.app import application
app = application()
from hgmap.desktop.window import Window
window = Window(remembering=False)
assert window.open_site(Path(sys.argv[1]), ask=False)
print(*sorted({"scipy.stats", "pandas", "matplotlib", "pykrige"} & set(sys.modules)))
window.close_for_good()
"""


def test_a_site_is_open_before_anything_that_estimates_is_loaded(tmp_path: Path) -> None:
    folder = tmp_path / "site"
    shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns("results", "*.py"))
    done = subprocess.run(
        [sys.executable, "-c", OPEN_A_SITE, str(folder)], capture_output=True, text=True,
        timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == []
