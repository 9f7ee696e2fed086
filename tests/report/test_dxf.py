"""DXF: opens without audit errors, has every layer, and lies where the plan lies."""

from __future__ import annotations

import io
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import ezdxf
import pyogrio
import pytest
import shapely
from ezdxf.audit import Auditor
from ezdxf.document import Drawing
from hypothesis import given
from hypothesis import strategies as st

from hgmap.report.dxf import dxf_bytes, write_dxf
from hgmap.report.dxf_looks import ZONE_LAYERS
from hgmap.report.dxf_texts import literal
from tests.report.exported import EAST, NORTH, Mapped, mapped


def opened(data: bytes) -> Drawing:
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


def drawing(got: Mapped) -> Drawing:
    return opened(dxf_bytes(got.facts, got.one))


def audited(document: Drawing) -> Auditor:
    found = document.audit()
    assert not found.errors
    assert not found.fixes
    return found


def of_layer(document: Drawing, layer: str, kind: str = "*") -> list[Any]:
    return [one for one in document.modelspace().query(kind) if one.dxf.layer == layer]


def told_by(block: Any) -> dict[str, str]:
    return {one.dxf.tag: one.dxf.text for one in block.attribs}


def texts(document: Drawing, layer: str) -> list[str]:
    return [one.dxf.text for one in of_layer(document, layer, "TEXT")]


@pytest.mark.parametrize("name", ["plain", "placed"])
def test_it_opens_without_audit_errors_in_metres(name: str, request: Any) -> None:
    document = drawing(request.getfixturevalue(name))
    audited(document)
    assert document.header["$INSUNITS"] == 6  # metres, in the format's own list
    assert document.header["$MEASUREMENT"] == 1


def test_every_thing_has_its_layer(placed: Mapped) -> None:
    document, one = drawing(placed), placed.one
    assert len(of_layer(document, "rooms", "LWPOLYLINE")) == 2
    assert len(of_layer(document, "openings-open", "LWPOLYLINE")) == 1
    assert len(of_layer(document, "contours", "LWPOLYLINE")) == len(one.zones.contours) > 0
    further = next(zones for zones in one.nested if zones.level != one.zones.level)
    assert len(of_layer(document, "contours-at-6-ug-per-m3")) == len(further.contours) > 0
    names = Counter(zone.name for zone in one.zones.zones)
    blocks = [told_by(block) for block in of_layer(document, "zone-ids", "INSERT")]
    assert Counter(told["ZONE"] for told in blocks) == names
    assert {told["ID"] for told in blocks} == {zone.id for zone in one.zones.zones}
    assert not document.layers.get("zone-ids").is_on()
    for name in names:
        assert of_layer(document, ZONE_LAYERS[name], "LWPOLYLINE")
    assert {"Room A", "Room B"} <= set(texts(document, "room-names"))


def test_walls_and_shut_doors_are_told_apart(
    site_maker: Any, make_plan: Any, make_room: Any, make_feature: Any, tmp_path: Path
) -> None:
    plan = make_plan(
        make_room("A", 0, 0, 6, 5), make_room("B", 6, 0, 12, 5),
        make_feature("wall", "LineString", [[0, 0], [12, 0], [12, 5]]),
        make_feature("opening", "LineString", [[6, 1], [6, 2]], id="d1", state="closed"),
        make_feature("opening", "LineString", [[6, 3], [6, 4]], id="d2", state="sealed"),
    )  # fmt: skip
    document = drawing(mapped(site_maker, tmp_path / "site", plans={"ground": plan}))
    audited(document)
    (wall,) = of_layer(document, "walls", "LWPOLYLINE")
    assert [tuple(place) for place in wall.get_points("xy")] == [(0, 0), (12, 0), (12, 5)]
    assert len(of_layer(document, "openings-closed")) == 1
    assert len(of_layer(document, "openings-sealed")) == 1


def test_readings_are_blocks_at_their_places_with_what_was_read(placed: Mapped) -> None:
    document = drawing(placed)
    blocks = [one for one in of_layer(document, "readings", "INSERT") if one.attribs]
    items = {item.reading.id: item for item in placed.one.evidence.items}
    assert len(blocks) == len(items) == 15
    for block in blocks:
        told = told_by(block)
        item = items[told["ID"]]
        assert block.dxf.insert.x - EAST == pytest.approx(item.reading.x, abs=1e-6)
        assert block.dxf.insert.y - NORTH == pytest.approx(item.reading.y, abs=1e-6)
        assert block.dxf.name == "reading-used"
        assert told["HEIGHT_M"] == "1.5"
        assert float(told["VALUE"].split()[0]) == pytest.approx(item.reading.value, rel=0.05)
    rings = [one for one in of_layer(document, "readings", "INSERT")
             if one.dxf.name == "above-level"]  # fmt: skip
    assert len(rings) == sum(item.above for item in items.values()) > 0


def test_a_second_reader_finds_the_zones_where_they_are_and_as_large(
    placed: Mapped, tmp_path: Path
) -> None:
    path = tmp_path / "plan.dxf"
    write_dxf(path, placed.facts, placed.one)
    table = pyogrio.read_dataframe(path)
    assert tuple(shapely.total_bounds(table[table["Layer"] == "rooms"].geometry)) == (
        EAST, NORTH, EAST + 12, NORTH + 5,
    )  # fmt: skip
    room = shapely.box(EAST, NORTH, EAST + 12, NORTH + 5)
    for name, layer in ZONE_LAYERS.items():
        area = placed.one.zones.area_m2(name)
        # the sample of the legend lies below the plan
        rings = [shapely.Polygon(line) for line in table[table["Layer"] == layer].geometry]
        drawn = sum(ring.area for ring in rings if room.buffer(1e-6).covers(ring))
        holes = sum(
            shapely.Polygon(ring).area
            for zone in placed.one.zones.zones if zone.name == name
            for part in shapely.get_parts(zone.geometry) for ring in part.interiors
        )  # fmt: skip
        assert drawn - 2.0 * holes == pytest.approx(area, abs=1e-3)
    readings = table[(table["Layer"] == "reading-values") & table["Text"].notna()]
    assert len(readings) > 0


def test_places_to_measure_again_have_their_numbers(
    site_maker: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    table = make_table(make_rows()[:6])
    got = mapped(site_maker, tmp_path / "site", readings={"first.csv": table})
    places = got.one.resample.places
    assert places
    document = drawing(got)
    blocks = of_layer(document, "resample-places", "INSERT")
    assert {told_by(one)["RANK"] for one in blocks} == {str(place.rank) for place in places}
    for block in blocks:
        shown = [one.dxf.tag for one in block.attribs if not one.is_invisible]
        assert shown == ["RANK"]


def test_a_held_reading_is_a_cross_and_says_why(
    site_maker: Any, make_rows: Any, make_table: Any, tmp_path: Path
) -> None:
    table = make_table([*make_rows(), "H1,ground,A,2,2,1.5,,NaN,ug/m3,,"])
    document = drawing(mapped(site_maker, tmp_path / "site", readings={"first.csv": table}))
    (held,) = [one for one in of_layer(document, "readings", "INSERT")
               if one.attribs and told_by(one)["ID"] == "H1"]  # fmt: skip
    assert held.dxf.name == "reading-held"
    assert "not measured" in told_by(held)["REASONS"]


def test_the_notes_have_the_level_the_answer_and_the_cautions(plain: Mapped) -> None:
    told = " ".join(texts(drawing(plain), "notes"))
    assert "action level: 3 µg/m³" in told
    assert "caution: a caution of the level" in told
    assert "not a health opinion" in told
    assert "to remediate" in told
    assert "coordinates: plan metres" in told


def test_a_plan_without_a_place_keeps_its_own_metres(plain: Mapped) -> None:
    places = [place for room in of_layer(drawing(plain), "rooms", "LWPOLYLINE")
              for place in room.get_points("xy")]  # fmt: skip
    assert tuple(shapely.MultiPoint(places).bounds) == (0, 0, 12, 5)


def test_the_drawing_says_where_it_lies(placed: Mapped) -> None:
    document = drawing(placed)
    low, high = document.header["$EXTMIN"], document.header["$EXTMAX"]
    for entity in document.modelspace().query("LWPOLYLINE"):
        for x, y, *_ in entity:
            assert low[0] <= x <= high[0]
            assert low[1] <= y <= high[1]
    assert high[0] - low[0] < 1000


def test_the_bytes_do_not_hang_on_the_order_of_a_set(
    plain: Mapped, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ezdxf.entitydb import EntityDB

    found = EntityDB.dxf_types_in_use
    made = []
    for way in (sorted, lambda names: sorted(names, reverse=True)):
        monkeypatch.setattr(EntityDB, "dxf_types_in_use", lambda self, way=way: way(found(self)))
        made.append(dxf_bytes(plain.facts, plain.one))
    assert made[0] == made[1]


def test_the_same_map_gives_the_same_bytes_and_no_moment(plain: Mapped) -> None:
    data = dxf_bytes(plain.facts, plain.one)
    assert dxf_bytes(plain.facts, plain.one) == data
    assert not re.search(rb"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d", data)
    assert not re.search(rb"GUID\n  2\n\{(?!0{8}-)", data)


@given(st.text(max_size=400))
def test_no_text_of_a_person_breaks_a_line_or_begins_a_code(text: str) -> None:
    line = literal(text)
    assert "%%" not in line
    assert len(line) <= 250
    assert line.splitlines() in ([line], [])


ODD = ("学校 二楼", "غرفة الدرس", "a\\Pb{\\fX;}", "%%c 100^J", "x" * 300, "<b>& \"'")


@pytest.mark.parametrize("name", ODD)
def test_odd_names_of_rooms_and_sites_are_drawn_and_audited(
    site_maker: Any, make_plan: Any, make_room: Any, tmp_path: Path, name: str
) -> None:
    room = make_room("A", 0, 0, 12, 5)
    room["properties"]["name"] = name
    got = mapped(site_maker, tmp_path / "site", plans={"ground": make_plan(room)})
    facts = replace(got.facts, site=replace(got.site, name=name))
    document = opened(dxf_bytes(facts, got.one))
    audited(document)
    assert any(line.startswith("site: ") for line in texts(document, "notes"))
    if name == ODD[0]:
        assert name in texts(document, "room-names")
