"""The highest reading of a round in one sentence, at whatever height it was taken."""

from __future__ import annotations

from hgmap.report.document.survey import Survey
from hgmap.report.words import count, metres, reading_value
from hgmap.site.reading import Reading


def highest_line(survey: Survey) -> str:
    """Say what the highest usable reading of the round is, and what may be higher still.

    The maps are of one height: what was read at a joint of the floor stands on none of their
    zones, and belongs into the first answer all the same.
    """
    usable = [
        one for one in survey.site.readings
        if one.round == survey.round.name and one.usable and one.on_map
        and one.concentration is not None
    ]  # fmt: skip
    if not usable:
        return "No usable reading was taken."
    detects = [one for one in usable if one.qualifier != "<"]
    highest = max(detects or usable, key=_rank)
    text = f"Highest usable reading: {_told(highest, survey)}"
    limit = highest.concentration or 0.0
    coarse = [one for one in usable if one.qualifier == "<" and (one.concentration or 0.0) > limit]
    if not detects:
        text += ": every usable reading is below its detection limit"
    elif coarse:
        worst = max(coarse, key=_rank)
        text += (
            f"; {count(len(coarse), 'usable reading')} below a detection limit that is higher "
            f"({reading_value(worst, survey.level)} at most) may hide more"
        )
    full = sum(one.qualifier == ">" and one is not highest for one in usable)
    if full:
        text += f"; {count(full, 'more reading')} saturated, and may be higher still"
    return f"{text}."


def _rank(one: Reading) -> tuple[float, bool]:
    return one.concentration or 0.0, one.qualifier == ">"


def _told(one: Reading, survey: Survey) -> str:
    """Write a reading with its id, its room and its height."""
    floor = next((of.floor for of in survey.floors if of.floor.name == one.floor), None)
    names = {} if floor is None else {room.id: room.name for room in floor.rooms}
    where = [one.id, names.get(one.room, "") or one.room]
    where.append((floor.title if floor is not None else "") or one.floor)
    if one.height_m is not None:
        other = survey.band and one.band != survey.band
        where.append(f"{metres(one.height_m)} above the floor"
                     + (", a height that the maps do not show" if other else ""))  # fmt: skip
    shown = ", ".join(text for text in where if text)
    return f"{reading_value(one, survey.level)} {survey.level.unit} ({shown})"
