"""In the window, a sentence says what to do in the window."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import hgmap
from hgmap.desktop.beginning.drawing_questions import OPTIONS
from hgmap.desktop.window import Window
from hgmap.desktop.window_words import for_window
from hgmap.desktop.words import speak
from hgmap.errors import HgmapError
from hgmap.report.sheet_setup import scale_that_fits, sheet_setup
from tests.desktop.patience import SLOW_MS

COMMAND = re.compile(r"`hgmap |(?<![\w-])--[a-z]")

PACKAGE = Path(hgmap.__file__).parent

NOT_SHOWN = (
    "cli/", "terminal/", "desktop/",
    # of runs that the window has not
    "design_options.py", "source.py", "batch_choice.py", "many", "georeference.py",
    "site/control/chosen.py", "site/control/doubts.py",
    # the window asks instead: each option is a field (beginning/asked.py, panels/readings_paste.py)
    "site/importers/", "site/intake/", "site/new_site.py", "editing/paste.py",
    # pictures of the command line (the window places them by its pointer)
    "editing/import_picture.py", "editing/picture_placing.py", "site/pictures/world_file.py",
    "from_picture.py",
    # the other sheet of paper: who fills it in may have no window
    "report/resample_sheet.py", "report/design_tables.py",
)  # fmt: skip
"""Files whose sentences no window shows, or shows otherwise."""


def sentences(of: Path = PACKAGE, but: tuple[str, ...] = NOT_SHOWN) -> Iterator[tuple[str, str]]:
    """Go through the strings of the core that name a command; its docstrings are no sentences."""
    for path in sorted(of.rglob("*.py")):
        name = path.relative_to(PACKAGE).as_posix()
        if name.startswith(but):
            continue
        tree = ast.parse(path.read_text("utf-8"))
        alone = {id(one.value) for one in ast.walk(tree) if isinstance(one, ast.Expr)}
        inside: set[int] = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr):
                inside |= {id(one) for one in node.values}
                text = "".join(
                    str(one.value) if isinstance(one, ast.Constant) else "x" for one in node.values
                )
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                if id(node) in alone or id(node) in inside:
                    continue
                text = node.value
            else:
                continue
            # an option alone is a place ("--at: ..."); on its own it is no sentence
            if COMMAND.search(text) and not re.fullmatch(r"--[a-z-]+", text):
                yield name, text


def test_no_sentence_of_the_core_names_a_command_in_the_window() -> None:
    left = [one for one in sentences() if COMMAND.search(for_window(one[1]))]
    assert left == []


def test_the_core_does_name_commands_and_so_there_is_something_to_put_in_other_words() -> None:
    assert len(list(sentences())) >= 12


def test_each_option_that_an_importer_of_drawings_names_is_a_field_of_the_window() -> None:
    named = {
        (option, where)
        for where, text in sentences(PACKAGE / "site" / "importers", ())
        for option in re.findall(r"--([a-z-]+)", for_window(text))
    }
    assert {"storey", "units", "crs"} <= {option for option, _ in named}
    # the window has none of them: the use is the site's own, and so is the building
    not_asked = {"use", "refuse", "building"}
    assert {one for one in named if one[0] not in {*OPTIONS, *not_asked}} == set()


@pytest.mark.parametrize(
    "text",
    [
        "nothing stands against it",
        "Room A--B: no door",
        "a hgmap file",
        "x[[0, 1]]",
        "-- a note --",
    ],
)
def test_other_sentences_stay_as_they_are(text: str) -> None:
    assert for_window(text) == text


def test_a_place_that_is_an_option_is_left_out() -> None:
    assert for_window("--level: no level named 'x'; `hgmap levels` lists them") == (
        "no level named 'x'; the bar above the plan lists them"
    )


def test_a_scale_that_does_not_fit_is_answered_with_what_can_be_chosen() -> None:
    paper = sheet_setup("a4", 50.0)
    with pytest.raises(HgmapError) as refused:
        scale_that_fits(paper, "the plan", (18.0, 12.0), (270.0, 180.0), tall=False)
    assert "--scale 75, or --paper a3 or tabloid" in str(refused.value)
    said = for_window(f"Ground: {refused.value}")
    assert said.startswith("Ground: the plan does not fit A4 at 1 : 50")
    assert said.endswith("choose 1 : 75 or paper: a3 or tabloid")


def test_the_other_words_are_translated() -> None:
    speak("qps")
    try:
        assert "[" in for_window("`hgmap check` says how")
    finally:
        speak("en")


def test_a_site_without_a_level_is_told_where_the_window_has_them(
    make_site: Callable[..., Path], open_window: Callable[..., Window], qtbot: Any
) -> None:
    window = open_window()
    assert window.open_site(make_site(level=""), ask=False)
    qtbot.waitUntil(lambda: not window.jobs.busy, timeout=SLOW_MS)
    window.choose_question(3)
    told = [*window.column.panels["map"].points.points.points]
    assert told
    assert all("hgmap" not in one.message + one.todo for one in told)
    assert any("the bar above the plan" in one.todo for one in told)
