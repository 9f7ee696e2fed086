"""A small invented house, written with ifcopenshell: what the tests of IFC read back."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import ifcopenshell.api.aggregate as aggregate
import ifcopenshell.api.context as context
import ifcopenshell.api.feature as feature
import ifcopenshell.api.geometry as geometry
import ifcopenshell.api.georeference as georeference
import ifcopenshell.api.owner as owner
import ifcopenshell.api.project as project
import ifcopenshell.api.root as root
import ifcopenshell.api.spatial as spatial
import ifcopenshell.api.unit as unit
import numpy as np

UNIT_M = {"m": 1.0, "mm": 0.001, "ft": 0.3048}


@dataclass
class House:
    """A file that grows; all lengths that are given to it are metres."""

    units: str = "m"
    schema: str = "IFC4"
    site_at: tuple[float, float] = (0.0, 0.0)
    site_turned_deg: float = 0.0
    file: Any = field(init=False)

    def __post_init__(self) -> None:
        self.file = project.create_file(version=self.schema)
        if self.schema == "IFC2X3":  # it wants to know who wrote each part
            person = owner.add_person(self.file, identification="nobody")
            company = owner.add_organisation(self.file, identification="none", name="none")
            owner.add_person_and_organisation(self.file, person=person, organisation=company)
            owner.add_application(self.file)
        whole = root.create_entity(self.file, ifc_class="IfcProject", name="Invented house")
        if self.units == "ft":
            length = unit.add_conversion_based_unit(self.file, name="foot")
        else:
            prefix = "MILLI" if self.units == "mm" else None
            length = unit.add_si_unit(self.file, unit_type="LENGTHUNIT", prefix=prefix)
        unit.assign_unit(self.file, units=[length])
        model = context.add_context(self.file, context_type="Model")
        self.body = context.add_context(
            self.file, context_type="Model", context_identifier="Body",
            target_view="MODEL_VIEW", parent=model,
        )  # fmt: skip
        self.site = self._spatial("IfcSite", "Site", whole)
        self._place(self.site, self.site_at, 0.0, self.site_turned_deg)
        self.building = self._spatial("IfcBuilding", "House", self.site)

    def storey(self, name: str, height_m: float) -> Any:
        made = self._spatial("IfcBuildingStorey", name, self.building)
        self._place(made, (0.0, 0.0), height_m)
        made.Elevation = height_m / UNIT_M[self.units]
        return made

    def space(self, storey: Any, name: str, corners: list[tuple[float, float]], *,
              long_name: str | None = None, height_m: float = 2.5) -> Any:  # fmt: skip
        made = self._spatial("IfcSpace", name, storey)
        made.LongName = long_name
        self._extrude(made, storey, corners, 0.0, height_m)
        return made

    def drawn_space(self, storey: Any, name: str, *rings: list[tuple[float, float]]) -> Any:
        """Add a space that is only lines on the floor."""
        made = self._spatial("IfcSpace", name, storey)
        plan = context.add_context(self.file, context_type="Plan")
        flat = context.add_context(
            self.file, context_type="Plan", context_identifier="FootPrint",
            target_view="PLAN_VIEW", parent=plan,
        )  # fmt: skip
        lines = [self._polyline(ring) for ring in rings]
        curves = self.file.createIfcGeometricCurveSet(lines)
        shape = self.file.createIfcShapeRepresentation(
            flat, "FootPrint", "GeometricCurveSet", [curves]
        )
        geometry.assign_representation(self.file, product=made, representation=shape)
        self._place(made, (0.0, 0.0), self._height(storey), inside_site=True)
        return made

    def wall(self, storey: Any, corners: list[tuple[float, float]], *, low_m: float = 0.0,
             high_m: float = 3.0, name: str = "wall") -> Any:  # fmt: skip
        made = root.create_entity(self.file, ifc_class="IfcWall", name=name)
        spatial.assign_container(self.file, products=[made], relating_structure=storey)
        self._extrude(made, storey, corners, low_m, high_m)
        return made

    def hole(self, wall: Any, storey: Any, corners: list[tuple[float, float]], *,
             low_m: float = 0.0, high_m: float = 2.1) -> Any:  # fmt: skip
        made = root.create_entity(self.file, ifc_class="IfcOpeningElement", name="hole")
        self._extrude(made, storey, corners, low_m, high_m)
        feature.add_feature(self.file, feature=made, element=wall)
        return made

    def fill(self, hole: Any | None, storey: Any, ifc_class: str, width_m: float,
             at: tuple[float, float] = (0.0, 0.0), turned_deg: float = 0.0,
             name: str = "D1") -> Any:  # fmt: skip
        made = root.create_entity(self.file, ifc_class=ifc_class, name=name)
        made.OverallWidth = width_m / UNIT_M[self.units]
        made.OverallHeight = 2.1 / UNIT_M[self.units]
        spatial.assign_container(self.file, products=[made], relating_structure=storey)
        self._place(made, at, self._height(storey), turned_deg, inside_site=True)
        if hole is not None:
            feature.add_filling(self.file, opening=hole, element=made)
        return made

    def on_the_map(self, name: str, *, east: float, north: float, turned_deg: float = 0.0,
                   scale: float | None = None) -> None:  # fmt: skip
        georeference.add_georeferencing(self.file)
        turn = math.radians(turned_deg)
        georeference.edit_georeferencing(
            self.file,
            projected_crs={"Name": name},
            coordinate_operation={
                "Eastings": east, "Northings": north, "OrthogonalHeight": 0.0,
                "XAxisAbscissa": math.cos(turn), "XAxisOrdinate": math.sin(turn), "Scale": scale,
            },
        )  # fmt: skip

    def data(self) -> bytes:
        return str(self.file.to_string()).encode()

    def _spatial(self, ifc_class: str, name: str, above: Any) -> Any:
        made = root.create_entity(self.file, ifc_class=ifc_class, name=name)
        aggregate.assign_object(self.file, products=[made], relating_object=above)
        return made

    def _height(self, storey: Any) -> float:
        return float(storey.Elevation) * UNIT_M[self.units]

    def _extrude(self, product: Any, storey: Any, corners: list[tuple[float, float]],
                 low_m: float, high_m: float) -> None:  # fmt: skip
        one = UNIT_M[self.units]
        solid = self.file.createIfcExtrudedAreaSolid(
            self.file.createIfcArbitraryClosedProfileDef("AREA", None, self._polyline(corners)),
            self.file.createIfcAxis2Placement3D(self.file.createIfcCartesianPoint((0.0, 0.0, 0.0))),
            self.file.createIfcDirection((0.0, 0.0, 1.0)),
            (high_m - low_m) / one,
        )
        shape = self.file.createIfcShapeRepresentation(self.body, "Body", "SweptSolid", [solid])
        geometry.assign_representation(self.file, product=product, representation=shape)
        self._place(product, (0.0, 0.0), self._height(storey) + low_m, inside_site=True)

    def _polyline(self, corners: list[tuple[float, float]]) -> Any:
        one = UNIT_M[self.units]
        return self.file.createIfcPolyline(
            [
                self.file.createIfcCartesianPoint((x / one, y / one))
                for x, y in [*corners, corners[0]]
            ]
        )

    def _place(self, product: Any, at: tuple[float, float], height_m: float,
               turned_deg: float = 0.0, *, inside_site: bool = False) -> None:  # fmt: skip
        """Place a product; ``at`` is in the axes of the site where it stands on it."""
        matrix = _turned(at, height_m, turned_deg)
        if inside_site or product.is_a("IfcBuildingStorey"):
            matrix = _turned(self.site_at, 0.0, self.site_turned_deg) @ matrix
        geometry.edit_object_placement(self.file, product=product, matrix=matrix)


def _turned(at: tuple[float, float], height_m: float, turned_deg: float) -> Any:
    turn = math.radians(turned_deg)
    matrix = np.eye(4)
    matrix[:2, :2] = [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
    matrix[:3, 3] = [*at, height_m]
    return matrix


def rectangle(west: float, south: float, east: float, north: float) -> list[tuple[float, float]]:
    return [(west, south), (east, south), (east, north), (west, north)]


def two_rooms(house: House) -> House:
    """Two storeys: a laboratory and a store with a wall and a door between them, and an office."""
    ground = house.storey("Ground", 0.0)
    house.space(ground, "G01", rectangle(0, 0, 6, 4), long_name="Lab")
    house.space(ground, "Store", rectangle(6.2, 0, 9.2, 4))
    wall = house.wall(ground, rectangle(6, 0, 6.2, 4))
    hole = house.hole(wall, ground, rectangle(6, 1, 6.2, 1.9))
    house.fill(hole, ground, "IfcDoor", 0.9)
    window_wall = house.wall(ground, rectangle(0, -0.3, 9.2, 0))
    window = house.hole(window_wall, ground, rectangle(2, -0.3, 3.5, 0), low_m=0.9)
    house.fill(window, ground, "IfcWindow", 1.5, name="W1")
    upper = house.storey("Upper", 3.2)
    house.space(upper, "U01", rectangle(0, 0, 5, 4), long_name="Office")
    return house
