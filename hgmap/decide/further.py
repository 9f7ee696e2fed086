"""Other ways to count the readings, by each of which ground has to be clear before it is called so.

A reading is held because it cannot be trusted, which says nothing against what it read; a
background may be taken off readings, which the people in the room do not breathe less for. Neither
may make ground clear that is in doubt otherwise. Our rule, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from shapely import Point

from hgmap.decide.evidence import as_written, gather_evidence
from hgmap.decide.model import FloorEvidence
from hgmap.decide.whose import AT_THE_EDGE_M
from hgmap.site.model import Site
from hgmap.site.reading import Reading

AT_FULL_WEIGHT: Final = (
    "straddles the level where readings are not trusted less for their measured error"
)
WITH_HELD: Final = "straddles the level where the held readings count"
AS_WRITTEN: Final = "straddles the level where the readings count as written, nothing taken off"


def other_evidence(site: Site, evidence: FloorEvidence) -> Iterator[tuple[str, FloorEvidence]]:
    """Yield the same evidence counted in other ways, each with the reason to give where it differs.

    Held readings count where their number, their room and their place in it are known.

    Parameters
    ----------
    site : Site
        Judged.
    evidence : FloorEvidence
        What its map is made of.
    """
    rooms = {room.id: room.polygon for room in evidence.floor.rooms}

    def complete(one: Reading) -> bool:
        polygon = rooms.get(one.room)
        if polygon is None or one.x is None or one.y is None:
            return False
        if one.concentration is None or not 0.0 < one.concentration < math.inf:
            return False
        return bool(polygon.distance(Point(one.x, one.y)) <= AT_THE_EDGE_M)

    here = [item.reading for item in evidence.items]
    held = {one.where for one in here if one.held and complete(one)}
    if held:
        lifted = [one._replace(held=()) if one.where in held else one for one in here]
        yield WITH_HELD, _gathered(site, evidence, lifted)
    plain = [as_written(one, site) for one in here]
    if any(one is not other for one, other in zip(here, plain, strict=True)):
        yield AS_WRITTEN, _gathered(site, evidence, plain)


def _gathered(site: Site, evidence: FloorEvidence, readings: list[Reading]) -> FloorEvidence:
    return gather_evidence(
        replace(site, readings=tuple(readings)),
        evidence.floor,
        evidence.round,
        evidence.band,
        evidence.level,
    )
