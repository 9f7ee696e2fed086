"""Shortest walks over a floor: round walls and through doors, in continuous geometry.

A shortest walk bends only at corners where half a turn or more is free (de Berg et al. 2008,
Computational Geometry, ch. 15). All such corners that see each other make a graph; a place is
joined to the corners that it sees. Sight goes straight through any number of doors, so a walk
crosses a door wherever it is shortest.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import scipy.sparse as sp
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.sparse.csgraph import connected_components, dijkstra

from hgmap.errors import EstimateError
from hgmap.field.links import Groups, lightest, links_between, take_least
from hgmap.field.points import as_points
from hgmap.field.routes import Arrival, Departure, Route, find_route
from hgmap.field.sight import (
    Cones,
    Seen,
    Stand,
    eyes,
    look_from_places,
    look_from_vertices,
    within,
)
from hgmap.field.walkmesh import Mesh, lay_mesh
from hgmap.site.building import Floor

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_CONES: Final = 3_000_000
"""Cones of sight (about 80 bytes each) above which corners stop looking farther.

On an invented grid of 400 rooms, 39 cones a corner made half of the walks at least 0.05 % longer,
one in a hundred 0.5 %, and the worst 6 % (measured)."""

HAIR_M: Final = 1e-9
"""A place this near (m) to a triangle is in it."""


@dataclass(frozen=True)
class Walks:
    """The walks of one floor; made once by :meth:`over`.

    Attributes
    ----------
    floor : Floor
    mesh : Mesh
    links : sparse array of shape (v, v)
        Lengths (m) between vertices that see each other.
    part : array of shape (t,)
        Triangles with the same number can reach each other.
    """

    floor: Floor
    mesh: Mesh
    links: sp.csr_array
    part: Ints
    _cones: Cones
    _bends: Ints
    _by_triangle: Groups
    _tree: shapely.STRtree
    _roundness: Floats

    @classmethod
    def over(cls, floor: Floor, *, most_cones: int = MOST_CONES) -> Walks:
        """Build the graph of a floor.

        Open and closed openings are passed, sealed ones not; a wall line inside a room blocks,
        but where an opening lies. Lengths are those of the plan to 1e-6 m, where rooms that a door
        joins touch or stand more than a centimetre apart; nearer or overlapping faces are taken
        for one. A wall that ends within a centimetre of another, or of the room's edge, closes
        the gap. A place on a wall line inside its room is on either side of it.

        Above ``most_cones`` (thousands of rooms) corners see only so many triangles far, and a
        walk may come out longer than the shortest, never shorter.

        Parameters
        ----------
        floor : Floor
        most_cones : int
        """
        mesh = lay_mesh(floor)
        bends = np.flatnonzero(mesh.bends())
        cones, seen = look_from_vertices(mesh, bends, most=most_cones)
        corner = [mesh.vertex.ravel(), bends[seen.eye]]
        facing = [np.roll(mesh.vertex, -1, axis=1).ravel(), seen.vertex]
        links = links_between(mesh.place, np.concatenate(corner), np.concatenate(facing))
        if cones.limited:
            # whatever the corners do not see: from a triangle one can always go on by its corners
            t, k = np.divmod(np.arange(mesh.vertex.size), 3)
            every = mesh.vertex.ravel()
            own = np.full((len(every), 2), np.nan)
            cones = Cones(
                np.concatenate([bends[cones.eye], every]),
                np.concatenate([cones.triangle, t]),
                np.vstack([cones.right, own]),
                np.vstack([cones.left, own]),
                np.concatenate([cones.parent, np.full(len(every), -1)]),
                True,
            )
            bends = np.arange(len(mesh.place))
        t, k = np.nonzero(mesh.across >= 0)
        size = len(mesh.corner)
        beside = sp.coo_array((np.ones(len(t)), (t, mesh.across[t, k])), shape=(size, size))
        part = connected_components(beside, directed=False)[1].astype(np.int64)
        shapes = shapely.polygons(mesh.corner)
        roundness = shapely.area(shapes) / np.maximum(shapely.length(shapes), 1e-300)
        return cls(
            floor, mesh, links, part, cones, bends, Groups.of(cones.triangle, size),
            shapely.STRtree(shapes), roundness,
        )  # fmt: skip

    def stand(self, xy: Floats, room: Ints | None = None) -> Stand:
        """Find the triangle of each place; one outside its own room is moved to its edge.

        Parameters
        ----------
        xy : array of shape (n, 2), m
        room : array of shape (n,), optional
            Position of each place's room in ``floor.rooms``; -1, or not given: any room. A place
            in the doorway of its room stays there.
        """
        xy = as_points(xy) - self.mesh.origin
        room = np.full(len(xy), -1, dtype=np.int64) if room is None else np.asarray(room)
        if room.shape != (len(xy),):
            raise EstimateError(f"room has shape {room.shape}", todo="give one for each place")
        if not len(self.mesh.corner):
            raise EstimateError("no room of the plan has an area")
        point = shapely.points(xy)
        found = np.full(len(xy), -1, dtype=np.int64)
        which, triangle = self._tree.query(point, predicate="dwithin", distance=HAIR_M)
        own = (room[which, None] == self.mesh.beside[triangle]).any(axis=1) | (room[which] < 0)
        which, triangle = which[own], triangle[own]
        # of several triangles that meet at a place, the roundest: an eye finds room in it
        order = np.lexsort((self._roundness[triangle], which))
        found[which[order]] = triangle[order]
        lost = np.flatnonzero(found < 0)
        if not len(lost):
            return Stand(xy, found)
        shapes = self._tree.geometries
        for one in np.unique(room[lost]):
            these = lost[room[lost] == one]
            ours = np.flatnonzero((self.mesh.beside == one).any(axis=1))
            if not len(ours):
                ours = np.arange(len(shapes))
            nearest = shapely.STRtree(shapes[ours]).nearest(point[these])
            found[these] = ours[nearest]
        ways = shapely.shortest_line(shapes[found[lost]], point[lost])
        xy = xy.copy()
        xy[lost] = shapely.get_coordinates(ways).reshape(-1, 2, 2)[:, 0]
        return Stand(xy, found)

    def parts_of(self, xy: Floats, room: Ints | None = None) -> Ints:
        """Return the part of the floor that each place (m) is in; places of one can be joined."""
        return np.asarray(self.part[self.stand(xy, room).triangle])

    def reach(self, xy: Floats, room: Ints | None = None) -> Reach:
        """Prepare the walks from places (m) to anywhere; the rooms are as in :meth:`stand`."""
        from_ = self.stand(xy, room)
        cones, seen = look_from_places(self.mesh, *from_, most=MOST_CONES)
        length = np.hypot(*(self.mesh.place[seen.vertex] - from_.xy[seen.eye]).T)
        return Reach(self, from_, self._onward(seen, length, len(from_.xy)), cones,
                     Groups.of(cones.triangle, len(self.mesh.corner)))  # fmt: skip

    def distances(
        self,
        a_xy: Floats,
        a_room: Ints | None,
        b_xy: Floats,
        b_room: Ints | None,
    ) -> Floats:
        """Return the lengths of the shortest walks (m), shape (na, nb); inf where there is none.

        Parameters
        ----------
        a_xy, b_xy : arrays of shape (na, 2) and (nb, 2), m
        a_room, b_room : arrays of shape (na,) and (nb,), or None
            Positions in ``floor.rooms``; -1, or None: found from the plan.

        Raises
        ------
        EstimateError
            If a coordinate is not finite or a shape does not fit.
        """
        if len(a_xy) > len(b_xy):
            return np.ascontiguousarray(self.distances(b_xy, b_room, a_xy, a_room).T)
        return self.reach(a_xy, a_room).to(self.stand(b_xy, b_room)).T

    def route(
        self, a: ArrayLike, room_a: int | None, b: ArrayLike, room_b: int | None
    ) -> Route | None:
        """Return the shortest walk between two places, or None where there is none.

        Parameters
        ----------
        a, b : array_like of shape (2,), m
        room_a, room_b : int or None
            Positions in ``floor.rooms``; None: found from the plan.

        Raises
        ------
        EstimateError
            If a coordinate is not finite.
        """
        rooms = tuple(-1 if room is None else room for room in (room_a, room_b))
        return find_route(
            self.floor, self.departure(a, rooms[0]), self.arrival(b, rooms[1]),
            (rooms[0], rooms[1]),
        )  # fmt: skip

    def departure(self, at: ArrayLike, room: int = -1) -> Departure:
        """Return a place (m) for :func:`hgmap.field.routes.find_route` to begin at."""
        return Departure(self.mesh, self.links, self._stand_at(at, room))

    def arrival(self, at: ArrayLike, room: int = -1) -> Arrival:
        """Return a place (m) for :func:`hgmap.field.routes.find_route` to end at."""
        return Arrival(self.mesh, self._stand_at(at, room))

    def _stand_at(self, at: ArrayLike, room: int) -> Stand:
        return self.stand(np.reshape(np.asarray(at, dtype=np.float64), (1, -1)), np.array([room]))

    def _onward(self, seen: Seen, length: Floats, count: int) -> Floats:
        """Return the length from each vertex to each place, shape (v, count)."""
        size = len(self.mesh.place)
        ahead = lightest(seen.eye + size, seen.vertex, length, size + count)
        grown = sp.csr_array(
            (self.links.data, self.links.indices,
             np.concatenate([self.links.indptr, np.full(count, self.links.indptr[-1])])),
            shape=(size + count, size + count),
        )  # fmt: skip
        lengths = dijkstra(grown + ahead, indices=np.arange(size, size + count))
        return np.ascontiguousarray(lengths[:, :size].T)


@dataclass(frozen=True)
class Reach:
    """The walks from some places to anywhere on a floor.

    Attributes
    ----------
    walks : Walks
    places : Stand
    from_vertex : array of shape (v, n)
        Length (m) from each vertex to each place.
    """

    walks: Walks
    places: Stand
    from_vertex: Floats
    _cones: Cones
    _by_triangle: Groups

    def to(self, targets: Stand) -> Floats:
        """Return the lengths of the shortest walks (m), shape (targets, places)."""
        walks, mesh = self.walks, self.walks.mesh
        out = np.full((len(targets.xy), len(self.places.xy)), np.inf)
        there = eyes(mesh, targets)
        target, cone = self._by_triangle.pairs(targets.triangle)
        eye = self._cones.eye[cone]
        sees = within(self._cones, cone, there[target] - eyes(mesh, self.places)[eye])
        target, eye = target[sees], eye[sees]
        out[target, eye] = np.hypot(*(targets.xy[target] - self.places.xy[eye]).T)
        target, cone = walks._by_triangle.pairs(targets.triangle)
        vertex = walks._bends[walks._cones.eye[cone]]
        sees = within(walks._cones, cone, there[target] - mesh.place[vertex])
        target, vertex = target[sees], vertex[sees]
        length = np.hypot(*(targets.xy[target] - mesh.place[vertex]).T)
        take_least(out, target, vertex, length, self.from_vertex)
        return out
