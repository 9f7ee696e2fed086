"""The repairs of one floor: ticked is made, unticked is refused; and what to look at."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final

from hgmap.desktop.tables.tick_table import TickRow
from hgmap.desktop.words import tr
from hgmap.report.drawing import Pen
from hgmap.scene.numbered_signs import NumberedSign

if TYPE_CHECKING:
    from hgmap.site.importers.found_plan import PlanDoubt, PlanRepair

DOUBT: Final = Pen("#00508a", 2.4, (1.2, 1.8))


class RepairList:
    """The repairs of one floor, by the number that each had when it was first listed.

    That number is the command line's, too. A repair that is needed only because another one was
    refused comes last; one that is no longer needed keeps its number and is not shown. What has to
    be looked at is numbered after all of them.
    """

    def __init__(self) -> None:
        self.known: dict[str, PlanRepair] = {}
        self.refused: frozenset[str] = frozenset()
        self.doubts: tuple[PlanDoubt, ...] = ()
        self._made: frozenset[str] = frozenset()

    def take(self, made: Iterable[PlanRepair], doubts: Iterable[PlanDoubt] = ()) -> None:
        """Take the repairs that were made, now that some are refused, and what is in doubt."""
        self.doubts = tuple(doubts)
        found = {one.key: one for one in made}
        self._made = frozenset(found)
        self.known |= {key: one for key, one in found.items() if key not in self.known}

    def refuse(self, key: str, *, refused: bool) -> None:
        """Refuse a repair, or let it be made again."""
        self.refused = self.refused | {key} if refused else self.refused - {key}

    @property
    def shown(self) -> tuple[tuple[int, PlanRepair], ...]:
        """Return the repairs to show, each with its number."""
        return tuple(
            (number, one)
            for number, (key, one) in enumerate(self.known.items(), start=1)
            if key in self._made or key in self.refused
        )

    @property
    def rows(self) -> tuple[TickRow, ...]:
        """Return them as rows of a table, and what to look at."""
        repairs = (
            TickRow(one.text, str(number), one.key, one.key not in self.refused, one.place)
            for number, one in self.shown
        )
        looks = (
            TickRow(tr("Look: {text}", text=one.text), number, one.key, None, one.place)
            for number, one in self._numbered_doubts()
        )
        return (*repairs, *looks)

    @property
    def signs(self) -> tuple[NumberedSign, ...]:
        """Return what to draw of them."""
        repairs = (
            NumberedSign(str(number), one.place, one.key not in self.refused)
            for number, one in self.shown
        )
        looks = (
            NumberedSign(number, one.place, pen=DOUBT)
            for number, one in self._numbered_doubts()
            if one.place is not None
        )
        return (*repairs, *looks)

    def _numbered_doubts(self) -> Iterator[tuple[str, PlanDoubt]]:
        number = len(self.known)
        for one in self.doubts:
            number += one.place is not None
            yield str(number) if one.place is not None else "", one
