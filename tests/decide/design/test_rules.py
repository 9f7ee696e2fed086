"""The rules of a design, and files of rules that cannot be used."""

from __future__ import annotations

from importlib import resources
from typing import get_args

import pytest

from hgmap.decide.design.rules import FILE, load_design_rules, parse_design_rules
from hgmap.errors import SiteError
from hgmap.site.model import Use

TEXT = resources.files("hgmap.decide.design").joinpath(FILE).read_text(encoding="utf-8")


def test_the_rules_that_come_along_say_who_says_so() -> None:
    rules = load_design_rules()
    every = (rules.walls, *rules.minimum, *rules.height, rules.background, rules.field_blank,
             rules.duplicate)  # fmt: skip
    assert all(one.source for one in every)
    # a number of readings a room is nobody's regulation
    assert all("common practice, no source" in one.source for one in rules.minimum)


@pytest.mark.parametrize("use", [None, *get_args(Use)])
def test_every_room_has_a_place_and_larger_ones_never_fewer(use: Use | None) -> None:
    rules = load_design_rules()
    counts = [rules.places_in(area, use)[0] for area in (0.1, 5, 15, 15.01, 40, 80, 400)]
    assert counts[0] == 1
    assert counts == sorted(counts)


def test_an_unknown_use_asks_for_most_and_for_every_height() -> None:
    rules = load_design_rules()
    for use in get_args(Use):
        assert rules.places_in(137.0, None)[0] >= rules.places_in(137.0, use)[0]
        assert set(rules.heights_for(use)) <= set(rules.heights_for(None))


def test_children_are_read_for_where_children_are() -> None:
    rules = load_design_rules()
    for use, wanted in (("school", True), ("child care", True), ("industrial", False)):
        names = [one.name for one in rules.heights_for(use)]  # type: ignore[arg-type]
        assert ("child breathing zone" in names) is wanted


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[walls]", "[walls", "TOML syntax"),
        ("margin_m = 0.6", "margin_m = -1", "walls.margin_m"),
        ("margin_m = 0.6", "margin_m = 0.6\nwide = 1", "walls.wide"),
        ("area_for_a_place_m2 = 80", "area_for_a_place_m2 = 0", "minimum.4.area_for_a_place_m2"),
        ('uses = ["industrial"]', 'uses = ["commercial"]', "2 minimums hold for 'commercial'"),
        ('uses = ["commercial"]', 'uses = ["theatre"]', "minimum.3.uses"),
        ("child breathing zone", "adult breathing zone", "a height stands twice"),
        ("one_in = 10", "one_in = 0", "duplicate.one_in"),
        ('height_m = 1.5\nevery = "place"', 'height_m = 1.5\nevery = "room"', "no height"),
    ],
)
def test_rules_that_cannot_be_used_are_refused(old: str, new: str, says: str) -> None:
    assert old in TEXT
    with pytest.raises(SiteError, match=says):
        parse_design_rules(TEXT.replace(old, new, 1), where="mine.toml")
