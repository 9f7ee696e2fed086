"""The search for dead cycles is off while files are read, and on again after the last of them."""

from __future__ import annotations

import gc

import pytest

from hgmap.site.collector import collector_off


def test_of_two_that_overlap_the_last_to_leave_turns_it_on_again() -> None:
    assert gc.isenabled()
    first, second = collector_off(), collector_off()
    first.__enter__()
    second.__enter__()
    first.__exit__(None, None, None)
    assert not gc.isenabled()
    second.__exit__(None, None, None)
    assert gc.isenabled()


def test_an_error_inside_leaves_it_on() -> None:
    with pytest.raises(ValueError, match="inside"), collector_off():
        raise ValueError("inside")
    assert gc.isenabled()


def test_one_that_was_off_stays_off() -> None:
    gc.disable()
    try:
        with collector_off():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
