"""A plan that grows under its readings: they keep their places, so the person is asked first."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from hgmap.desktop.words import tr, tr_count

if TYPE_CHECKING:
    from hgmap.desktop.panels.ask_row import Answers, AskRow
    from hgmap.desktop.session import Session


def scale_all_the_same(
    ask: AskRow,
    session: Session,
    floor: str,
    scale: Callable[[], bool],
    refused: Callable[[], None],
) -> bool:
    """Scale the plan of a floor, once the person has agreed where readings are placed on it.

    Returns
    -------
    bool
        Whether it was scaled, or is being asked about.
    """
    readings = session.site.readings if session.site else ()
    count = sum(one.floor == floor and one.x is not None for one in readings)
    if not count:
        return scale()

    def agreed(said: Answers) -> bool:
        return scale()

    ask.ask(
        tr_count(
            "{n} reading is placed on this plan; it keeps its x and y and will lie elsewhere "
            "in the building. Scale the plan all the same?",
            "{n} readings are placed on this plan; they keep their x and y and will lie "
            "elsewhere in the building. Scale the plan all the same?", count,
        ),
        [], tr("Scale it"), agreed, no=tr("Leave it"), refused=refused,
    )  # fmt: skip
    return True
