"""Floors against each other: vapour on a floor that another outdoes may have come from there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from hgmap.decide.evidence import describe
from hgmap.decide.model import FloorEvidence, highest_of
from hgmap.decide.origin_model import Origins

OUTDONE: Final = 2.0
"""A floor whose highest reading is this many times another's may feed it. Our rule, no source."""


def with_other_floors(
    floors: Sequence[tuple[FloorEvidence, Origins]], others: Sequence[FloorEvidence] = ()
) -> tuple[Origins, ...]:
    """Caution, on every floor, of the floor that outdoes it most; stairs and shafts join floors.

    Parameters
    ----------
    floors : sequence of (FloorEvidence, Origins)
    others : sequence of FloorEvidence
        Floors of the building that were not looked at themselves.
    """
    held = [*(evidence for evidence, _ in floors), *others]
    tops = [(one, top) for one in held if (top := highest_of(one.items)) is not None]
    found = []
    for evidence, origins in floors:
        own = highest_of(evidence.items)
        here = 0.0 if own is None else own.concentration or 0.0
        above = [
            (top.concentration or 0.0, one.floor.title or one.floor.name, top)
            for one, top in tops
            if one.floor.name != evidence.floor.name
            and top.qualifier != "<"
            and (top.concentration or 0.0) > OUTDONE * here
        ]
        if above and origins.sources:
            _, title, top = max(above, key=lambda one: one[0])
            text = (
                f"{title} reads higher ({top.id}, {describe(top)}): vapour may come from there by "
                "a stair or a shaft; look there first"
            )
            origins = replace(origins, cautions=(text, *origins.cautions))
        found.append(origins)
    return tuple(found)
