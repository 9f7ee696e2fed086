"""The commands from a scan to walls in a plan: offered, drawn, chosen by number."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from hgmap.report.drawing import PT_PER_MM, Label, Picture, texts
from hgmap.report.drawing import Path as Line
from hgmap.report.proposals_sheet import proposals_sheet
from hgmap.site.wall_finding.proposals import propose_walls
from tests.conftest import Outcome
from tests.site.wall_finding.drawn_floors import draw_floor

Run = Callable[..., Outcome]


@pytest.fixture(scope="module")
def scan(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[str, ...]]:
    """Return a scan, turned 25 degrees on its paper, and the options that place it."""
    drawn = draw_floor(turn_deg=25, m_per_px=0.03)
    file = tmp_path_factory.mktemp("scan") / "scan.png"
    Image.fromarray(drawn.grey).save(file)
    said: list[str] = []
    for x, y in ((0, 0), (12, 0), (12, 8)):
        column, row = drawn.picture.to_pixels([(x, y)])[0]
        said += ["--point", f"{column:.2f},{row:.2f}={x},{y}"]
    return file, tuple(said)


@pytest.fixture
def placed(scan: Any, tmp_path: Path, run: Run) -> Path:
    file, said = scan
    site = tmp_path / "site"
    got = run("import", "picture", file, "--into", site, "--floor", "ground", *said)
    assert got.code == 0, got.text
    return site


def test_a_picture_is_placed_with_its_residuals(scan: Any, tmp_path: Path, run: Run) -> None:
    file, said = scan
    got = run("import", "picture", file, "--into", tmp_path / "s", "--floor", "ground", *said)
    assert got.code == 0, got.text
    assert "root mean square of the misses: 0.000 m, of 3 points" in got.out
    assert "turned -25.0" in got.out
    assert "a new site" in got.out


def test_points_that_miss_are_done_with_a_warning(scan: Any, tmp_path: Path, run: Run) -> None:
    file, said = scan
    worse = [one.replace("=12,8", "=12.2,8.2") for one in said]
    got = run("import", "picture", file, "--into", tmp_path / "s", "--floor", "ground", *worse)
    assert got.code == 1
    assert "warning: a point misses by" in got.out


def test_a_picture_that_cannot_be_used_is_one_line(tmp_path: Path, run: Run) -> None:
    file = tmp_path / "words.png"
    file.write_text("words")
    got = run("import", "picture", file, "--into", tmp_path / "s", "--floor", "ground")
    assert got.code == 2
    assert got.err == "hgmap: words.png: is no PNG, JPEG, TIFF or PDF; save it as one of them\n"
    assert not (tmp_path / "s").exists()


def test_walls_are_offered_and_the_plan_stays_as_it_was(placed: Path, run: Run) -> None:
    before = (placed / "plans/ground.geojson").read_bytes()
    toml = (placed / "site.toml").read_bytes()
    got = run("import", "walls", placed, "--floor", "ground")
    assert got.code == 1, got.text
    assert "offered only" in got.out
    assert "8 walls of 53." in got.out
    assert "gap between walls" in got.out
    assert (placed / "plans/ground.geojson").read_bytes() == before
    assert (placed / "site.toml").read_bytes() == toml
    with Image.open(placed / "results/walls-ground.png") as drawn:
        assert min(drawn.size) > 500


def test_what_is_accepted_by_number_is_in_the_plan(placed: Path, run: Run) -> None:
    got = run("import", "walls", placed, "--floor", "ground", "--accept", "1-3,d2")
    assert got.code == 0, got.text
    assert "3 walls and 1 openings (open) written to plans/ground.geojson" in got.out
    plan = (placed / "plans/ground.geojson").read_text("utf-8")
    assert (plan.count('"wall"'), plan.count('"opening"')) == (3, 1)
    got = run("import", "walls", placed, "--floor", "ground", "--accept", "all")
    assert got.code == 1
    assert "not put there again: wall 1, wall 2, wall 3, gap d2" in got.out
    plan = (placed / "plans/ground.geojson").read_text("utf-8")
    assert (plan.count('"wall"'), plan.count('"opening"')) == (8, 2)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        (("--accept", "1-99"), "--accept: there is no wall 9"),
        (("--accept", "some"), "--accept: 'some' is no number"),
        (("--floor", "attic"), "no floor 'attic'"),
        (("--threshold", "300"), "--threshold: a threshold of 300"),
        (("--picture", "walls.gif"), "--picture: .gif is no format"),
        (("--shortest", "0"), "--shortest: 0 m"),
    ],
)
def test_what_makes_no_sense_is_one_line_and_nothing_is_written(
    placed: Path, run: Run, words: tuple[str, ...], text: str
) -> None:
    before = {one: one.read_bytes() for one in placed.rglob("*") if one.is_file()}
    floor = () if "--floor" in words else ("--floor", "ground")
    got = run("import", "walls", placed, *floor, *words)
    assert got.code == 2
    assert text in got.err
    assert len(got.err.splitlines()) == 1
    assert {one: one.read_bytes() for one in placed.rglob("*") if one.is_file()} == before


def test_the_numbered_picture_never_takes_the_place_of_the_sites_own(
    placed: Path, run: Run
) -> None:
    own = placed / "plans/ground.png"
    before = own.read_bytes()
    got = run("import", "walls", placed, "--floor", "ground", "--picture", own)
    assert got.code == 2
    assert "is a file of the site" in got.err
    assert own.read_bytes() == before


def test_a_floor_without_a_picture_is_told_how_to_get_one(
    make_site: Callable[..., Path], run: Run
) -> None:
    got = run("import", "walls", make_site(), "--floor", "ground")
    assert got.code == 2
    assert "has no picture; lay one under its plan: `hgmap import picture`" in got.err


def test_a_picture_without_a_scale_proposes_nothing(scan: Any, tmp_path: Path, run: Run) -> None:
    site = tmp_path / "s"
    got = run("import", "picture", scan[0], "--into", site, "--floor", "ground")
    assert got.code == 1
    assert "warning: nobody has said its scale" in got.out
    got = run("import", "walls", site, "--floor", "ground", "--accept", "all")
    assert got.code == 2
    assert "nobody has set the scale of the picture" in got.err


def test_the_sheet_shows_every_number_over_the_picture_and_none_over_another() -> None:
    drawn = draw_floor(turn_deg=25, m_per_px=0.03)
    found = propose_walls(drawn.grey, drawn.picture)
    sheet = proposals_sheet(found, drawn.grey, title="Walls", in_plan="nothing")
    (frame,) = sheet.frames
    labels = [one for one in frame.drawing if isinstance(one, Label)]
    assert sorted(one.text for one in labels) == sorted(
        [*(str(one.number) for one in found.walls), *(f"d{one.number}" for one in found.doors)]
    )
    scale = frame.mm_per_m * PT_PER_MM
    places = np.array([(one.x * scale, one.y * scale) for one in labels])
    places += [one.offset_pt for one in labels]
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    assert apart[~np.eye(len(labels), dtype=bool)].min() > 6
    (picture,) = [one for one in frame.drawing if isinstance(one, Picture)]
    assert picture.bounds == (0, 0, *found.size_px)
    # every wall is drawn on dark pixels of the picture, or between its two faces
    lines = [one for one in frame.drawing if isinstance(one, Line)]
    assert len(lines) == 2 * (len(found.walls) + len(found.doors))
    assert {"Walls", "nothing", "8 thick walls, by their middle"} <= set(texts(sheet))
