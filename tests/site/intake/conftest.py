"""A small site to import into, and workbooks to spoil."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

BROKEN = Path(__file__).parent / "broken"
SITE = """\
# an invented site
schema_version = 1
name = "Test building (invented)" # its name

[[rounds]]
name = "first"
date = 2026-03-01
readings = [] # nothing yet

# the end
"""


@pytest.fixture
def bare_site(tmp_path: Path) -> Path:
    """A site folder with one round and no plan."""
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text(SITE, "utf-8")
    return folder


@pytest.fixture(scope="session")
def written_rows() -> Callable[[Path], list[dict[str, str]]]:
    """Return a function that reads a file of ours, by the csv module alone."""

    def read(path: Path) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"))))

    return read


@pytest.fixture(scope="session")
def make_workbook() -> Callable[..., bytes]:
    """Return a function from sheets (name to rows) to the bytes of a workbook.

    ``spoil`` is called with the open workbook before it is saved; ``parts`` changes the text of
    its parts after that.
    """

    def make(
        sheets: Mapping[str, list[list[Any]]],
        spoil: Callable[[Any], object] = lambda book: None,
        parts: Callable[[str, bytes], bytes] = lambda name, text: text,
    ) -> bytes:
        import openpyxl

        book = openpyxl.Workbook()
        book.remove(book.active)
        for name, rows in sheets.items():
            sheet = book.create_sheet(name)
            for row in rows:
                sheet.append(row)
        spoil(book)
        saved = io.BytesIO()
        book.save(saved)
        changed = io.BytesIO()
        with (
            zipfile.ZipFile(saved) as before,
            zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as after,
        ):
            for part in before.namelist():
                after.writestr(part, parts(part, before.read(part)))
        return changed.getvalue()

    return make
