"""The list of places beside the map: alike ones in turn are one row, and none is lost."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from hgmap.decide.model import ResampleList, ResamplePlace
from hgmap.report.column import Column
from hgmap.report.drawing import Label
from hgmap.report.legend import again_block, again_height

PLACE = ResamplePlace(1, "ground", "A", "Hall", 1.0, 1.0, 1.5, ("room without a reading",), 4.0)


def listed(reasons: list[str], high_mm: float = 400.0) -> list[str]:
    """Return the texts of a list of places in one room, each with its reason."""
    places = [replace(PLACE, rank=n, reasons=(why,)) for n, why in enumerate(reasons, start=1)]
    column = Column(0.0, high_mm, 70.0, 0.0)
    again_block(column, ResampleList(tuple(places)), 0.0)
    return [one.text for one in column.done() if isinstance(one, Label)]


def numbers(texts: list[str]) -> list[int]:
    """Return the numbers that some rows speak for."""
    found: list[int] = []
    for text in texts:
        first, _, last = text.partition("–")
        if first.isdecimal():
            found += range(int(first), int(last or first) + 1)
    return found


def test_places_that_say_the_same_in_turn_are_one_row() -> None:
    texts = listed(["first", "again", "again", "again", "other", "again"])
    assert [one for one in texts if one[0].isdecimal()] == ["1", "2–4", "5", "6"]
    assert sum("again" in one for one in texts if one.startswith("Hall")) == 2


@given(st.lists(st.sampled_from(["near", "far", "held"]), min_size=1, max_size=30),
       st.floats(12.0, 200.0))  # fmt: skip
def test_every_place_is_listed_or_counted(reasons: list[str], high_mm: float) -> None:
    texts = listed(reasons, high_mm)
    more = [int(one.split()[1]) for one in texts if one.startswith("and ")]
    shown = numbers(texts)
    assert shown == list(range(1, len(shown) + 1))
    assert len(shown) + sum(more) == len(reasons)


@given(st.lists(st.sampled_from(["near", "far"]), min_size=1, max_size=30))
def test_the_height_foreseen_holds_the_whole_list(reasons: list[str]) -> None:
    places = [replace(PLACE, rank=n, reasons=(why,)) for n, why in enumerate(reasons, start=1)]
    high = again_height(70.0, ResampleList(tuple(places)), 1e6)
    assert numbers(listed(reasons, high + 0.1)) == list(range(1, len(reasons) + 1))
