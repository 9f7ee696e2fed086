"""``hgmap report``: which files, and what happens where it cannot be done."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import docx
import pytest
from pypdf import PdfReader

NAMES = {
    "markup": "<script>alert(1)</script> & $x^2$ \\\\frac",
    "right to left": "مدرسة שלום",
    "Chinese": "学校一楼",
    "three hundred letters": "Long name " * 30,
    "one word of three hundred letters": "x" * 300,
}


STAMP = "report-made-from.json"


def everything(folder: Path) -> list[str]:
    """Return the names of all files below a folder that have their final name."""
    names = (str(one.relative_to(folder)) for one in folder.rglob("*") if one.is_file())
    return sorted(one for one in names if not one.startswith(".unfinished"))


def test_three_files_where_nothing_is_said(make_site: Callable[..., Path], run: Callable) -> None:
    site = make_site()
    found = run("report", site, "--cell", 1)
    assert found.code == 0, found.text
    folder = site / "results" / "first"
    assert everything(folder) == [STAMP, "report.docx", "report.html", "report.pdf"]
    assert "written: " in found.out
    assert "Screening of the air" in found.out


def test_only_the_formats_asked_for(
    make_site: Callable[..., Path], run: Callable, tmp_path: Path
) -> None:
    site, out = make_site(), tmp_path / "out"
    assert run("report", site, "--cell", 1, "--to", "html", "--out", out).code == 0
    assert everything(out) == [STAMP, "report.html"]
    assert run("report", site, "--to", "odt").code == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--rule", "no-such-rule"), "no-such-rule"),
        (("--round", "never"), "no round 'never'"),
        (("--style", "nowhere.toml"), "no such file"),
        (("--level", "nonsense"), "nonsense"),
        (("--floor", "attic"), "no floor 'attic'"),
    ],
)
def test_what_is_not_there_is_one_line_and_leaves_nothing(
    make_site: Callable[..., Path], run: Callable, words: tuple[str, ...], told: str
) -> None:
    site = make_site()
    before = everything(site)
    found = run("report", site, *words)
    assert found.code == 2
    assert told in found.err
    assert everything(site) == before


def test_any_name_can_be_printed(
    make_site: Callable[..., Path], run: Callable, make_plan: Callable, make_room: Callable
) -> None:
    """Every kind of name at once: of the site, its rooms, its client and its people."""
    rooms = [make_room(f"A{k}", 3 * k, 0, 3 * k + 3, 5) for k in range(len(NAMES))]
    for room, name in zip(rooms, NAMES.values(), strict=True):
        room["properties"]["name"] = name
    site = make_site(plans={"ground": make_plan(*rooms)})
    toml = (site / "site.toml").read_text("utf-8")
    toml = toml.replace('name = "Test building (invented)"', f"name = '{NAMES['markup']}'")
    block = zip(("client", "address", "project", "prepared_by", "reviewed_by"), NAMES.values(),
                strict=True)  # fmt: skip
    lines = "\n".join(f"{key} = '{name}'" for key, name in block)
    (site / "site.toml").write_text(f"{toml}\n[title_block]\n{lines}\n", "utf-8")
    found = run("report", site, "--cell", 1, "--to", "pdf", "--to", "html")
    assert found.code in (0, 1), found.text
    page = (site / "results/first/report.html").read_text("utf-8")
    assert page.count("<script>") == 1
    for name in NAMES.values():
        shown = name.strip().replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        assert shown in page
    first = PdfReader(site / "results/first/report.pdf").pages[0].extract_text()
    assert "letters of another script are printed as" in first
    assert first.count("…") == 2, "the two names of 300 letters are cut, and no other"


def test_a_floor_that_cannot_be_mapped_is_named_and_the_others_go_on(
    make_site: Callable[..., Path], run: Callable, make_plan: Callable, make_rows: Callable,
    make_table: Callable,
) -> None:  # fmt: skip
    site = make_site(plans={"ground": make_plan(), "attic": b"no plan"})
    found = run("report", site, "--cell", 1, "--to", "html")
    assert found.code == 1
    assert "not made: " in found.out
    page = (site / "results/first/report.html").read_text("utf-8")
    assert "attic: no map was made" in page
    assert page.count("attic: cannot tell: no room of it was ruled on or is counted") == 2


def test_a_building_without_a_floor_to_map_gets_no_report(
    make_site: Callable[..., Path], run: Callable
) -> None:
    site = make_site(plans={"attic": b"no plan"})
    found = run("report", site)
    assert found.code == 2
    assert "attic" in found.err or "plans/0.geojson" in found.err
    assert not (site / "results").exists()


def test_a_folder_that_cannot_be_written_is_one_line(
    make_site: Callable[..., Path], run: Callable, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("in the way")
    found = run("report", make_site(), "--cell", 1, "--to", "html", "--out", tmp_path / "file/x")
    assert found.code == 2
    assert "cannot be written" in found.err
    assert (tmp_path / "file").read_text() == "in the way"


def test_a_full_disk_leaves_the_old_report_whole(
    make_site: Callable[..., Path], run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site, out = make_site(), tmp_path / "out"
    out.mkdir()
    for ending in ("docx", "html"):
        (out / f"report.{ending}").write_text("old")

    def full(path: Path, data: bytes) -> None:
        if path.suffix == ".html":
            path.write_bytes(data[:100])
            raise OSError(errno.ENOSPC, "No space left on device")
        path.write_bytes(data)

    monkeypatch.setattr("hgmap.site.files._fill", full)
    found = run("report", site, "--cell", 1, "--out", out, "--to", "docx", "--to", "html")
    assert found.code == 2
    assert "No space left on device" in found.err
    assert everything(out) == ["report.docx", "report.html"]
    assert {(out / name).read_text() for name in everything(out)} == {"old"}


def test_bulk_samples_get_a_report_that_rules_on_no_room(
    make_site: Callable[..., Path], run: Callable, make_rows: Callable, make_table: Callable
) -> None:
    rows = [row.replace("ug/m3", "mg/kg") for row in make_rows()]
    level = 'value = 3\nunit = "mg/kg"\naveraging = "none"\nheight = "any"\n'
    level += 'scenario = "a test"\nsource = "stated for a test"'
    site = make_site(top='medium = "bulk"', level=level, readings={"first.csv": make_table(rows)})
    found = run("report", site, "--cell", 1, "--to", "html")
    assert found.code in (0, 1), found.text
    page = (site / "results/first/report.html").read_text("utf-8")
    assert "Cannot tell yet: " in page
    assert "clearance is by breathing-zone readings of air" in page


def test_on_tabloid_the_sheets_are_as_large_as_they_are_asked_for_and_the_text_is_on_letter(
    make_site: Callable[..., Path], run: Callable, tmp_path: Path
) -> None:
    asked = ("report", make_site(), "--cell", 1, "--to", "pdf", "--to", "docx", "--out", tmp_path)
    assert run(*asked, "--paper", "tabloid", "--sheets", "--scale", 50).code == 0
    pages = PdfReader(tmp_path / "report.pdf").pages
    sizes = {tuple(round(float(side) / 72, 1) for side in page.mediabox[2:]) for page in pages}
    assert sizes == {(8.5, 11.0), (17.0, 11.0)}
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "1 : 50 on Tabloid paper" in text
    assert "uncertainty and where more readings help" in text
    wide = [one.page_width.inches for one in docx.Document(str(tmp_path / "report.docx")).sections]
    assert min(wide) == pytest.approx(8.5, abs=0.01)
    assert max(wide) == pytest.approx(17.0, abs=0.01)
    assert run(*asked, "--scale", 1).code == 2, "a scale that does not fit is refused"
