"""What the readings of a site mean after its plans were changed: the same rows, read again."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import Final

from hgmap.site.model import Site
from hgmap.site.quality.figures import counted
from hgmap.site.reading import Reading
from hgmap.site.row_spans import row_spans
from hgmap.site.schema import SiteTable

_ROW: Final = re.compile(r"(?P<file>.*), row (?P<row>\d+)", re.DOTALL)


def readings_after(before: Site, after: Site) -> tuple[str, ...]:
    """Say of every reading that no longer means what it meant: which rows, and what they mean.

    Parameters
    ----------
    before, after : Site
        The same readings files with other plans, as they were read, not judged.

    Returns
    -------
    tuple of str
        A sentence for each change that some rows share; empty where every row means the same.
    """
    was = {one.where: one for one in before.readings}
    groups: dict[str, list[str]] = defaultdict(list)
    for now in after.readings:
        old = was.get(now.where)
        text = _changed(old, now, before, after) if old is not None else ""
        if text:
            groups[text].append(now.where)
    return tuple(
        f"{counted(len(rows), 'reading')} {text} ({_rows(rows)})" for text, rows in groups.items()
    )


def held_anew(before: Site, after: Site) -> int:
    """Return how many readings are held after a change and were not before."""
    was = {one.where for one in before.readings if one.held}
    return sum(bool(one.held) and one.where not in was for one in after.readings)


def states_lost(before: SiteTable, after: SiteTable) -> tuple[str, ...]:
    """Say which rounds no longer say how an opening stood, for it is gone from its plan."""
    left = {
        (round_.name, floor, opening)
        for round_ in after.rounds
        for floor, states in round_.openings.items()
        for opening in states
    }
    return tuple(
        f"round {round_.name!r} no longer says that opening {opening!r} on floor {floor!r} was "
        f"{state}"
        for round_ in before.rounds
        for floor, states in round_.openings.items()
        for opening, state in states.items()
        if (round_.name, floor, opening) not in left
    )


def _changed(old: Reading, now: Reading, before: Site, after: Site) -> str:
    new = [one for one in now.held if one not in old.held]
    if new and not old.held:
        return f"of {_room(old, before)} will be held: {'; '.join(new)}"
    if new:
        return f"of {_room(now, after)} held for another reason now: {'; '.join(new)}"
    if old.held and not now.held:
        return f"held before, because {'; '.join(old.held)}: read now"
    if now.held:
        return ""
    if old.room != now.room and not _has_another_id(old, now, before, after):
        return f"of {_room(old, before)}, now of {_room(now, after)}"
    if now.placed == "room" and (old.x, old.y) != (now.x, now.y):
        return f"with no place but {_room(now, after)}, now at another point of it"
    return ""


def _has_another_id(old: Reading, now: Reading, before: Site, after: Site) -> bool:
    """Tell whether the room is called as it was, and only its id is new: rows may say either."""
    floor = after.floor(now.floor)
    kept = floor is not None and any(one.id == old.room for one in floor.rooms)
    return bool(now.room) and not kept and _room(old, before) == _room(now, after)


def _room(reading: Reading, site: Site) -> str:
    floor = site.floor(reading.floor)
    room = floor.room(reading.room) if floor is not None and reading.room else None
    return f"room {room.name if room else reading.room!r}" if reading.room else "no room"


def _rows(wheres: Iterable[str]) -> str:
    files: dict[str, list[int]] = defaultdict(list)
    for where in wheres:
        match = _ROW.fullmatch(where)
        if match:
            files[match["file"]].append(int(match["row"]))
    return "; ".join(_file_rows(files))


def _file_rows(files: dict[str, list[int]]) -> Iterator[str]:
    for file, rows in files.items():
        yield f"{file}, row{'s' if len(rows) > 1 else ''} {row_spans(rows)}"
