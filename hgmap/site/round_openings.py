"""Openings as they stood in one round: a door that was open before may be sealed after."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from hgmap.errors import SiteError
from hgmap.site.building import Floor, OpeningState
from hgmap.site.model import Round


def opening_states(
    stated: Mapping[str, Mapping[str, OpeningState]],
    floors: Sequence[Floor],
    lost: Sequence[str],
    *,
    where: str,
) -> tuple[tuple[str, str, OpeningState], ...]:
    """Return (floor, opening, state) for what a round says of its openings.

    Parameters
    ----------
    stated : mapping of floor names to mappings of opening ids to states
    floors : sequence of Floor
        Those whose plan could be read.
    lost : sequence of str
        Names of the others; what is said of them cannot be checked.
    where : str
        File and key, for a complaint.

    Raises
    ------
    SiteError
        If there is no such floor or opening.
    """
    known = {floor.name: {one.id for one in floor.openings} for floor in floors}
    found = []
    for name, states in stated.items():
        if name in lost:
            continue
        if name not in known:
            raise SiteError(f"no floor {name!r}", where=where, todo=_hint(name, known))
        for identifier, state in states.items():
            if identifier not in known[name]:
                raise SiteError(
                    f"floor {name!r} has no opening {identifier!r}",
                    where=where,
                    todo=_hint(identifier, known[name]),
                )
            found.append((name, identifier, state))
    return tuple(found)


def floor_in_round(floor: Floor, round_: Round) -> Floor:
    """Return a floor with its openings as they stood in a round."""
    states = {opening: state for name, opening, state in round_.openings if name == floor.name}
    if not states:
        return floor
    return replace(
        floor,
        openings=tuple(replace(one, state=states.get(one.id, one.state)) for one in floor.openings),
    )


def _hint(word: str, known: Mapping[str, object] | set[str]) -> str:
    near = difflib.get_close_matches(word, list(known), n=1)
    return f"did you mean {near[0]!r}?" if near else f"known: {', '.join(sorted(known)) or 'none'}"
