"""What is urgent is done before what is not, by hands that are busy."""

from __future__ import annotations

from threading import Event

from hypothesis import given
from hypothesis import strategies as st

from hgmap.desktop.hands import Hands, Haste
from tests.desktop.patience import SLOW_S


def wait_for(event: Event) -> None:
    event.wait(SLOW_S)


@given(st.lists(st.sampled_from(Haste), max_size=12))
def test_the_most_urgent_of_what_waits_is_done_first_and_else_what_came_first(
    asked: list[Haste],
) -> None:
    hands, free, done = Hands(1, "test"), Event(), list[tuple[Haste, int]]()
    hands.give(lambda: wait_for(free))
    for number, haste in enumerate(asked):
        hands.give(lambda one=(haste, number): done.append(one), haste)  # type: ignore[misc]
    free.set()
    hands.wait()
    assert done == sorted((haste, number) for number, haste in enumerate(asked))
