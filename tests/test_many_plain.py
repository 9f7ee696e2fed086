"""Records as JSON and back: nothing is lost on the way, and nothing foreign comes in."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as npst

from hgmap.errors import HgmapError
from hgmap.floor_map import MapOptions
from hgmap.many.plain import from_plain, to_plain
from hgmap.site.model import Problem

plain = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text() | st.dates()
    | st.datetimes(),
    lambda inner: st.lists(inner, max_size=4)
    | st.lists(inner, max_size=4).map(tuple)
    | st.dictionaries(st.text(), inner, max_size=4)
    | st.builds(Problem, st.just("note"), st.text(), st.text()),
    max_leaves=20,
)  # fmt: skip


@given(plain)
def test_plain_values_and_records_come_back_as_they_were(value: Any) -> None:
    back = from_plain(to_plain(value))
    assert back == value
    assert type(back) is type(value)


@given(npst.arrays(st.sampled_from([np.dtype(one) for one in ("f8", "i4", "u1", "?")]),
                   npst.array_shapes(min_dims=0, max_dims=3, min_side=0)))  # fmt: skip
def test_arrays_come_back_to_the_bit(array: Any) -> None:
    back = from_plain(to_plain(array))
    assert back.dtype == array.dtype
    assert back.shape == array.shape
    assert back.tobytes() == array.tobytes()


@given(st.tuples(*[st.floats(-1e9, 1e9)] * 6))
def test_geometries_come_back_to_the_bit(numbers: Any) -> None:
    shape = shapely.Polygon(np.reshape(numbers, (3, 2)))
    assert shapely.to_wkb(from_plain(to_plain(shape))) == shapely.to_wkb(shape)


def test_kinds_of_numbers_dates_and_paths_are_kept() -> None:
    value = (np.float64(0.1), np.int32(7), date(2026, 3, 2), datetime(2026, 3, 2, 9), Path("a/b"),
             float("inf"), frozenset({"b", "a"}))  # fmt: skip
    back = from_plain(to_plain(value))
    assert back == value
    assert [type(one) for one in back] == [type(one) for one in value]


def test_what_was_one_object_is_one_object_again() -> None:
    one = Problem("note", "here", "twice")
    first, second = from_plain(to_plain([one, one]))
    assert first is second


def test_the_same_value_gives_the_same_text() -> None:
    words = [f"w{k}" for k in range(50)]
    assert to_plain(frozenset(words)) == to_plain(frozenset(reversed(words)))


@pytest.mark.parametrize("value", [object(), {1, 2}, lambda: 0, np.array([object()])])
def test_what_cannot_be_read_back_is_not_written(value: Any) -> None:
    with pytest.raises(TypeError, match="cannot be kept"):
        to_plain(value)


@pytest.mark.parametrize(
    "record",
    [
        {"kind": "subprocess:Popen", "fields": {"args": ["true"]}},
        {"kind": "hgmap.cli.app:main", "fields": {}},
        {"kind": "hgmap.site.files:slug", "fields": {"name": "x"}},
        {"kind": "hgmap.floor_map:MapOptions", "fields": {"nothing": 1}},
        {"shape": "zz"},
        {"array": ["<f8", [3], "AAAA"]},
    ],
)
def test_records_of_others_and_damaged_ones_are_one_line(record: Any) -> None:
    text = json.dumps({"records": [record], "value": {"record": 0}})
    with pytest.raises(HgmapError, match="cannot be read"):
        from_plain(text)


def test_text_that_is_cut_off_is_one_line() -> None:
    text = to_plain(MapOptions(floors=("ground",)))
    for end in (0, 1, len(text) // 2, len(text) - 1):
        with pytest.raises(HgmapError, match="run again without --resume"):
            from_plain(text[:end])
