"""The invented building: rooms, partitions and doors of its three floors.

Every number is in metres in the floor's own frame, x to the right and y up, with the outer
corner of the building at (0, 0). Rooms are written by the centre lines of their walls, which
lie on multiples of 0.1 m, and then shrunk by half a wall: so two neighbours leave a gap as
thick as the wall between them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import shapely
from shapely import LineString, Point, Polygon, box

LENGTH_M: Final = 34.0
DEPTH_M: Final = 18.0
OUTER_WALL_M: Final = 0.3
INNER_WALL_M: Final = 0.15
REACH_M: Final = 0.35
"""A door belongs to the rooms within this distance of its midpoint (m)."""
NORTH_DEG: Final = 12.0

Line = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Door:
    """One opening: a line as long as it is wide, midway in the thickness of the wall."""

    id: str
    line: LineString
    state: str
    rooms: tuple[str, ...]


@dataclass(frozen=True)
class Storey:
    """One floor; ``rooms`` maps an id to its name and polygon."""

    name: str
    title: str
    rooms: dict[str, tuple[str, Polygon]]
    partitions: tuple[LineString, ...]
    doors: tuple[Door, ...]


# Corridor walls at y = 8.0 and 10.4; the stair stands at the same place on every floor.
# id: (name, x from, y from, x to, y to) or (name, corner, corner, ...)
_GROUND: Final = {
    "G01": ("Classroom 1", 0.0, 0.0, 7.6, 8.0),
    "G02": ("Classroom 2", 7.6, 0.0, 15.2, 8.0),
    "G03": ("Science laboratory", 15.2, 0.0, 24.0, 8.0),
    "G04": ("Science store", 24.0, 4.0, 27.4, 8.0),
    "G05": ("Preparation room", 24.0, 0.0, 27.4, 4.0),
    "G06": ("Plant room", 27.4, 0.0, 34.0, 8.0),
    "G07": ("Assembly hall", 0.0, 10.4, 12.0, 18.0),
    "G08": ("Stair, ground", 12.0, 10.4, 15.6, 18.0),
    "G09": ("Entrance hall", 15.6, 10.4, 20.6, 18.0),
    "G10": ("School office", 20.6, 10.4, 25.0, 18.0),
    "G11": ("Toilets A, ground", 25.0, 10.4, 28.0, 18.0),
    "G12": ("Toilets B, ground", 28.0, 10.4, 31.0, 18.0),
    "G13": ("Former boiler room, bricked up", 31.0, 10.4, 34.0, 18.0),
    "G14": ("Corridor, ground", 0.0, 8.0, 34.0, 10.4),
}
_FIRST: Final = {
    "F01": ("Classroom 3", 0.0, 0.0, 8.4, 8.0),
    "F02": ("Classroom 4", 8.4, 0.0, 16.8, 8.0),
    "F03": ("Classroom 5", 16.8, 0.0, 25.2, 8.0),
    "F04": (
        "Library",
        (25.2, 0.0),
        (34.0, 0.0),
        (34.0, 10.4),
        (29.0, 10.4),
        (29.0, 8.0),
        (25.2, 8.0),
    ),
    "F05": ("Classroom 6", 0.0, 10.4, 7.4, 18.0),
    "F06": ("Group room", 7.4, 10.4, 12.0, 18.0),
    "F07": ("Stair, first", 12.0, 10.4, 15.6, 18.0),
    "F08": ("Staff room", 15.6, 10.4, 21.4, 18.0),
    "F09": ("Toilets A, first", 21.4, 10.4, 24.6, 18.0),
    "F10": ("Toilets B, first", 24.6, 10.4, 27.8, 18.0),
    "F11": ("Book store", 27.8, 10.4, 30.6, 18.0),
    "F12": ("Quiet room", 30.6, 10.4, 34.0, 18.0),
    "F13": ("Corridor, first", 0.0, 8.0, 29.0, 10.4),
}
_TOP: Final = {
    "T01": ("Art room", 0.0, 0.0, 9.6, 8.0),
    "T02": ("Kiln store", 9.6, 0.0, 12.4, 8.0),
    "T03": ("Music room", 12.4, 0.0, 20.4, 8.0),
    "T04": ("Practice room 1", 20.4, 0.0, 23.0, 8.0),
    "T05": ("Practice room 2", 23.0, 0.0, 25.6, 8.0),
    "T06": ("Computer room", 25.6, 0.0, 34.0, 8.0),
    "T07": ("Drama studio", (0, 8), (4, 8), (4, 10.4), (12, 10.4), (12, 18), (0, 18)),
    "T08": ("Stair, top", 12.0, 10.4, 15.6, 18.0),
    "T09": ("Meeting room", 15.6, 10.4, 20.8, 18.0),
    "T10": ("Archive", 20.8, 10.4, 25.2, 18.0),
    "T11": ("Toilets, top", 25.2, 10.4, 28.4, 18.0),
    "T12": ("Tank room", 28.4, 10.4, 34.0, 18.0),
    "T13": ("Corridor, top", 4.0, 8.0, 34.0, 10.4),
}  # fmt: skip

# A wall that stands in a room: a bay in the laboratory, tall shelves, a practice stage.
_PARTITIONS: Final[dict[str, tuple[Line, ...]]] = {
    "ground": (((19.6, 0.3), (19.6, 3.6)), ((2.6, 12.4), (2.6, 16.0))),
    "first": (((29.0, 2.0), (29.0, 6.4)),),
    "top": (((30.0, 0.3), (30.0, 4.2)),),
}

# id: (x, y, width, which way the wall runs, state)
_DOORS: Final = {
    "ground": {
        "G01-corridor": (6.05, 8.0, 0.9, "along x", "open"),
        "G02-corridor": (9.05, 8.0, 0.9, "along x", "open"),
        "G03-corridor": (16.6, 8.0, 1.6, "along x", "closed"),
        "G03-store": (24.0, 5.45, 0.9, "along y", "closed"),
        "G03-preparation": (24.0, 2.05, 0.9, "along y", "open"),
        "G04-corridor": (25.05, 8.0, 0.9, "along x", "closed"),
        "G06-corridor": (29.05, 8.0, 0.9, "along x", "closed"),
        "G06-outside": (33.85, 3.0, 1.6, "along y", "closed"),
        "G07-corridor": (8.0, 10.4, 1.6, "along x", "open"),
        "G08-corridor": (13.8, 10.4, 1.6, "along x", "open"),
        "G09-corridor": (18.0, 10.4, 1.6, "along x", "open"),
        "G09-outside": (18.0, 17.85, 1.6, "along x", "closed"),
        "G09-office": (20.6, 15.05, 0.9, "along y", "open"),
        "G10-corridor": (21.85, 10.4, 0.9, "along x", "closed"),
        "G11-corridor": (26.05, 10.4, 0.9, "along x", "closed"),
        "G12-corridor": (29.05, 10.4, 0.9, "along x", "closed"),
        "G14-outside-west": (0.15, 9.2, 1.6, "along y", "closed"),
        "G14-outside-east": (33.85, 9.2, 1.6, "along y", "sealed"),
    },
    "first": {
        "F01-corridor": (7.05, 8.0, 0.9, "along x", "closed"),
        "F02-corridor": (14.65, 8.0, 0.9, "along x", "open"),
        "F03-corridor": (18.05, 8.0, 0.9, "along x", "open"),
        "F01-F02": (8.4, 2.05, 0.9, "along y", "closed"),
        "F04-corridor": (29.0, 9.2, 1.6, "along y", "open"),
        "F05-corridor": (6.05, 10.4, 0.9, "along x", "open"),
        "F06-corridor": (10.65, 10.4, 0.9, "along x", "open"),
        "F07-corridor": (13.8, 10.4, 1.6, "along x", "open"),
        "F08-corridor": (17.05, 10.4, 0.9, "along x", "closed"),
        "F09-corridor": (22.65, 10.4, 0.9, "along x", "closed"),
        "F10-corridor": (25.85, 10.4, 0.9, "along x", "closed"),
        "F11-library": (29.85, 10.4, 0.9, "along x", "closed"),
        "F12-library": (32.05, 10.4, 0.9, "along x", "open"),
    },
    "top": {
        "T01-corridor": (8.05, 8.0, 0.9, "along x", "open"),
        "T01-kiln": (9.6, 3.05, 0.9, "along y", "closed"),
        "T03-corridor": (14.05, 8.0, 0.9, "along x", "closed"),
        "T04-corridor": (21.65, 8.0, 0.9, "along x", "closed"),
        "T05-corridor": (24.35, 8.0, 0.9, "along x", "closed"),
        "T06-corridor": (27.05, 8.0, 0.9, "along x", "open"),
        "T07-corridor": (10.6, 10.4, 1.6, "along x", "open"),
        "T07-west": (4.0, 9.15, 0.9, "along y", "sealed"),
        "T08-corridor": (13.8, 10.4, 1.6, "along x", "open"),
        "T09-corridor": (17.05, 10.4, 0.9, "along x", "open"),
        "T10-corridor": (23.05, 10.4, 0.9, "along x", "closed"),
        "T11-corridor": (26.65, 10.4, 0.9, "along x", "closed"),
        "T12-corridor": (29.65, 10.4, 0.9, "along x", "closed"),
    },
}


def storeys() -> tuple[Storey, ...]:
    """Return the three floors, lowest first."""
    return (
        _storey("ground", "Ground floor", _GROUND),
        _storey("first", "First floor", _FIRST),
        _storey("top", "Top floor", _TOP),
    )


def _storey(name: str, title: str, written: Mapping[str, tuple[object, ...]]) -> Storey:
    rooms = {key: (str(row[0]), _polygon(row[1:])) for key, row in written.items()}
    doors = tuple(_door(key, row, rooms) for key, row in _DOORS[name].items())
    partitions = tuple(LineString(line) for line in _PARTITIONS[name])
    return Storey(name, title, rooms, partitions, doors)


def _polygon(corners: tuple[object, ...]) -> Polygon:
    """Shrink the outline on the wall centre lines to the faces of the walls."""
    outline = Polygon(corners) if isinstance(corners[0], tuple) else box(*corners)
    inside = box(OUTER_WALL_M, OUTER_WALL_M, LENGTH_M - OUTER_WALL_M, DEPTH_M - OUTER_WALL_M)
    shrunk = outline.buffer(-INNER_WALL_M / 2, join_style="mitre").intersection(inside)
    return shapely.normalize(shapely.set_precision(shrunk, 0.001))


def _door(
    key: str,
    row: tuple[float, float, float, str, str],
    rooms: dict[str, tuple[str, Polygon]],
) -> Door:
    x, y, width, runs, state = row
    half_x, half_y = (width / 2, 0.0) if runs == "along x" else (0.0, width / 2)
    line = LineString([(x - half_x, y - half_y), (x + half_x, y + half_y)])
    near = tuple(k for k, (_, shape) in rooms.items() if shape.distance(Point(x, y)) <= REACH_M)
    return Door(key, line, state, near)


def outer_walls(storey: Storey) -> tuple[LineString, ...]:
    """Return the outer face of the building, broken where a door leads outside."""
    face = box(0.0, 0.0, LENGTH_M, DEPTH_M).exterior
    gaps = [door.line.buffer(OUTER_WALL_M, cap_style="flat")
            for door in storey.doors if len(door.rooms) == 1]  # fmt: skip
    left = shapely.line_merge(face.difference(shapely.union_all(gaps)))
    parts = left.geoms if hasattr(left, "geoms") else (left,)
    return tuple(shapely.set_precision(LineString(part.coords), 0.001) for part in parts)
