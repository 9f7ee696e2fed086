"""Asks how far two points of a plan or a picture lie apart in the building."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from hgmap.desktop.panels.ask_row import Answers, AskRow, Field, number
from hgmap.desktop.words import tr
from hgmap.site.lengths import FOOT_M

if TYPE_CHECKING:
    from hgmap.desktop.session import Session


def ask_length(
    ask: AskRow,
    session: Session,
    text: str,
    yes: str,
    act: Callable[[float, Answers], bool],
    *,
    more: Sequence[Field] = (),
    refused: Callable[[], None],
) -> None:
    """Ask for a length in metres or feet; ``act`` gets metres, and what else was asked."""

    def answered(said: Answers) -> bool:
        length = number(said["length"])
        if length is None or length <= 0:
            session.trouble.emit(
                tr("{text!r} is no length: type a number above 0", text=said["length"])
            )
            return False
        return act(length * (FOOT_M if said["unit"] == "ft" else 1.0), said)

    units = (("m", tr("metres")), ("ft", tr("feet")))
    fields = [Field("length", tr("Length")), Field("unit", tr("Unit"), "m", units), *more]
    ask.ask(text, fields, yes, answered, refused=refused)
