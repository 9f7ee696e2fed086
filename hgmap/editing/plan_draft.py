"""A floor plan while somebody draws it: every feature of its file, also those that are not sound.

:func:`hgmap.site.plan.read_plan` refuses a plan with one bad room; here the bad one is kept as it
stands, with its complaint, so that it can be mended. What nobody edits is written back unchanged.
"""

from __future__ import annotations

import copy
import itertools
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from hgmap.editing.outlines import ground_of
from hgmap.errors import PlanError
from hgmap.site.building import Opening, Room
from hgmap.site.geometries import geometries_at_once
from hgmap.site.plan import (
    FARTHEST_M,
    KINDS,
    join_openings,
    parse_geojson,
    properties_of,
    read_geometry,
    read_part,
    text_property,
)

FeatureKind = Literal["room", "wall", "opening", ""]

MILLIMETRE: Final = 3
"""Decimals (of metres) that a drawn corner is kept to."""


@dataclass(frozen=True)
class PlanFeature:
    """One feature of a plan.

    Attributes
    ----------
    key : str
        Names it within its draft: kind and id where no other of its kind has that id, else kind
        and number. It outlives edits of other features, saving and reading.
    number : int
        Its place in the file, from 1.
    kind : str
        ``"room"``, ``"wall"``, ``"opening"``; empty for whatever is left out of a plan.
    id, name : str
        As :func:`read_plan` would have them.
    geometry : shapely geometry or None
        In the floor's frame (m), also where it is not sound; an open ring is closed here, and in
        the file only by an edit.
    state : str
        Of an opening, as written; else empty.
    properties : mapping
        All of them.
    raw : object
        The feature as it stands in the file.
    complaint : str
        Why the plan cannot be read with it; empty where it can.
    part : Room, Opening or None
        What a plan holds for it.
    """

    key: str
    number: int
    kind: FeatureKind
    id: str
    name: str
    geometry: shapely.Geometry | None
    state: str
    properties: Mapping[str, Any]
    raw: Any = field(repr=False)
    complaint: str
    part: Room | Opening | None = field(repr=False)

    @property
    def title(self) -> str:
        """What a message calls it."""
        words = {"": "feature", "wall": "wall", "room": "room", "opening": "opening"}[self.kind]
        return f"{words} {self.name or self.id or self.number!r}"


@dataclass(frozen=True)
class PlanDraft:
    """The features of one plan, in the order of its file, and what else stands in that.

    Attributes
    ----------
    features : tuple of PlanFeature
    members : mapping
        The other members of the collection, in their order; ``"features"`` keeps its place.
    region : bool
        Whether it may be larger than a building, as for :func:`read_plan`.
    source : bytes
        The file where nothing has been edited since; else empty.
    """

    features: tuple[PlanFeature, ...] = ()
    members: Mapping[str, Any] = field(
        default_factory=lambda: MappingProxyType({"type": "FeatureCollection", "features": None})
    )
    region: bool = False
    source: bytes = field(default=b"", repr=False, compare=False)

    @cached_property
    def by_key(self) -> Mapping[str, PlanFeature]:
        """The features by their keys."""
        return {one.key: one for one in self.features}

    @cached_property
    def rooms(self) -> tuple[PlanFeature, ...]:
        """Every room, sound or not."""
        return tuple(one for one in self.features if one.kind == "room")

    @cached_property
    def walls(self) -> tuple[PlanFeature, ...]:
        """Every wall, sound or not."""
        return tuple(one for one in self.features if one.kind == "wall")

    @cached_property
    def openings(self) -> tuple[PlanFeature, ...]:
        """Every opening, sound or not."""
        return tuple(one for one in self.features if one.kind == "opening")

    @cached_property
    def sound_rooms(self) -> Mapping[str, Room]:
        """The rooms that a plan would hold, by the keys of their features."""
        return {one.key: one.part for one in self.rooms if isinstance(one.part, Room)}

    @cached_property
    def sound_openings(self) -> Mapping[str, Opening]:
        """The openings that a plan would hold, joined to rooms, by the keys of their features."""
        sound = {one.key: one.part for one in self.openings if isinstance(one.part, Opening)}
        joined = join_openings(list(sound.values()), list(self.sound_rooms.values()))
        return dict(zip(sound, joined, strict=True))

    @cached_property
    def ground(self) -> shapely.Geometry:
        """The ground (m) that all sound rooms cover together, what lies between them filled."""
        return ground_of([room.polygon for room in self.sound_rooms.values()])

    @cached_property
    def edges(self) -> NDArray[np.float64]:
        """Every edge of a room and piece of a wall: x, y of its ends (m), shape (n, 4)."""
        shapes = [one.geometry for one in (*self.rooms, *self.walls) if one.geometry is not None]
        return edges_of(shapes)

    def feature(self, key: str) -> PlanFeature:
        """Return a feature.

        Raises
        ------
        PlanError
            If the plan has none of this key.
        """
        try:
            return self.by_key[key]
        except KeyError:
            raise PlanError(f"the plan has no {key!r} any more", todo="choose another") from None

    def to_bytes(self) -> bytes:
        """Return the file: one feature a line, or its very bytes where nothing was edited."""
        if self.source:
            return self.source
        lines = b",\n".join(_json(one.raw) for one in self.features)
        members = [
            b'"features": [\n' + lines + (b"\n]" if lines else b"]")
            if name == "features"
            else _json(name) + b": " + _json(value)
            for name, value in self.members.items()
        ]
        return b"{" + b", ".join(members) + b"}\n"

    def edited(
        self, changed: Mapping[str, Any] | None = None, added: Sequence[Any] = ()
    ) -> PlanDraft:
        """Return the draft with other features, unchecked.

        Parameters
        ----------
        changed : mapping, optional
            For the keys of features to change: what stands in the file for them; None takes it
            out.
        added : sequence
            What stands in the file for new ones: they come last.
        """
        kept: list[PlanFeature | Any] = []
        number = 0
        for one in self.features:
            raw = changed[one.key] if changed and one.key in changed else one.raw
            if raw is None and changed and one.key in changed:
                continue
            number += 1
            if number != one.number and one.geometry is not None:
                # its made-up id must not change with its number
                raw = _with_id(raw, one)
            if raw is not one.raw or (number != one.number and one.geometry is None):
                kept.append(raw)
            else:
                kept.append(one if number == one.number else replace(one, number=number))
        features = [
            one if isinstance(one, PlanFeature) else _feature(one, n)
            for n, one in enumerate((*kept, *added), start=1)
        ]
        return replace(self, features=_keyed(features), source=b"")

    def with_member(self, name: str, value: Any) -> PlanDraft:
        """Return the draft with another member of the collection; None takes it out."""
        members = {key: one for key, one in self.members.items() if key != name}
        if value is not None:
            features = members.pop("features", None)  # they stay last, as a person reads the file
            members |= {name: value, "features": features}
        return replace(self, members=MappingProxyType(members), source=b"")


def read_plan_draft(data: bytes, *, where: str = "", region: bool = False) -> PlanDraft:
    """Read the features of a plan, sound or not.

    Raises
    ------
    PlanError
        If the file is no GeoJSON with a list of features.
    """
    collection = parse_geojson(data, where=where)
    raws = collection["features"]
    read = geometries_at_once(raws, farthest_m=FARTHEST_M) or [None] * len(raws)
    features = [
        _feature(raw, n, geometry)
        for n, (raw, geometry) in enumerate(zip(raws, read, strict=True), start=1)
    ]
    members = {name: None if name == "features" else one for name, one in collection.items()}
    return PlanDraft(_keyed(features), MappingProxyType(members), region, data)


def raw_feature(kind: str, geometry: shapely.Geometry, **properties: str) -> dict[str, Any]:
    """Return what stands in a file for a new feature; properties that are empty are left out."""
    return {
        "type": "Feature",
        "properties": {"kind": kind, **{key: one for key, one in properties.items() if one}},
        "geometry": geometry_json(geometry),
    }


def raw_with(
    feature: PlanFeature, geometry: shapely.Geometry | None = None, **properties: str
) -> dict[str, Any]:
    """Return what stands in a file for a feature with another geometry or other properties.

    Raises
    ------
    PlanError
        If it is no feature at all.
    """
    if not isinstance(feature.raw, dict):
        raise PlanError(f"{feature.title} cannot be edited", todo="take it out of the plan")
    raw = {**feature.raw, "properties": {**feature.properties, **properties}}
    if geometry is not None:
        raw["geometry"] = geometry_json(geometry)
    return raw


def geometry_json(geometry: shapely.Geometry) -> dict[str, Any]:
    """Return a geometry as GeoJSON has it."""
    made: dict[str, Any] = json.loads(shapely.to_geojson(geometry))
    return made


def millimetres(geometry: shapely.Geometry) -> shapely.Geometry:
    """Return a geometry with every coordinate rounded to a millimetre."""
    return shapely.transform(geometry, lambda at: np.round(at, MILLIMETRE) + 0.0)


def edges_of(geometries: Sequence[shapely.Geometry]) -> NDArray[np.float64]:
    """Return the edges of lines and polygons: x, y of their ends, shape (n, 4)."""
    parts = list(_lines_of(shapely.get_parts(np.array(geometries, dtype=object))))
    if not parts:
        return np.empty((0, 4))
    at, owner = shapely.get_coordinates(parts, return_index=True)
    same = owner[1:] == owner[:-1]
    return np.hstack([at[:-1][same], at[1:][same]])


def _lines_of(geometries: Any) -> Iterator[shapely.Geometry]:
    for one in geometries:
        if one.geom_type == "Polygon":
            yield from (one.exterior, *one.interiors)
        elif one.geom_type in ("LineString", "LinearRing"):
            yield one


def _feature(raw: Any, number: int, read: shapely.Geometry | None = None) -> PlanFeature:
    """Return a feature; ``read`` is its geometry where it was read already, and is plain."""
    properties = properties_of(raw)
    kind: Any = properties.get("kind")
    kind = kind if kind in KINDS else ""
    complaint, part = "", None
    try:
        made = read_part(raw, number, read)
        part = made if isinstance(made, Room | Opening) else None
    except PlanError as error:
        complaint = str(error)
    name, identifier = text_property(properties, "name"), text_property(properties, "id")
    if kind == "room":
        identifier = identifier or name or f"room-{number}"
        name = name or identifier
    elif kind == "opening":
        identifier = identifier or f"opening-{number}"
    state = (text_property(properties, "state") or "open") if kind == "opening" else ""
    if isinstance(part, Room):
        geometry: shapely.Geometry | None = part.polygon
    elif part is not None:
        geometry = part.line
    else:
        geometry = read if read is not None else _lenient(raw)
    return PlanFeature(
        "", number, kind, identifier, name, geometry, state, MappingProxyType(properties), raw,
        complaint, part,
    )  # fmt: skip


def _lenient(raw: Any) -> shapely.Geometry | None:
    try:
        return read_geometry(raw)
    except PlanError:
        pass
    try:
        return read_geometry({"geometry": _closed(raw["geometry"])})
    except (PlanError, TypeError, KeyError, AttributeError):
        return None


def _closed(geometry: dict[str, Any]) -> dict[str, Any]:
    closed = copy.deepcopy(geometry)
    drawn = closed.get("coordinates")
    parts: Any = {"Polygon": [drawn], "MultiPolygon": drawn}.get(str(closed.get("type"))) or []
    for ring in itertools.chain.from_iterable(parts):
        if ring[:1] != ring[-1:]:
            ring.append(ring[0])
    return closed


def _keyed(features: Sequence[PlanFeature]) -> tuple[PlanFeature, ...]:
    met = Counter((one.kind, one.id) for one in features)
    keys = (
        f"{one.kind} {one.id}"
        if one.id and met[one.kind, one.id] == 1
        else f"{one.kind}#{one.number}"
        for one in features
    )
    return tuple(
        one if one.key == key else replace(one, key=key)
        for one, key in zip(features, keys, strict=True)
    )


def _with_id(raw: Any, feature: PlanFeature) -> Any:
    properties = properties_of(raw)
    named = text_property(properties, "id") or (
        feature.kind == "room" and text_property(properties, "name")
    )
    if named or feature.kind not in ("room", "opening"):
        return raw
    return {**raw, "properties": {**properties, "id": feature.id}}


def _json(value: Any) -> bytes:
    try:
        return json.dumps(value, ensure_ascii=False).encode()
    except UnicodeEncodeError:  # half a character: JSON can only spell it out
        return json.dumps(value).encode()
