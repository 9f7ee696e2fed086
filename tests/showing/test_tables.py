"""What objects show as HTML: escaped, of a sensible length, with nothing from elsewhere."""

from __future__ import annotations

from dataclasses import replace
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.showing import html_of
from hgmap.showing.markup import MOST_NOTES, MOST_ROWS, Notes, Table, page
from tests.showing.conftest import HOSTILE, Held

TAGS = {"div", "table", "thead", "tbody", "tr", "th", "td", "ul", "li", "span"}


class Seen(HTMLParser):
    """Tags, attributes and text of a page; every tag has to be closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.open: list[str] = []
        self.text = ""
        self.feed(text)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


def things(held: Held) -> dict[str, Any]:
    ground = held.run.floors[0]
    return {
        "site": held.site, "floor": held.site.floors[0], "check": held.check,
        "quality": held.run.quality, "level": held.run.level, "run": held.run, "map": ground,
        "evidence": ground.evidence, "surface": ground.surface, "zones": ground.zones,
        "places": ground.resample, "comparison": held.change, "change": held.change.floors[0],
        "clearance": held.cleared, "at a level": held.cleared.levels[0], "design": held.design,
        "walk": held.design.floors[0],
    }  # fmt: skip


NAMES = ("site", "floor", "check", "quality", "level", "run", "map", "evidence", "surface", "zones",
         "places", "comparison", "change", "clearance", "at a level", "design", "walk")  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_an_object_shows_itself_as_tables_and_loads_and_runs_nothing(held: Held, name: str) -> None:
    text = things(held)[name]._repr_html_()
    seen = Seen(text)
    assert seen.tags <= TAGS
    assert {key for key, _ in seen.attributes} == {"style"}
    styles = " ".join(value or "" for _, value in seen.attributes)
    assert "url(" not in styles
    assert " color:" not in f" {styles}".replace(";", "; ")  # ink is the notebook's, light or dark
    assert "background" not in styles or "background:#" in styles
    assert len(text) < 100_000


def test_a_room_that_is_called_a_script_is_shown_by_that_name(held: Held) -> None:
    for name in ("floor", "map", "zones", "change", "clearance", "walk"):
        text = things(held)[name]._repr_html_()
        assert "<script" not in text, name
        assert "<script>alert(1)</script> & \"q\" 'p' $x$" in Seen(text).text, name
    assert "\u202e" not in things(held)["map"]._repr_html_()  # it would turn the line around
    assert "<i>nowhere</i>" in Seen(held.check._repr_html_()).text
    assert HOSTILE not in things(held)["map"]._repr_html_()


@given(st.text(max_size=60), st.text(max_size=60), st.lists(st.text(max_size=20), max_size=40))
def test_no_text_becomes_a_tag(title: str, cell: str, texts: list[str]) -> None:
    parts = (Table(("a", cell), [(cell, one) for one in texts], title), Notes(title, texts))
    seen = Seen(page(title, [cell], *parts))
    assert seen.tags <= TAGS
    assert {key for key, _ in seen.attributes} == {"style"}
    for one in (title, cell):
        kept = "".join(c for c in one if c.isprintable())
        assert kept in seen.text.replace("\n", "").replace("\t", "")


@given(st.text(min_size=1, max_size=40))
def test_a_level_of_any_name_is_shown_by_it(held: Held, name: str) -> None:
    level = replace(held.run.level, name=name, source=name)
    seen = Seen(html_of(level))
    assert seen.tags <= TAGS
    kept = "".join(c for c in name if c.isprintable())
    assert kept in seen.text.replace("\n", "").replace("\t", "")


def test_a_long_table_says_how_much_is_left_out() -> None:
    rows = [(number,) for number in range(MOST_ROWS + 7)]
    seen = Seen(
        page("long", [], Table(("n",), rows, more="elsewhere"), Notes("all", map(str, range(99))))
    )
    assert "and 7 more rows: elsewhere" in seen.text
    assert f"and {99 - MOST_NOTES} more" in seen.text


def test_zones_are_named_with_their_areas_and_the_level_with_its_source(held: Held) -> None:
    ground = held.run.floors[0]
    text = Seen(ground.zones._repr_html_()).text
    for zone in ground.zones.zones:
        assert zone.id in text
        assert f"{zone.area_m2:.1f}" in text
    assert f"{held.run.level.value:g} {held.run.level.unit}" in text
    assert held.run.level.source in text


def test_a_clearance_shows_each_room_with_its_word_and_what_is_missing(held: Held) -> None:
    text = Seen(held.cleared._repr_html_()).text
    for level in held.cleared.levels:
        for room in level.rooms:
            assert room.outcomes[0].ruling.outcome in text
    assert "The health agency says who may return." in text
    assert "instrument log" in text


def test_what_is_none_of_ours_is_shown_by_its_escaped_name() -> None:
    class Odd:
        def __repr__(self) -> str:
            return "<b>"

    assert html_of(Odd()) == "&lt;b&gt;"
