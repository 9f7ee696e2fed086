"""Imaginary readings: they move the map that is shown, and nothing else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from hgmap.decide.model import ZONE_NAMES
from hgmap.errors import SiteError
from hgmap.floor_map import FloorMap, MapOptions, map_floor
from hgmap.map_case import MapCase, map_case
from hgmap.site.folder import read_site
from hgmap.what_if import IMAGINARY, Imaginary, areas, imaginary_readings, what_if

MakeSite = Callable[..., Path]
OPTIONS = MapOptions(cell_m=0.5)


def files_of(folder: Path) -> dict[str, bytes]:
    return {str(one): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def mapped(case: MapCase) -> FloorMap:
    return map_floor(
        case.site, case.site.floors[0], case.round, case.band, case.level, OPTIONS,
        unfit=case.unfit,
    )  # fmt: skip


@pytest.fixture
def known(make_site: MakeSite) -> tuple[Path, MapCase, FloorMap]:
    site = make_site()
    case = map_case(read_site(site), OPTIONS)
    return site, case, mapped(case)


def test_an_imaginary_reading_is_on_the_map_and_nowhere_else(
    known: tuple[Path, MapCase, FloorMap],
) -> None:
    folder, case, now = known
    before = files_of(folder)
    found = what_if(case, now, [Imaginary(10.0, 4.5, "80")], OPTIONS)
    (reading,) = found.readings
    assert (reading.id, reading.note, reading.cautions) == ("imaginary 1", IMAGINARY, (IMAGINARY,))
    assert reading in [one.reading for one in found.floor_map.evidence.used]
    assert found.after["remediate"] > found.before["remediate"]
    assert sum(found.after.values()) == pytest.approx(sum(found.before.values()))
    assert files_of(folder) == before
    assert not any(one.id.startswith("imaginary") for one in case.site.readings)
    assert not any(one.id.startswith("imaginary") for one in read_site(folder).readings)
    assert found.before == areas(now.zones)


def test_without_any_the_map_is_the_one_that_was(known: tuple[Path, MapCase, FloorMap]) -> None:
    _, case, now = known
    found = what_if(case, now, [], OPTIONS)
    assert found.after == pytest.approx(found.before)
    assert [one.geometry.wkb for one in found.floor_map.zones.zones] == [
        one.geometry.wkb for one in now.zones.zones
    ]
    assert found.doubt_m2 == pytest.approx(
        (found.before["resample"] + found.before["no data"],) * 2
    )


def test_a_value_is_read_as_it_would_be_written(known: tuple[Path, MapCase, FloorMap]) -> None:
    _, case, _ = known
    floor = case.site.floors[0]
    texts = ("<0.05", "4", "4 ug/m3", "4000 ng/m3", ">50")
    made = imaginary_readings(case, floor, [Imaginary(1.0, 1.0, one) for one in texts])
    assert [one.qualifier for one in made] == ["<", "", "", "", ">"]
    assert [one.concentration for one in made] == pytest.approx([0.05, 4.0, 4.0, 4.0, 50.0])
    assert {(one.room, one.band) for one in made} == {("A", case.band)}
    assert [one.id for one in made] == [f"imaginary {k}" for k in range(1, 6)]


@pytest.mark.parametrize(
    ("one", "why"),
    [
        (Imaginary(1.0, 1.0, ""), "no value"),
        (Imaginary(1.0, 1.0, "a lot"), "a lot"),
        (Imaginary(1.0, 1.0, "-3"), "-3"),
        (Imaginary(1.0, 1.0, "4 kg"), "kg"),
        (Imaginary(99.0, 1.0, "4"), "in no room"),
        (Imaginary(float("nan"), 1.0, "4"), "in no room"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_line(
    known: tuple[Path, MapCase, FloorMap], one: Imaginary, why: str
) -> None:
    _, case, _ = known
    with pytest.raises(SiteError) as caught:
        imaginary_readings(case, case.site.floors[0], [one])
    assert why in str(caught.value)
    assert "\n" not in str(caught.value)


def test_it_never_lifts_what_forbids_a_clear(
    make_site: MakeSite, make_table: Any, make_rows: Any
) -> None:
    rows = list(make_rows())
    rows.append(rows[0].replace("R1,", "R99,").replace(",ground,", ",nowhere,"))
    case = map_case(read_site(make_site(readings={"first.csv": make_table(rows)})), OPTIONS)
    now = mapped(case)
    assert now.nothing_clear or now.evidence.strays or case.site.problems
    found = what_if(case, now, [Imaginary(9.0, 4.0, "<0.01")] * 8, OPTIONS)
    assert found.floor_map.nothing_clear == now.nothing_clear
    assert {*found.after} == {*ZONE_NAMES}
