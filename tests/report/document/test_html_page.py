"""The page of HTML needs no network, runs no script but its own, and shows every text as text."""

from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

import pytest

from hgmap.report.document.content import Document, Facts, Heading, Paragraph, Table, TableColumn
from hgmap.report.document.html_page import html_bytes
from hgmap.report.document.style import HouseStyle
from tests.report.document.conftest import Page, Written

EVIL = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style><script>1</script>",
    "&lt;b&gt; & 'quotes'",
    "\u202eright to left\x07",
    "学校 " * 150,
    "مدرسة שלום",
]


def test_nothing_is_fetched_from_elsewhere(written: Written) -> None:
    for tag, about in written.page.tags:
        assert tag not in ("link", "iframe", "object", "embed", "base", "form", "video", "audio")
        for name in ("src", "href", "xlink:href", "srcset", "action", "data"):
            where = about.get(name)
            assert where is None or where.startswith(("#", "data:image/png;base64,")), (tag, where)
        assert not [name for name in about if name.startswith("on")]
    looks = "".join(written.page.within["style"])
    assert not re.search(r"url\(|@import", looks)


def test_no_script_runs_but_the_one_that_its_head_names(written: Written) -> None:
    policy = next(
        about["content"] for tag, about in written.page.tags
        if tag == "meta" and about.get("http-equiv") == "Content-Security-Policy"
    )  # fmt: skip
    assert policy is not None
    assert policy.startswith("default-src 'none'")
    for tag in ("script", "style"):
        assert [one for one, _ in written.page.tags].count(tag) == 1
        text = "".join(written.page.within[tag])
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy


@pytest.mark.parametrize("text", EVIL)
def test_whatever_is_written_shows_as_text(text: str) -> None:
    table = Table(text, (TableColumn(text, 1.0),), ((text,),))
    parts = (Heading(text), Paragraph(text), table, Facts(((text, text),)))
    document = Document(text, text, text, text, text, text, Facts(((text, text),)), parts)
    page = Page(html_bytes(document, HouseStyle(name=text)).decode())
    tags = [tag for tag, _ in page.tags]
    assert tags.count("script") == tags.count("style") == 1
    assert "img" not in tags
    shown = text.replace("\x07", " ").strip()
    cells = page.within["td"] + page.within["h2"] + page.within["dd"]
    assert all(one.strip() == shown for one in cells)
    assert len(cells) == 4


def test_every_zone_place_and_reading_can_be_asked(written: Written) -> None:
    one = written.run.survey.floors[0]
    kinds = [about["class"] for tag, about in written.page.tags
             if (about.get("class") or "").startswith("t ")]  # fmt: skip
    assert kinds.count("t zone") == len(one.zones.zones)
    assert kinds.count("t place") == len(one.resample.places)
    spots = {(i.reading.x, i.reading.y) for i in one.evidence.items if i.reading.x is not None}
    assert kinds.count("t reading") == len(spots)
    titles = " ".join(written.page.within["title"])
    for item in one.evidence.items:
        assert f"{item.reading.id}: " in titles
    assert "stones" in titles, "a held reading says why it is held"


def test_it_fits_a_phone(written: Written) -> None:
    metas = [about for tag, about in written.page.tags if tag == "meta"]
    assert {"name": "viewport", "content": "width=device-width, initial-scale=1"} in metas
    plan = next(about for tag, about in written.page.tags if tag == "svg" and "height" in about)
    assert plan["viewbox"]
    circles = [about for tag, about in written.page.tags
               if tag == "circle" and about.get("class") == "t reading"]  # fmt: skip
    px_per_mm = 96 / 25.4
    assert all(2 * float(one["r"] or 0) * px_per_mm >= 24 for one in circles)


def test_the_report_stays_small(written: Written) -> None:
    for name, most in (("report.html", 2**20), ("report.pdf", 2**20), ("report.docx", 2**22)):
        assert Path(written.folder / name).stat().st_size < most


def test_every_sign_of_the_plan_is_in_its_key(written: Written) -> None:
    """What the plan has and the key has not is a riddle on a phone."""
    assert any(one.resample.places for one in written.run.survey.floors)
    assert "measure again here, number 1 first" in written.text["html"]


def test_the_name_of_a_row_stays_in_sight_on_a_phone(written: Written) -> None:
    looks = "".join(written.page.within["style"])
    narrow = looks.split("@media (max-width: 560px)")[-1]
    assert re.search(r"tr > :first-child \{ position: sticky; left: 0;", narrow)
