"""A picture is copied under a floor's plan and placed, or the folder stays as it was."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from hgmap.editing.floor_settings import EMPTY_PLAN
from hgmap.editing.import_picture import ImportedPicture, import_picture
from hgmap.editing.picture_placing import Placing
from hgmap.editing.site_files import read_site_files, site_of
from hgmap.errors import HgmapError
from hgmap.site.folder import read_site
from hgmap.site.pictures.placed import read_point
from hgmap.site.plan_picture import PlanPicture

POINTS = Placing((read_point("0,400=0,0"), read_point("600,400=12,0")))


@pytest.fixture
def scan(tmp_path: Path) -> Path:
    file = tmp_path / "scan of the ground floor.tif"
    image = Image.new("L", (600, 400), 255)
    image.paste(0, (50, 60, 550, 64))
    image.save(file)
    return file


def everything(folder: Path) -> dict[str, bytes]:
    return {str(one.relative_to(folder)): one.read_bytes()
            for one in sorted(folder.rglob("*")) if one.is_file()}  # fmt: skip


def test_a_new_site_has_a_floor_with_a_picture_and_no_room_yet(scan: Path, tmp_path: Path) -> None:
    site = tmp_path / "new" / "site"
    done = import_picture(scan, site, "ground", POINTS, use="dwelling")
    assert (done.made_site, done.made_floor) == (True, True)
    assert done.picture == PlanPicture("plans/ground.png", 0.02, 0.0, 0.0, 8.0)
    assert (done.width_m, done.height_m) == pytest.approx((12, 8))
    assert sorted(everything(site)) == ["plans/ground.geojson", "plans/ground.png", "site.toml"]
    assert (site / "plans/ground.geojson").read_bytes() == EMPTY_PLAN
    assert read_site(site).use == "dwelling"
    with Image.open(site / "plans/ground.png") as kept:
        assert kept.size == (600, 400)
    # as the window has it: the files that it reads, with the picture where it was placed
    files = read_site_files(site)
    assert "plans/ground.png" in files.contents
    assert site_of(files).problems  # it has no room yet, which is said


def test_a_picture_goes_under_a_plan_that_is_there_and_comments_stay(
    scan: Path, make_site: Callable[..., Path]
) -> None:
    site = make_site(top="# told by the owner\n")
    (plan,) = site.rglob("*.geojson")
    before = plan.read_bytes()
    done = import_picture(scan, site, "ground", POINTS)
    assert (done.made_site, done.made_floor) == (False, False)
    assert plan.read_bytes() == before
    assert "# told by the owner" in (site / "site.toml").read_text("utf-8")
    assert read_site(site).floors[0].picture == done.picture


def test_a_floor_that_is_new_is_made(scan: Path, make_site: Callable[..., Path]) -> None:
    site = make_site()
    assert import_picture(scan, site, "attic", POINTS).made_floor
    assert (site / "plans/attic.png").is_file()


def test_a_shrunk_picture_lies_where_its_points_were_said_to(tmp_path: Path) -> None:
    file = tmp_path / "large.png"
    Image.new("1", (17_000, 1001), 1).save(file)
    points = [(100, 1000, 0, 0), (16_900, 900, 50, 5), (8000, 10, 26.6, 4.66)]
    placing = Placing(tuple(read_point(f"{a},{b}={x},{y}") for a, b, x, y in points[:2]))
    done = import_picture(file, tmp_path / "site", "ground", placing)
    assert done.read.shrunk_by == 3
    kept = [(a / 3, b / 3) for a, b, *_ in points[:2]]
    np.testing.assert_allclose(done.picture.to_metres(kept), [(0, 0), (50, 5)], atol=1e-9)


@pytest.mark.parametrize(
    ("placing", "corner", "angle"),
    [
        (Placing((read_point("100,300"), read_point("100,100")), length_m=4.0), (-2, 6), 0),
        (Placing((read_point("0,0"), read_point("100,0")), length_m=2.0, turn_deg=90), (0, 0), 90),
        (Placing(metres_per_pixel=0.02), (0, 8), 0),
        (Placing(metres_per_pixel=0.02, turn_deg=90), (-8, 0), 90),
    ],
)
def test_a_length_or_the_side_of_a_pixel_places_it_too(
    scan: Path, tmp_path: Path, placing: Placing, corner: tuple[float, float], angle: float
) -> None:
    picture = import_picture(scan, tmp_path / "site", "ground", placing).picture
    assert picture.m_per_px == pytest.approx(0.02)
    assert (picture.origin_x_m, picture.origin_y_m) == pytest.approx(corner, abs=1e-9)
    assert picture.angle_deg == pytest.approx(angle)


def test_a_world_file_places_it_too(scan: Path, tmp_path: Path) -> None:
    file = tmp_path / "scan.tfw"
    file.write_text("0.02\n0\n0\n-0.02\n0.01\n7.99\n")
    done = import_picture(scan, tmp_path / "site", "ground", Placing(world_file=file))
    assert done.picture == PlanPicture("plans/ground.png", 0.02, 0.0, 0.0, 8.0)


def test_without_a_word_of_its_scale_it_is_a_guess_and_says_so(scan: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    done = import_picture(scan, site, "ground", Placing())
    assert done.picture.guessed
    assert done.width_m == pytest.approx(20)
    assert "clears nothing" in done.doubts[0]
    # what is kept can be placed: its own pixels are what a person counts
    again = import_picture(site / done.picture.file, site, "ground", POINTS, replace=True)
    assert not again.picture.guessed
    assert again.picture.m_per_px == pytest.approx(0.02)


def test_another_picture_never_hides_that_a_plan_was_drawn_at_a_guess(
    scan: Path, tmp_path: Path
) -> None:
    site = tmp_path / "site"
    import_picture(scan, site, "ground", Placing())
    wall = ('{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": '
            '{"kind": "wall"}, "geometry": {"type": "LineString", "coordinates": '
            '[[0, 0], [1, 0]]}}]}')  # fmt: skip
    (site / "plans/ground.geojson").write_text(wall)
    before = everything(site)
    with pytest.raises(HgmapError, match="drawn at a guessed scale"):
        import_picture(scan, site, "ground", POINTS, replace=True)
    assert everything(site) == before


def refused(scan: Path, site: Path, placing: Placing, **how: object) -> str:
    before = everything(site) if site.exists() else None
    with pytest.raises(HgmapError) as error:
        import_picture(scan, site, "ground", placing, **how)  # type: ignore[arg-type]
    assert (everything(site) if site.exists() else None) == before
    return str(error.value)


def test_what_cannot_be_done_leaves_everything_as_it_was(
    scan: Path, tmp_path: Path, make_site: Callable[..., Path]
) -> None:
    site = make_site()
    import_picture(scan, site, "ground", POINTS)
    assert "has a picture" in refused(scan, site, POINTS)
    new = tmp_path / "other"
    two = (read_point("0,0"), read_point("600,0"))
    assert "lies outside the picture" in refused(
        scan, new, Placing((read_point("0,0=0,0"), read_point("601,0=1,0")))
    )
    assert "give one of them" in refused(scan, new, Placing(two, 1.0, metres_per_pixel=0.1))
    assert "two points with their places" in refused(scan, new, Placing(two))
    assert "without places" in refused(scan, new, Placing(POINTS.points, length_m=3.0))
    assert "a distance of -1 m" in refused(scan, new, Placing(two, length_m=-1.0))
    assert "give --point twice" in refused(scan, new, Placing(length_m=3.0))
    assert "leave it out" in refused(scan, new, Placing(POINTS.points, turn_deg=3.0))
    assert "leave it out" in refused(scan, new, Placing(turn_deg=3.0))
    assert "a pixel would be 3 m wide" in refused(scan, new, Placing(metres_per_pixel=3.0))
    assert "a pixel would be nan m wide" in refused(scan, new, Placing(metres_per_pixel=np.nan))
    assert "no such file" in refused(tmp_path / "none.png", new, POINTS)
    assert "use 'palace' is not known" in refused(scan, new, POINTS, use="palace")
    assert "another use or none" in refused(scan, site, POINTS, use="school", replace=True)
    full = tmp_path / "full"
    full.mkdir()
    (full / "letter.txt").write_text("x")
    assert "is no site folder, and not empty" in refused(scan, full, POINTS)
    assert not new.exists()


def test_a_jpeg_takes_the_place_of_a_png(scan: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    import_picture(scan, site, "ground", POINTS)
    photo = tmp_path / "photo.jpg"
    out = io.BytesIO()
    Image.new("RGB", (600, 400), "white").save(out, "JPEG")
    photo.write_bytes(out.getvalue())
    done: ImportedPicture = import_picture(photo, site, "ground", POINTS, replace=True)
    assert done.picture.file == "plans/ground.jpg"
    assert sorted(everything(site)) == ["plans/ground.geojson", "plans/ground.jpg", "site.toml"]
