"""A house style adds to ours, and is refused in one line where it cannot be used."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import docx
import pytest
from PIL import Image

from hgmap.errors import SiteError
from hgmap.report.document.style import HouseStyle, read_style
from hgmap.site.cautions import screening
from hgmap.survey_report import report_site
from tests.report.document.conftest import Written, options, read_back

WHOLE = """
name = "Invented Surveyors"
logo = "logo.png"
logo_height_mm = 12
cautions = ["Read with the scope of work.", "A copy is no original."]

[colours]
heading = "#204A87"
table_head = "#e3ebf5"
rule = "#9fb3c4"
"""


@pytest.fixture
def house(tmp_path: Path) -> Callable[[str], Path]:
    """Return a function that writes a style file beside a logo."""
    folder = tmp_path / "house"
    folder.mkdir()
    Image.new("RGB", (90, 30), "#204a87").save(folder / "logo.png")
    Image.new("RGBA", (90, 30), (0, 0, 0, 0)).save(folder / "clear.png")
    Image.new("RGB", (90, 30), "#fdfdfd").save(folder / "white.png")
    Image.new("RGB", (3000, 2), "#204a87").save(folder / "line.png")

    def write(text: str) -> Path:
        (folder / "house.toml").write_text(text, "utf-8")
        return folder / "house.toml"

    return write


def test_a_whole_style_is_read(house: Callable[[str], Path]) -> None:
    style = read_style(house(WHOLE))
    assert style.name == "Invented Surveyors"
    assert style.heading == "#204a87"
    assert style.logo is not None
    assert (style.logo.width_mm, style.logo.height_mm) == (36.0, 12.0)
    assert len(style.cautions) == 2


def test_a_name_over_several_lines_is_one_line(house: Callable[[str], Path]) -> None:
    assert read_style(house('name = """Invented\n  Surveyors"""')).name == "Invented Surveyors"


def test_nothing_need_be_said(house: Callable[[str], Path]) -> None:
    assert read_style(house("")) == HouseStyle()


def test_the_house_adds_to_our_cautions_and_shows_in_every_format(
    house: Callable[[str], Path], small_site: Path, tmp_path: Path, written: Written
) -> None:
    out = tmp_path / "out"
    found = read_back(report_site(small_site, options(out=out, style=house(WHOLE))))
    for ending, text in found.text.items():
        for told in ("Read with the scope of work.", "A copy is no original.", screening("air"),
                     "Invented Surveyors"):  # fmt: skip
            assert told in text, (ending, told)
        assert "scope of work" not in written.text[ending]
    logos = [about for tag, about in found.page.tags if tag == "img"]
    assert [one["alt"] for one in logos] == ["Invented Surveyors"]
    assert "#204a87" in "".join(found.page.within["style"])
    word = docx.Document(str(out / "report.docx"))
    assert str(word.styles["Heading 1"].font.color.rgb) == "204A87"
    pictures = len(docx.Document(str(written.folder / "report.docx")).inline_shapes)
    assert len(word.inline_shapes) == pictures + 1


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('logoo = "logo.png"', "key 'logoo' is not known; did you mean 'logo'?"),
        ('[colours]\nheadnig = "#000000"', "key 'colours.headnig' is not known; did you mean"),
        ("nothing_like_it = 1", "known keys: cautions, colours, logo"),
        ('[colours]\nheading = "blue"', "a colour as #rrggbb"),
        ('[colours]\nheading = "#ffff99"', "hard to read on white paper"),
        ('[colours]\ntable_head = "#202020"', "a lighter colour"),
        ('cautions = "one text"', "a list in square brackets, found 'one text'"),
        ("cautions = [1]", "a text in quotes, found 1"),
        (f"cautions = {['one'] * 13}", "at most 12 of them"),
        ("colours = 3", "key 'colours': a table, found 3"),
        ('logo = ""', "1 or more letters"),
        ('[colours]\nrule = "#fefefe"', "lines of this one vanish on white paper"),
        ('logo = "clear.png"', "cannot be seen on white paper"),
        ('logo = "white.png"', "cannot be seen on white paper"),
        ('logo = "line.png"', "would be printed 100 mm wide and 0.067 mm high"),
        ('cautions = ["This building is safe."]', "another wording"),
        ('cautions = [" "]', "texts of 1 to 1000 letters"),
        ("logo_height_mm = 400", "at most 40, found 400"),
        ('logo = "../logo.png"', "lies outside the folder of the style file"),
        ('logo = "/etc/hostname"', "lies outside"),
        ('logo = "no.png"', "no such file"),
        ('logo = "house.toml"', "is no PNG or JPEG picture"),
        ("name = ", "TOML syntax"),
    ],
)
def test_what_cannot_be_used_is_said_in_one_line(
    house: Callable[[str], Path], text: str, told: str
) -> None:
    with pytest.raises(SiteError) as error:
        read_style(house(text))
    assert told in str(error.value)
    assert "\n" not in str(error.value)


def test_a_logo_that_is_a_link_out_of_the_folder_is_refused(house: Callable[[str], Path]) -> None:
    style = house('logo = "link.png"')
    outside = style.parent.parent / "outside.png"
    Image.new("RGB", (9, 9)).save(outside)
    (style.parent / "link.png").symlink_to(outside)
    with pytest.raises(SiteError, match="lies outside"):
        read_style(style)


def test_a_logo_of_too_many_pixels_is_not_unpacked(house: Callable[[str], Path]) -> None:
    style = house('logo = "big.png"')
    Image.new("1", (5000, 5000)).save(style.parent / "big.png")
    with pytest.raises(SiteError, match="too many"):
        read_style(style)


def test_half_a_picture_is_said_to_be_one(house: Callable[[str], Path]) -> None:
    style = house('logo = "half.png"')
    whole = (style.parent / "logo.png").read_bytes()
    (style.parent / "half.png").write_bytes(whole[: len(whole) // 2])
    with pytest.raises(SiteError, match="picture"):
        read_style(style)
