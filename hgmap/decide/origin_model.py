"""Where the vapour may come from: ranked places, each with its doubt. A hint, never a finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from hgmap.site.building import Floor
from hgmap.site.model import ActionLevel

HINT: Final = (
    "a hint where to look, not a finding: only a look and a reading at the place itself tell; "
    "local codes and licensed practice decide"
)

HELD_SHARE: Final = 0.8
"""Share of the draws' highest places that a place's radius holds."""

Basis = Literal["search", "item", "estimate", "readings"]
"""What puts a place on the list: a reading taken in search of a source, an item's bag, the
estimate, or the readings alone."""


@dataclass(frozen=True, slots=True)
class LikelySource:
    """One place where the vapour may come from.

    Attributes
    ----------
    rank : int
        From 1, on its floor.
    x, y : float or None
        Place (m, the floor's frame): where it was read, else the middle of the highest places that
        were drawn there. None where only the room is known.
    height : str
        At which height to look, in words; empty where nothing says.
    share : float or None
        Share of the draws in which the highest air of the floor is here; None without an estimate.
    share_in_room : float or None
        The same of the highest air of its own room.
    own : float or None
        Share of the draws in which its room is higher than every room joined to it, as a room with
        a source in it is; None where there is no estimate or no other room is joined to it.
    radius_m : float or None
        Holds 80 % of the highest places of those draws (m, inside the room); None where too few
        draws have one there.
    estimate : float or None
        At the place (computing unit): the median where the scale is log.
    readings : tuple of str
        Ids of the readings behind it.
    reasons, cautions : tuple of str
        Why it is on the list, and what speaks against trusting it.
    """

    rank: int
    floor: str
    room: str
    room_name: str
    x: float | None
    y: float | None
    height: str
    share: float | None
    share_in_room: float | None
    own: float | None
    radius_m: float | None
    estimate: float | None
    readings: tuple[str, ...]
    basis: Basis
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Climb:
    """A room whose air rises toward a door: what it has comes in there, as far as is known.

    ``ratio`` is the estimate at the door over the room's middle one. Rooms are positions in
    ``floor.rooms``.
    """

    room: int
    towards: int
    ratio: float


@dataclass(frozen=True, slots=True)
class HeightRatio:
    """Readings at a lower height over those at the height of the map, at the same places.

    ``low`` and ``high`` are the 95 % interval, None where a bound hides that end; ``ratio`` is
    None where any of the pairs is of a bound. ``room`` is a position in ``floor.rooms``.
    """

    room: int
    band: str
    pairs: int
    ratio: float | None
    low: float | None
    high: float | None
    readings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Origins:
    """Where the vapour of one floor may come from.

    Attributes
    ----------
    sources : tuple of LikelySource
        The likeliest first.
    quiet : str
        Why nothing is said from the air of the floor; empty where something is.
    climbs : tuple of Climb
    heights : tuple of HeightRatio
    cautions : tuple of str
        About the floor as a whole.
    draws : int
        Fields that were drawn; 0 without an estimate to draw from.
    """

    floor: Floor
    level: ActionLevel
    sources: tuple[LikelySource, ...]
    quiet: str = ""
    climbs: tuple[Climb, ...] = ()
    heights: tuple[HeightRatio, ...] = ()
    cautions: tuple[str, ...] = ()
    draws: int = 0
