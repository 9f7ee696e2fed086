"""Walls and door gaps proposed from a placed picture: a value to list, to draw and to choose from.

Nothing here changes a plan: :mod:`hgmap.editing.accept_walls` takes over what a person accepted.
"""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString

from hgmap.site.plan_picture import PlanPicture
from hgmap.site.wall_finding.pieces import Kind


@dataclass(frozen=True, slots=True)
class WallSearch:
    """What counts as a wall and as a door gap. All lengths are ours, from common practice.

    Attributes
    ----------
    threshold : int, optional
        Grey (0 to 254) that ink is as dark as; None finds one.
    laser_map : bool, optional
        Whether the picture is a map of free, occupied and unseen cells; None finds out.
    shortest_m : float
        Shorter lines are furniture; a thick stub that meets a wall may have half of it.
    thickest_m : float
        Of a wall.
    narrowest_door_m, widest_door_m : float
    island_m : float
        Ink that hangs together and spans less is furniture, a column, or a letter.
    """

    threshold: int | None = None
    laser_map: bool | None = None
    shortest_m: float = 0.5
    thickest_m: float = 0.6
    narrowest_door_m: float = 0.6
    widest_door_m: float = 2.0
    island_m: float = 2.0


@dataclass(frozen=True, slots=True)
class WallProposal:
    """One wall that is proposed.

    Attributes
    ----------
    number : int
        From 1, to choose it by.
    start, end : (x, y)
        Of its middle, in the floor's frame (m).
    thickness_m : float or None
        None for a single line, whose width is that of a pen.
    support : float
        Share of its length with ink under it, 0 to 1.
    kind : {"filled", "double", "line"}
        Drawn filled, by its two faces, or by one line.
    """

    number: int
    start: tuple[float, float]
    end: tuple[float, float]
    thickness_m: float | None
    support: float
    kind: Kind

    @property
    def line(self) -> LineString:
        """From start to end (m)."""
        return LineString([self.start, self.end])

    @property
    def length_m(self) -> float:
        """Metres."""
        return float(self.line.length)


@dataclass(frozen=True, slots=True)
class DoorGap:
    """One gap of the width of a door, between two proposed walls.

    Attributes
    ----------
    number : int
        From 1; it is chosen as ``d1``.
    start, end : (x, y)
        Its sides, on the middle of the wall (m).
    walls : (int, int)
        Numbers of the walls on both sides of it.
    """

    number: int
    start: tuple[float, float]
    end: tuple[float, float]
    walls: tuple[int, int]

    @property
    def line(self) -> LineString:
        """From side to side (m)."""
        return LineString([self.start, self.end])

    @property
    def width_m(self) -> float:
        """Metres."""
        return float(self.line.length)


@dataclass(frozen=True, slots=True)
class WallProposals:
    """Everything that a picture proposes; nothing of it is in any plan.

    Attributes
    ----------
    picture : PlanPicture
        Where the image lies.
    size_px : (int, int)
        Its width and height.
    walls : tuple of WallProposal
        Thick ones first, then single lines; each from the top down.
    doors : tuple of DoorGap
    directions_deg : tuple of float
        Ways that walls run, the chief first: counter-clockwise from plan-right, 0 up to 180.
    threshold : int
        Grey that ink was told by.
    laser_map : bool
        Whether it was read as a map of free, occupied and unseen cells.
    notes : tuple of str
        What was left out, and what to look at.
    """

    picture: PlanPicture
    size_px: tuple[int, int]
    walls: tuple[WallProposal, ...]
    doors: tuple[DoorGap, ...]
    directions_deg: tuple[float, ...]
    threshold: int
    laser_map: bool
    notes: tuple[str, ...]

    @property
    def length_m(self) -> float:
        """Length of all walls (m)."""
        return sum(one.length_m for one in self.walls)
