"""What a plan that takes the place of another changes: rooms and openings that are spoken of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from hgmap.errors import PlanError
from hgmap.site.building import Opening, Room
from hgmap.site.importers.features import LISTED
from hgmap.site.plan import OPENING_REACH_M, Plan, read_plan
from hgmap.site.schema import RoundTable

SAME_SHARE = 0.6
"""A room is the same place where it shares at least this much of the ground of both. Ours."""


def changed_by_replacing(
    path: Path, plan: Plan, rounds: Sequence[RoundTable], *, floor: str
) -> list[str]:
    """Say what readings and rounds may name, and is gone or elsewhere on the plan that is new.

    Parameters
    ----------
    path : Path
        The plan's file, as it is still.
    plan : Plan
        What takes its place.
    rounds : sequence of RoundTable
        They may say how an opening stood.
    floor : str
        Whose plan it is.

    Returns
    -------
    list of str
        Every opening that a round speaks of, then rooms, the first few by name. Empty where the
        old plan cannot be read.
    """
    try:
        old = read_plan(path.read_bytes(), where="", floor="", region=True)
    except (OSError, PlanError):
        return []
    lines = _rooms(old.rooms, plan.rooms)
    more = len(lines) - LISTED
    few = [f"{more} more rooms that are gone or elsewhere"] if more > 0 else []
    return [*_openings(old.openings, plan.openings, rounds, floor), *lines[:LISTED], *few]


def _rooms(before: Iterable[Room], after: Iterable[Room]) -> list[str]:
    by_key = {key: room for room in after for key in (room.name, room.id)}
    lines: list[str] = []
    for old in before:
        for key in sorted({old.id, old.name}):
            new = by_key.get(key)
            if new is None:
                lines.append(f"room {key!r} was on the plan before and is no more")
                continue
            shared = new.polygon.intersection(old.polygon).area
            if shared < SAME_SHARE * old.area_m2:
                lines.append(f"room {key!r} is another place now; check the readings that name it")
            elif shared < SAME_SHARE * new.area_m2:
                lines.append(
                    f"room {key!r} had {old.area_m2:.1f} m² and has {new.area_m2:.1f} m² now; "
                    "check the readings that name it"
                )
    return lines


def _openings(
    before: Iterable[Opening],
    after: Iterable[Opening],
    rounds: Sequence[RoundTable],
    floor: str,
) -> list[str]:
    was, now = ({one.id: one for one in them} for them in (before, after))
    lines: list[str] = []
    for round_ in rounds:
        for identifier, state in round_.openings.get(floor, {}).items():
            old, new = was.get(identifier), now.get(identifier)
            if new is None:
                what = "is no more on the plan"
            elif old is None or old.line.distance(new.line) > OPENING_REACH_M:
                what = "is another opening now"
            else:
                continue
            lines.append(
                f"opening {identifier!r}, which round {round_.name!r} calls {state}, {what}; "
                "mend [rounds.openings] in site.toml"
            )
    return lines
