"""What a layer is for: names of the trade, published conventions, and what a person says."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hgmap.errors import PlanError
from hgmap.site.importers.dxf_layers import ROLES, layer_by_name, layers_as_said

NAMES = {
    "wall": "A-WALL A-WALL-FULL-N S-COLS Wände Außenwand Innenwaende MURS Cloisons PAREDES paredes "
    "parede muri pareti muren väggar ściany WALLS-EXISTING Curtain_Wall xref$0$A-WALL ARCH|Walls "
    "obstacles Stützen indoor_wall A-21----E-01",
    "door": "A-DOOR Doors Türen Innentüren TUEREN portes PORTE puertas portas deuren dörrar drzwi "
    "Wandöffnungen A-32----E-",
    "window": "A-GLAZ A-GLAZ-SILL Windows Fenster fenêtres finestre ventanas janelas ramen fönster "
    "okna",
    "room": "A-AREA Rooms Räume raumpolygon Spaces pièces locali stanze habitaciones salas ruimten "
    "Zimmer pomieszczenia",
    "text": "A-AREA-IDEN A-FLOR-IDEN Raumstempel Raumbezeichnung RoomNames TEXT Texte Beschriftung "
    "room_labels",
    "outline": "A-FLOR-OTLN Outline Umriss contour",
    "walkable": "walkablearea walkable",
    "ignore": "A-FURN I-FURN-FREE Möbel Mobiliar mobilier A-WALL-PATT A-WALL-DIMS Bemaßung Maße "
    "cotes quote A-DOOR-IDEN Türnummern E-LITE-WALL M-DUCT-WALL A-WALL-D A-WALL-FULL-D S-GRID "
    "Achsen A-CLNG A-ROOF Defpoints Schraffur_Wand Treppe stairs A-FLOR-STRS A-WALL-PRHT "
    "A-21----D-01 A-21----H- A-FLOR-PATT demolition",
    "": "0 Plan1 A-FLOR2 journeys exits Grundriss Layer_3 outdoor traum",
}


@pytest.mark.parametrize(
    ("name", "role"), [(name, role) for role, names in NAMES.items() for name in names.split()]
)
def test_a_layer_is_known_by_its_name(name: str, role: str) -> None:
    assert (layer_by_name(name).role or "") == role
    assert (layer_by_name(name.upper()).role or "") in (role, "")


@given(st.text(max_size=60))
def test_any_name_has_a_role_or_none(name: str) -> None:
    assert layer_by_name(name).role in (*ROLES, None)


@given(st.text(string.digits + "_- .", max_size=6), st.sampled_from(["Walls", "Türen", "FENSTER"]))
def test_numbers_before_and_after_a_name_do_not_matter(number: str, name: str) -> None:
    plain = layer_by_name(name)
    assert layer_by_name(f"{number}_{name}") == plain
    assert layer_by_name(f"{name}_{number}") == plain


def test_what_is_said_outweighs_names_and_a_role_said_is_not_guessed_elsewhere() -> None:
    found = layers_as_said(
        ["A-WALL", "plan-1", "PLAN-2", "A-DOOR"], {"wall": " plan-? ; nothing "}, file="a.dxf"
    )
    assert {name: layer.role for name, layer in found.items()} == {
        "A-WALL": None, "plan-1": "wall", "PLAN-2": "wall", "A-DOOR": "door",
    }  # fmt: skip
    assert found["plan-1"].why == "as said"


@pytest.mark.parametrize(
    ("said", "message"),
    [
        ({"walls": "A*"}, "'walls' is nothing that a layer can be for; say one of room, walkable"),
        ({"wall": "X*"}, "no layer of a.dxf is called 'X*'; its layers are A-WALL, A-DOOR"),
        ({"wall": ""}, "no layer of a.dxf is called ''"),
        ({"wall": "A-*", "door": "A-DOOR"}, "layer 'A-DOOR' is said to be wall and door"),
    ],
)
def test_what_cannot_be_meant_is_refused(said: dict[str, str], message: str) -> None:
    with pytest.raises(PlanError) as caught:
        layers_as_said(["A-WALL", "A-DOOR"], said, file="a.dxf")
    assert str(caught.value).startswith("--layers: ")
    assert message in str(caught.value)
