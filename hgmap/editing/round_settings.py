"""Adding and describing rounds: their purpose, how the building stood, which doors were shut."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final, Literal

from hgmap.editing.site_files import SiteFiles
from hgmap.editing.toml_edit import (
    Values,
    entry_of,
    new_table,
    put,
    put_table,
    table_of,
    with_text,
    with_values,
)
from hgmap.errors import SiteError
from hgmap.site.building import Floor, OpeningState
from hgmap.site.intake.listing import round_name, with_round
from hgmap.site.plan import read_plan
from hgmap.site.round_openings import opening_states
from hgmap.site.schema import ConditionsTable, RoundTable

EDITED: Final = ("title", "date", "purpose", "readings")
Purpose = Literal["survey", "clearance"]


def add_round(
    files: SiteFiles,
    name: str,
    *,
    title: str | None = None,
    date: dt.date | None = None,
    purpose: Purpose = "survey",
    readings: Sequence[str] = (),
) -> SiteFiles:
    """Add a round; ``readings`` are files of the site, relative to its folder.

    Raises
    ------
    SiteError
        If a round of that name, or one written alike, is there already.
    """
    table = table_of(files)
    if any(one.name == name for one in table.rounds):
        raise SiteError(f"round {name!r} is there already", where=files.place("site.toml"),
                        todo="choose another name")  # fmt: skip
    keys: dict[str, object] = {
        "name": round_name(name, table),
        "title": title or None,
        "date": date,
        "purpose": purpose if purpose != "survey" else None,
        "readings": list(readings) or None,
    }
    entry = {key: value for key, value in keys.items() if value is not None}

    def on_values(values: Values) -> None:
        values.setdefault("rounds", []).append(entry)

    return with_text(files, lambda text: with_round(text, keys), on_values)


def edit_round(files: SiteFiles, round_: str, **keys: object) -> SiteFiles:
    """Set title, date, purpose or readings of a round; None takes one away.

    Raises
    ------
    SiteError
        If there is no such round or key, or the value does not fit.
    """
    _round(files, round_)
    _known(files, keys, EDITED)
    keys = {key: value or None for key, value in keys.items()}

    def change(values: Values) -> None:
        entry = entry_of(values, "rounds", round_)
        for key, value in keys.items():
            put(entry, key, value)

    return with_values(files, change)


def set_round_conditions(files: SiteFiles, round_: str, **keys: object) -> SiteFiles:
    """Set how the building stood in a round, as ``[rounds.conditions]`` says it; None: unknown.

    Raises
    ------
    SiteError
        If there is no such round or key, or the value does not fit.
    """
    _round(files, round_)
    _known(files, keys, tuple(ConditionsTable.model_fields))
    if "note" in keys:
        keys["note"] = keys["note"] or None
    return with_values(
        files, lambda values: put_table(entry_of(values, "rounds", round_), "conditions", keys)
    )


def set_opening_in_round(
    files: SiteFiles, round_: str, floor: str, opening: str, state: OpeningState | None
) -> SiteFiles:
    """Say how an opening stood in a round; None: as the plan has it.

    Raises
    ------
    SiteError
        If there is no such round, floor or opening.
    """
    _round(files, round_)
    where = f"{files.place('site.toml')}, round {round_!r}"
    if state is not None:
        plans = {one.name: one.plan for one in table_of(files).floors}
        floors = []
        if floor in plans:
            plan = read_plan(files.data(plans[floor]), where=plans[floor], floor=floor)
            floors = [Floor(floor, floor, plan.rooms, openings=plan.openings)]
        opening_states({floor: {opening: state}}, floors, [], where=where)

    def change(values: Values) -> None:
        entry = entry_of(values, "rounds", round_)
        if "openings" not in entry:
            if state is None:
                return
            entry["openings"] = new_table(entry)
        put_table(entry["openings"], floor, {opening: state})
        if not entry["openings"]:
            del entry["openings"]

    return with_values(files, change)


def _round(files: SiteFiles, name: str) -> RoundTable:
    for one in table_of(files).rounds:
        if one.name == name:
            return one
    raise SiteError(f"no round {name!r}", where=files.place("site.toml"))


def _known(files: SiteFiles, keys: Mapping[str, object], known: Sequence[str]) -> None:
    for key in keys:
        if key not in known:
            raise SiteError(
                f"no key {key!r} of a round", where=files.place("site.toml"),
                todo=f"known keys: {', '.join(known)}",
            )  # fmt: skip
