"""Answers that are remembered: a column of a million cells holds few that differ."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Final, Generic, TypeVar

Key = TypeVar("Key", bound=Hashable)
Answer = TypeVar("Answer")

MOST_REMEMBERED: Final = 200_000


class Memo(dict[Key, Answer], Generic[Key, Answer]):
    """A dictionary that finds out what it does not know.

    Examples
    --------
    >>> squares = Memo(lambda number: number**2)
    >>> [squares[3], squares[3], len(squares)]
    [9, 9, 1]
    """

    def __init__(self, find: Callable[[Key], Answer]) -> None:
        super().__init__()
        self._find = find

    def __missing__(self, key: Key) -> Answer:
        """Find out, and remember."""
        if len(self) >= MOST_REMEMBERED:
            self.clear()
        answer = self[key] = self._find(key)
        return answer
