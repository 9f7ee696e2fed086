"""Pages of a report: numbered, searchable, everything inside their margins, the same again."""

from __future__ import annotations

import re
import string
from pathlib import Path

import docx
import pytest
from docx.oxml.ns import qn
from docx.shared import Mm
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from hgmap.report.document.content import (
    Bullets,
    Document,
    Facts,
    Heading,
    Paragraph,
    Part,
    Signatures,
    Table,
    TableColumn,
)
from hgmap.report.document.paper_flow import MARGIN_MM, inner_mm
from hgmap.report.document.paper_table import widths_of
from hgmap.report.document.pdf_file import report_sheets
from hgmap.report.document.style import HouseStyle
from hgmap.report.document.write_up import write_up
from hgmap.report.drawing import Label, Sheet, texts
from hgmap.report.sheet_setup import A4, LETTER, PaperSize
from hgmap.report.typeset import width_mm
from hgmap.survey_report import report_site
from tests.report.document.conftest import Written, options

WORDS = st.text(st.sampled_from(string.ascii_letters + " -µ²…学שלום"), max_size=120)
TWIP = 635
"""A twentieth of a point, to which DOCX rounds lengths, in its own units."""
LONG = st.one_of(WORDS, st.just("word " * 300), st.just("x" * 300), st.just(""))


@st.composite
def tables(draw: st.DrawFn) -> Table:
    """Draw a table of up to eight columns and twelve rows."""
    count = draw(st.integers(1, 8))
    columns = tuple(
        TableColumn(draw(WORDS), draw(st.floats(0.2, 8)), draw(st.booleans()), draw(st.booleans()))
        for _ in range(count)
    )
    rows = draw(st.lists(st.tuples(*[LONG] * count), max_size=8))
    strong = draw(st.sets(st.sampled_from(range(len(rows))))) if rows else ()
    return Table(draw(WORDS), columns, tuple(rows), frozenset(strong))


PARTS = st.one_of(
    st.builds(Heading, LONG, st.sampled_from([1, 2])),
    st.builds(Paragraph, LONG, st.sampled_from(["plain", "strong", "soft", "caution"])),
    st.builds(Bullets, st.lists(LONG, max_size=4).map(tuple)),
    st.builds(Facts, st.lists(st.tuples(LONG, LONG), max_size=3).map(tuple)),
    st.builds(Signatures, st.lists(st.tuples(WORDS, LONG), max_size=3).map(tuple)),
    tables(),
)


def document(parts: list[Part], name: str = "Name", paper: PaperSize = A4) -> Document:
    """Return a document of some parts."""
    cover = Facts((("client", name), ("address", name)))
    return Document(name, name, name, "INVENTED DATA", name, "Caution.", cover, tuple(parts), paper)


def outside(sheet: Sheet) -> list[Label]:
    """Return the labels of a sheet that leave it."""
    found = []
    for item in sheet.page:
        if isinstance(item, Label):
            wide = width_mm(item.text, item.size_pt, item.bold)
            left = item.x - {"left": 0.0, "centre": wide / 2.0, "right": wide}[item.across]
            right = sheet.width_mm - MARGIN_MM
            inside = left >= MARGIN_MM - 0.3 and left + wide <= right + 0.3
            if not (inside and 4.0 <= item.y <= sheet.height_mm):
                found.append(item)
    return found


@settings(max_examples=20)
@given(st.lists(PARTS, max_size=5), LONG, st.sampled_from([A4, LETTER]))
def test_nothing_leaves_its_page_whatever_is_written(
    parts: list[Part], name: str, paper: PaperSize
) -> None:
    sheets = report_sheets(document(parts, name, paper), HouseStyle(name="House " * 60))
    for number, sheet in enumerate(sheets, start=1):
        assert (sheet.width_mm, sheet.height_mm) == paper.sides(tall=True)
        assert not outside(sheet)
        told = [item.text for item in sheet.page if isinstance(item, Label)]
        assert f"page {number} of {len(sheets)}" in told


@settings(max_examples=20)
@given(tables(), st.sampled_from([A4, LETTER]))
def test_columns_share_the_whole_width(table: Table, paper: PaperSize) -> None:
    widths = widths_of(table, inner_mm(paper))
    assert sum(widths) == pytest.approx(inner_mm(paper))
    assert all(width > 0.0 for width in widths)


def test_a_table_over_pages_has_its_head_on_each_and_keeps_every_row() -> None:
    rows = tuple((f"row{k}", "some words") for k in range(200))
    table = Table("Many", (TableColumn("first", 1.0), TableColumn("second", 2.0)), rows)
    sheets = report_sheets(document([table]), HouseStyle())[1:]
    told = [[item.text for item in one.page if isinstance(item, Label)] for one in sheets]
    assert len(sheets) > 2
    assert all("first" in one and any(text.startswith("Many") for text in one) for one in told)
    assert [text for one in told for text in one if text.startswith("row")] == [r[0] for r in rows]


def test_the_contents_name_the_page_that_a_section_begins_on(written: Written) -> None:
    pages = [page.extract_text() for page in PdfReader(written.folder / "report.pdf").pages]
    for title in ("Summary", "Method", "Signatures", "Limits of this survey"):
        found = re.search(rf"^{title}\s*(\d+)\s*$|^(\d+)\s*{title}\s*$", pages[0], re.MULTILINE)
        assert found, pages[0]
        number = int(found[1] or found[2])
        assert title in [line.strip() for line in pages[number - 1].splitlines()]


def test_the_pdf_is_numbered_searchable_and_says_what_it_is(written: Written) -> None:
    reader = PdfReader(written.folder / "report.pdf")
    count = len(reader.pages)
    assert count > 5
    for number, page in enumerate(reader.pages, start=1):
        assert f"page {number} of {count}" in " ".join(page.extract_text().split())
        fonts = page["/Resources"]["/Font"].values()
        assert fonts
        for font in fonts:
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()
    about = reader.metadata
    assert about is not None
    assert about.title == "Test building (invented): Report of the survey: first, 1 March 2026"
    assert about.author == "Surveyor (invented)"


def test_the_same_survey_gives_the_same_bytes(
    written: Written, small_site: Path, tmp_path: Path
) -> None:
    run = report_site(small_site, options(out=tmp_path, rule="every-reading-below"))
    assert [one.name for one in run.files] == ["report.pdf", "report.docx", "report.html"]
    for one in run.files:
        assert one.read_bytes() == (written.folder / one.name).read_bytes(), one.name


def test_a_sheet_keeps_its_scale_in_the_docx_and_no_page_is_left_empty(written: Written) -> None:
    word = docx.Document(str(written.folder / "report.docx"))
    mapped = [page for page in word.sections if page.page_width > page.page_height]
    maps = [one for floor in written.run.survey.floors for _, one in floor.sheets]
    assert len(mapped) == len(maps) > 0
    pictures = {(shape.width, shape.height) for shape in word.inline_shapes}
    for page, sheet in zip(mapped, maps, strict=True):
        assert page.page_width == pytest.approx(Mm(sheet.width_mm), abs=TWIP)
        assert page.page_height == pytest.approx(Mm(sheet.height_mm), abs=TWIP)
        # what is left and right of the picture is the sheet's own empty edge: nothing is stretched
        edge = page.left_margin + page.right_margin
        assert any(
            width == pytest.approx(page.page_width - edge, abs=2 * TWIP)
            and height == pytest.approx(page.page_height - edge, abs=2 * TWIP)
            for width, height in pictures
        )
    breaks = word.element.body.findall(f".//{qn('w:pPr')}/{qn('w:sectPr')}")
    assert len(breaks) == len(word.sections) - 1
    for one in breaks:
        paragraph = one.getparent().getparent()
        assert "".join(paragraph.itertext()) or paragraph.findall(f".//{qn('w:drawing')}")


def test_every_section_has_its_bookmark_in_order(written: Written) -> None:
    reader = PdfReader(written.folder / "report.pdf")
    titles = [str(one["/Title"]) for one in reader.outline]
    heads = [
        one.text for one in write_up(written.run.survey).parts
        if isinstance(one, Heading) and one.depth == 1
    ]  # fmt: skip
    assert [one for one in titles if one in heads] == heads
    pages = [reader.get_destination_page_number(one) for one in reader.outline]
    assert pages == sorted(pages)
    for one, page in zip(titles, pages, strict=True):
        if one in heads:
            assert one in " ".join(reader.pages[page].extract_text().split())


def test_every_sheet_is_listed_with_the_scale_that_stands_on_it(written: Written) -> None:
    (listed,) = (one for one in write_up(written.run.survey).parts
                 if isinstance(one, Table) and one.caption == "The sheets on paper")  # fmt: skip
    sheets = [one for floor in written.run.survey.floors for _, one in floor.sheets]
    assert len(listed.rows) == len(sheets) > 0
    for (name, which, scale, _), sheet in zip(listed.rows, sheets, strict=True):
        assert f"sheet {which}" in texts(sheet)
        assert name.removesuffix(", zones") in sheet.title
        assert any(text.startswith(f"{scale} on ") for text in texts(sheet))
