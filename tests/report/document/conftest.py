"""Reports of a small invented site, written once a session, and their text by format."""

from __future__ import annotations

import io
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, NamedTuple

import docx
import pytest
from pypdf import PdfReader

from hgmap.floor_map import MapOptions
from hgmap.survey_report import FORMATS, ReportOptions, ReportRun, report_site
from tests.clearance_cases import CONDITIONS, LOG, USUAL

TITLE_BLOCK = """
[title_block]
client = "Client (invented)"
prepared_by = "Surveyor (invented)"
reviewed_by = "Reviewer (invented)"
"""


class Page(HTMLParser):
    """The text, the tags and the attributes of a page of HTML, as a parser sees them."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.inside: list[str] = []
        self.within: dict[str, list[str]] = {}
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "img"):
            self.inside.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if tag in self.inside:
            while self.inside and self.inside.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        tag = self.inside[-1] if self.inside else ""
        self.within.setdefault(tag, []).append(data)
        if tag not in ("script", "style"):
            self.words.append(data)


class Written(NamedTuple):
    """A report, and its text by format."""

    run: ReportRun
    folder: Path
    text: dict[str, str]
    page: Page


def text_of_pdf(path: Path) -> str:
    """Return the text of a PDF, on one line, its letters that join taken apart."""
    pages = " ".join(page.extract_text() for page in PdfReader(path).pages)
    return " ".join(pages.replace("ﬁ", "fi").replace("ﬂ", "fl").split())


def text_of_docx(path: Path) -> str:
    """Return the text of paragraphs, tables, head and foot of a DOCX, on one line."""
    word = docx.Document(io.BytesIO(path.read_bytes()))
    parts = [one.text for one in word.paragraphs]
    parts += [cell.text for table in word.tables for row in table.rows for cell in row.cells]
    parts += [one.text for section in word.sections
              for one in (*section.header.paragraphs, *section.footer.paragraphs)]  # fmt: skip
    return " ".join(" ".join(parts).split())


def read_back(run: ReportRun) -> Written:
    """Read what was written with readers that are not ours."""
    folder = run.run.out
    page = Page((folder / "report.html").read_text("utf-8"))
    text = {
        "pdf": text_of_pdf(folder / "report.pdf"),
        "docx": text_of_docx(folder / "report.docx"),
        "html": " ".join(" ".join(page.words).split()),
    }
    return Written(run, folder, text, page)


def options(**more: Any) -> ReportOptions:
    """Return options with coarse cells: these tests are about paper."""
    return ReportOptions(map=MapOptions(cell_m=0.5), **{"formats": FORMATS, **more})


@pytest.fixture(scope="session")
def small_site(
    tmp_path_factory: pytest.TempPathFactory,
    site_maker: Callable[..., Path],
    make_rows: Callable[..., list[str]],
    make_table: Callable[..., str],
) -> Path:
    """Return a clearance round of two rooms with its instrument log and a title block."""
    root = tmp_path_factory.mktemp("report") / "site"
    rows = make_rows()
    rows[3] = rows[3].replace(",ug/m3,,", ",stones,,")  # held
    extra = CONDITIONS.format(**USUAL) + TITLE_BLOCK
    site_maker(root, readings={"first.csv": make_table(rows)}, extra=extra)
    (root / "instruments").mkdir()
    (root / "instruments/log.csv").write_text(LOG, "utf-8")
    return root


@pytest.fixture(scope="session")
def written(small_site: Path, tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Return the small site's report under one rule."""
    out = tmp_path_factory.mktemp("written")
    return read_back(report_site(small_site, options(out=out, rule="every-reading-below")))
