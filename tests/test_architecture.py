"""The house has one way through it: a package imports only what stands to its left."""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import hgmap

PACKAGE = Path(hgmap.__file__).parent
FILES = sorted(PACKAGE.rglob("*.py"))
ORDER = (
    "__about__", "errors", "shows_itself", "site", "editing", "field", "decide", "report",
    "batch_choice", "floor_ruling", "floor_map", "level_cases", "map_case", "floor_sheets",
    "what_if", "live", "scene", "batch", "many", "explain", "source", "clearance", "two_rounds",
    "compare", "report_change", "survey_report", "report_task", "design_options", "design",
    "survey_design", "from_picture", "georeference_model", "georeference", "from_python",
    "showing", "questions", "terminal", "desktop", "cli",
)  # fmt: skip
WINDOWS = ("PySide6", "PyQt5", "PyQt6", "shiboken6", "tkinter", "wx")
MOST_LINES = 400
DOORS = (
    "terminal", "cli", "desktop",
)  # fmt: skip


def name_of(path: Path) -> str:
    return str(path.relative_to(PACKAGE))


def layer_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path: Path) -> Iterator[str]:
    """Go through every module that a file imports, wherever in it, with its whole name."""
    package = ["hgmap", *path.relative_to(PACKAGE).parts[:-1]]
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            yield base
            if base == "hgmap":
                yield from (f"hgmap.{one.name}" for one in node.names)


def names_called(path: Path) -> set[str]:
    return {
        node.func.id
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }


def test_there_is_something_to_look_at() -> None:
    assert {layer_of(path) for path in FILES} >= {"errors", "site", "field", "decide", "report",
                                                  "batch", "terminal", "cli"}  # fmt: skip
    assert "hgmap.errors" in set(imports(PACKAGE / "site" / "folder.py"))


def test_every_file_has_its_place_in_the_order() -> None:
    known = {*ORDER, "__init__", "__main__"}
    assert {layer_of(path) for path in FILES} <= known


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_a_file_imports_only_what_stands_to_its_left(path: Path) -> None:
    layer = layer_of(path)
    if layer in ("__init__", "__main__"):
        return
    place = ORDER.index(layer)
    for module in imports(path):
        parts = module.split(".")
        if parts[0] != "hgmap" or len(parts) == 1 or parts[1] == "__version__":
            continue
        assert parts[1] in ORDER, f"{name_of(path)} imports {module}"
        assert ORDER.index(parts[1]) <= place, f"{name_of(path)} imports {module}"


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_only_the_desktop_imports_a_window_system(path: Path) -> None:
    found = {module.split(".")[0] for module in imports(path)} & set(WINDOWS)
    assert layer_of(path) == "desktop" or not found
    assert not any(module.startswith("matplotlib.pyplot") for module in imports(path))


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_a_file_can_be_read_in_one_sitting(path: Path) -> None:
    assert len(path.read_text("utf-8").splitlines()) <= MOST_LINES


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_the_core_prints_nothing_and_runs_no_text(path: Path) -> None:
    called = names_called(path)
    assert not called & {"eval", "exec", "compile"}
    assert not {module.split(".")[0] for module in imports(path)} & {"pickle", "shelve", "marshal"}
    if layer_of(path) not in DOORS:
        assert "print" not in called


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_no_file_keeps_global_state(path: Path) -> None:
    tree = ast.parse(path.read_text("utf-8"))
    assert not [node for node in ast.walk(tree) if isinstance(node, ast.Global)]


@pytest.mark.parametrize("path", FILES, ids=name_of)
def test_no_word_promises_safety_and_no_path_of_a_machine_stands_in_a_file(path: Path) -> None:
    text = path.read_text("utf-8")
    assert not re.search(r"/(home|root|Users|work)/|[A-Z]:\\\\", text)
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            words = node.value.casefold().replace("-", " ").split()
            assert "safe" not in [word.strip(".,;:!?()'\"") for word in words], node.value


MAP_A_SITE = """
import json, sys
import hgmap
after_import = sorted(sys.modules)
run = hgmap.map_site(sys.argv[1], hgmap.MapOptions(cell_m=0.5))
assert run.exit_code == 0, run
print(json.dumps([after_import, sorted(sys.modules)]))
"""


def test_neither_an_import_nor_a_whole_map_loads_a_window_system(
    make_site: Callable[..., Path],
) -> None:
    site = make_site()
    done = subprocess.run(
        [sys.executable, "-c", MAP_A_SITE, str(site)],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    after_import, after_map = json.loads(done.stdout)
    assert (site / "results" / "first" / "ground" / "map.pdf").is_file()
    for modules in (after_import, after_map):
        assert not [one for one in modules if one.split(".")[0] in WINDOWS]
        assert "matplotlib.pyplot" not in modules
    heavy = {"numpy", "scipy", "pandas", "shapely", "matplotlib"}
    assert not heavy & set(after_import), "a bare import has to stay quick"
