"""What a person chose to look at: which floor, round, height, level; how it is estimated."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from hgmap.site.model import Site


@dataclass(frozen=True, slots=True)
class Choices:
    """None, or an empty text: what the site says, else what is built in."""

    floor: str = ""
    round: str = ""
    band: str | None = None
    level: str | None = None
    method: Literal["kriging", "idw"] | None = None
    walls: bool | None = None
    remediate_at: float | None = None
    clear_at: float | None = None
    zones: Literal["taped", "whole rooms"] | None = None
    views: frozenset[str] = frozenset({"readings", "zones", "estimate", "next places"})


def what_is_there(site: Site | None, chosen: Choices) -> Choices:
    """Keep choices that the site still has; else the latest round, the first floor."""
    from hgmap.batch_choice import choose_round

    if site is None:
        return chosen
    names = [one.name for one in site.floors]
    lost = site.floors_without_a_plan
    floor = chosen.floor
    if floor not in (*names, *lost):
        floor = (*names, *lost, "")[0]
    round_name = chosen.round
    if site.round(round_name) is None:
        round_name = choose_round(site, None)[0].name if site.rounds else ""
    bands = {one.name for one in site.height_bands}
    band = chosen.band if chosen.band in bands else None
    return replace(chosen, floor=floor, round=round_name, band=band)
