"""What besides the air was not alike in two rounds: their order, the building, the instruments.

Cleaning is one reason for a fall; open windows, fans, a shorter time shut up, or a door that was
sealed before are others. Our rule, no source: nothing is corrected, every difference is said.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from hgmap.site.building import Floor
from hgmap.site.model import Round, Site

LEAST_HOURS: Final = 1.0
"""Hours shut up or heated that differ by less (ours) are alike."""

MOST_NAMED: Final = 4

_HOW: Final = (
    ("ventilation", "ventilation"),
    ("windows", "windows"),
    ("hours_closed", "hours shut up before"),
    ("hours_heated", "hours heated before"),
    ("occupied", "people there"),
)


def wrong_way_round(rounds: tuple[Round, Round]) -> tuple[str, ...]:
    """Say that the later of two rounds was given as the one before."""
    was, now = rounds
    if was.date is None or now.date is None or was.date <= now.date:
        return ()
    return (
        f"--from {was.name} ({was.date.isoformat()}) is later than --to {now.name} "
        f"({now.date.isoformat()}): every fall and rise reads backwards; turn them round",
    )


def unlike_conditions(rounds: tuple[Round, Round]) -> tuple[str, ...]:
    """Say what of the building's state was stated, and is not the same in both rounds."""
    was, now = (one.conditions for one in rounds)
    found = []
    for key, title in _HOW:
        values = (getattr(was, key), getattr(now, key))
        if values == (None, None) or values[0] == values[1]:
            continue
        hours = [one for one in values if isinstance(one, float) and not isinstance(one, bool)]
        if len(hours) == 2 and abs(hours[0] - hours[1]) < LEAST_HOURS:
            continue
        words = [_words(one) for one in values]
        found.append(f"{title} {words[0]}, then {words[1]}")
    if not found:
        return ()
    return (
        f"the building did not stand alike in {_title(rounds[0])} and {_title(rounds[1])}: "
        f"{'; '.join(found)}: that alone can make readings fall or rise",
    )


def unlike_openings(floors: Iterable[Floor], rounds: tuple[Round, Round]) -> tuple[str, ...]:
    """Say which doors and gaps stood otherwise in the second round, floor by floor."""
    texts = []
    for floor in floors:
        plan = {one.id: one.state for one in floor.openings}
        was, now = (
            plan | {opening: state for name, opening, state in one.openings if name == floor.name}
            for one in rounds
        )
        changed = [f"{key} {was[key]}, then {now[key]}" for key in plan if was[key] != now[key]]
        if changed:
            more = len(changed) - MOST_NAMED
            named = "; ".join(changed[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
            texts.append(
                f"{floor.title or floor.name}: openings stood otherwise, each round is mapped with "
                f"its own: {named}: a room behind them can fall or rise by that alone"
            )
    return tuple(texts)


def unlike_instruments(site: Site, rounds: tuple[Round, Round]) -> tuple[str, ...]:
    """Say that the rounds were not read with the same instruments, where that was written."""
    was, now = (
        {r.instrument for r in site.readings if r.round == one.name and r.usable and r.instrument}
        for one in rounds
    )
    if not was or not now or was == now:
        return ()
    return (
        f"read with {', '.join(sorted(was))}, then with {', '.join(sorted(now))}: what two "
        "instruments read of one air was not compared; only their stated errors are counted",
    )


def _title(round_: Round) -> str:
    return round_.title or round_.name


def _words(value: object) -> str:
    if value is None:
        return "not stated"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)
