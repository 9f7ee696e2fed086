"""Whoever passes hgmap on finds the licence of everything that it needs."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import hgmap

ROOT = Path(hgmap.__file__).parents[1]


def test_every_dependency_stands_with_its_licence() -> None:
    project = ROOT / "pyproject.toml"
    if not project.is_file():
        pytest.skip("no pyproject.toml beside an installed package")
    table = tomllib.loads(project.read_text("utf-8"))
    extras = table["project"]["optional-dependencies"].values()
    wanted = {
        re.split(r"[<>=]", one)[0]
        for group in (table["project"]["dependencies"], *extras, table["build-system"]["requires"])
        for one in group
    }
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    told = text.split("## Licence of dependencies")[1].split("\n## ")[0]
    words = set(re.findall(r"[\w-]+", told))
    assert sorted(wanted - words) == []
