"""site.toml: every complaint names the key, its line, and the nearest known key."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import SiteError
from hgmap.site.schema import MapTable, SiteTable, parse_site_table

BAD = re.compile(r"name = '(x+)?'$|^value = (nan|0)|^\[\[level|^level =")


def complaint(text: str) -> str:
    with pytest.raises(SiteError) as caught:
        parse_site_table(text, where="site.toml")
    shown = str(caught.value)
    assert "\n" not in shown
    assert shown.startswith("site.toml: ")
    return shown


def test_a_name_is_enough_for_a_site_that_is_being_started() -> None:
    table = parse_site_table('name = "x"', where="site.toml")
    assert table == SiteTable(name="x")
    assert table.level is None
    assert table.use is None


def test_a_syntax_error_names_its_line() -> None:
    assert "line 2" in complaint('name = "x"\nuse = \n')


@pytest.mark.parametrize(
    ("text", "key", "line", "near"),
    [
        ('name = "x"\nlevl = 3', "levl", 2, "level"),
        ('name = "x"\n[map]\ncell = 0.1', "cell", 3, "cell_m"),
        ('name = "x"\n[title_block]\nclinet = "a"', "clinet", 3, "client"),
        ('name = "x"\n[[floors]]\nname = "g"\nplan = "p"\nnorth = 3', "north", 5, "north_deg"),
        ('name = "x"\n[[rounds]]\nname = "g"\nreading = ["p"]', "reading", 4, "readings"),
        ('name = "x"\n[readings]\ndetection_limits = "1"', "detection_limits", 3,
         "detection_limit"),
        ('name = "x"\n[map_frame]\ncrs = "a"\norigin_x = 1', "origin_x", 4, "origin_x_m"),
        ('name = "x"\n[level]\nvalue = 1\nunits = "ug/m3"', "units", 4, "unit"),
    ],
)  # fmt: skip
def test_an_unknown_key_is_refused_with_the_nearest_known_one(
    text: str, key: str, line: int, near: str
) -> None:
    shown = complaint(text)
    assert key in shown
    assert f"line {line}" in shown
    assert f"did you mean {near!r}?" in shown


def test_an_unknown_key_like_no_other_gets_the_list() -> None:
    shown = complaint('name = "x"\nqqqqqqq = 1')
    assert "known keys:" in shown
    assert "height_bands" in shown


def test_a_missing_key_is_named_without_the_line_of_another_one() -> None:
    assert complaint("invented = true") == "site.toml: key 'name' is missing"
    shown = complaint('name = "x"\n[[floors]]\nname = "g"\nplan = "p"\n[[floors]]\nplan = "q"\n')
    assert shown == "site.toml: key 'floors[2].name' is missing"


@pytest.mark.parametrize(
    "text",
    [
        'use = "castle"',
        'medium = "water"',
        "schema_version = 2",
        "[map]\ncell_m = 0",
        "[map]\ncell_m = -0.1",
        "[map]\ncell_m = nan",
        "[map]\ncell_m = inf",
        "[map]\nguard_m = -1",
        "[map]\nremediate_at = 1.0",
        "[map]\nmethod = 'guessing'",
        "[map]\nclear_at = nan",
        "[readings]\nheight_m = -1",
        "[level]\nvalue = nan\nunit = 'ug/m3'",
        "[level]\nvalue = 0\nunit = 'ug/m3'",
        "[[level]]\nvalue = 1",
        "[[rounds]]\nname = 'a'\ndate = 'the second of March'",
        "[[rounds]]\nname = 'a'\nreadings = 'a.csv'",
        "[[rounds]]\nname = ''",
        "[[floors]]\nname = ''\nplan = 'p'",
        f"[[floors]]\nname = '{'x' * 300}'\nplan = 'p'",
        "[[floors]]\nname = 'a'\nplan = 'p'\nnorth_deg = nan",
        "floors = 3",
        "rounds = ['a']",
        "level = 1.0",
    ],
)
def test_a_value_that_does_not_fit_is_refused_by_its_key(text: str) -> None:
    lines = text.splitlines()
    number = next((k for k, one in enumerate(lines) if BAD.search(one)), len(lines) - 1)
    key = lines[number].split("=")[0].strip("[ ]")
    shown = complaint(f'name = "x"\n{text}\n')
    assert key in shown
    assert f"(line {number + 2})" in shown


@pytest.mark.parametrize(
    ("rule", "why"),
    [
        ("clear_at = 0.21", "at most 0.2: ground with a greater chance"),
        ("clear_at = 0.9", "at most 0.2: "),
        ("remediate_at = 0.81", "at most 0.8: ground with a greater chance"),
        ("guard_m = 0.49", "at least 0.5: an estimate clears no ground nearer"),
        ("guard_m = 0", "at least 0.5: "),
    ],
)
def test_a_rule_that_is_off_is_refused_with_the_reason(rule: str, why: str) -> None:
    key, _, value = rule.split()
    shown = complaint(f'name = "x"\n[map]\n{rule}\n')
    assert f"key 'map.{key}' (line 3): {why}" in shown
    assert f"found {value}" in shown


@pytest.mark.parametrize("rule", ["clear_at = 0.2", "remediate_at = 0.8", "guard_m = 0.5"])
def test_a_rule_may_be_laxer_than_ours_within_limits(rule: str) -> None:
    table = parse_site_table(f'name = "x"\n[map]\n{rule}\n', where="site.toml")
    key, _, value = rule.split()
    assert getattr(table.map, key) == float(value)


NUMBERS = [key for key, one in MapTable.model_fields.items() if "float" in str(one.annotation)]


@pytest.mark.parametrize("word", ["true", "false"])
@pytest.mark.parametrize("key", NUMBERS)
def test_true_is_no_number_of_the_map(key: str, word: str) -> None:
    assert "tape_width_m" in NUMBERS
    shown = complaint(f'name = "x"\n[map]\n{key} = {word}\n')
    assert f"key 'map.{key}' (line 3): a number, not {word}" in shown


@pytest.mark.parametrize("text", [r'name = "a\u001b[31mb"', 'name="x"\nanalyte = "a\\u0000"'])
def test_a_control_character_in_a_text_is_refused(text: str) -> None:
    assert "control character" in complaint(text)


def test_lines_in_an_address_are_allowed() -> None:
    table = parse_site_table('name="x"\n[title_block]\naddress = """a\nb"""', where="site.toml")
    assert table.title_block.address == "a\nb"


@pytest.mark.parametrize(
    "text", ["a = " + "[" * 5000, "a = " + "{b=" * 5000, "n = " + "1" * 5000, "name = 1e999"]
)
def test_toml_made_to_break_a_reader_is_one_line(text: str) -> None:
    complaint(text)


@given(st.text(max_size=200))
def test_any_text_is_a_site_or_a_complaint(text: str) -> None:
    try:
        parse_site_table(text, where="site.toml")
    except SiteError as error:
        assert "\n" not in str(error)  # noqa: PT017
