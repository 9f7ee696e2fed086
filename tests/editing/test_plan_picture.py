"""Two points and the metres between them place an image; a missing image loses no floor."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from PIL import Image

from hgmap.editing.plan_picture import picture_size, place_picture
from hgmap.errors import PlanError, SiteError
from hgmap.site.folder import read_site
from hgmap.site.plan_picture import PlanPicture

pixels = st.tuples(st.floats(0, 9000), st.floats(0, 9000))
places = st.tuples(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
angles = st.floats(-360, 360)


@given(pixels, pixels, st.floats(0.5, 300), angles, places)
def test_both_points_lie_where_they_were_said_to(
    first: tuple[float, float],
    second: tuple[float, float],
    distance: float,
    along: float,
    at: tuple[float, float],
) -> None:
    assume(math.dist(first, second) > 2 and distance / math.dist(first, second) <= 2)
    picture = place_picture(first, second, distance, file="p.png", along_deg=along, at=at)
    one, two = picture.to_metres([first, second])
    turn = math.radians(along)
    assert one == pytest.approx(at, abs=1e-6)
    assert two == pytest.approx(
        (at[0] + distance * math.cos(turn), at[1] + distance * math.sin(turn)), abs=1e-6
    )


@given(st.floats(1e-3, 2), angles, places, st.lists(pixels, min_size=1, max_size=5))
def test_pixels_become_metres_and_back(
    scale: float, angle: float, origin: tuple[float, float], some: list[tuple[float, float]]
) -> None:
    picture = PlanPicture("p.png", scale, angle, *origin)
    back = picture.to_pixels(picture.to_metres(some))
    np.testing.assert_allclose(back, some, atol=1e-5)


def test_row_0_is_at_the_top() -> None:
    picture = place_picture((0, 100), (100, 100), 10, file="p.png")
    assert picture == PlanPicture("p.png", 0.1, 0.0, 0.0, 10.0)
    assert picture.to_metres([(50, 0)])[0] == pytest.approx((5, 10))
    turned = place_picture((0, 0), (0, 100), 10, file="p.png", along_deg=0)
    assert turned.angle_deg == pytest.approx(90)


@pytest.mark.parametrize(
    ("second", "distance", "text"),
    [
        ((10, 10), 5, "the two points are one"),
        ((11, 10), 5, "the two points are one"),
        ((110, 10), 0, "a distance of 0 m"),
        ((110, 10), -3, "a distance of -3 m"),
        ((110, 10), math.nan, "finite"),
        ((110, 10), 201, "a pixel would be 2.01 m wide"),
    ],
)
def test_what_fixes_no_scale_is_refused(
    second: tuple[float, float], distance: float, text: str
) -> None:
    with pytest.raises(PlanError, match=text):
        place_picture((10, 10), second, distance, file="p.png")


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
@pytest.mark.parametrize("size", [(1, 1), (640, 48), (3, 5000)])
def test_the_size_is_read_from_the_header(kind: str, size: tuple[int, int]) -> None:
    out = io.BytesIO()
    Image.new("L", size).save(out, kind)
    assert picture_size(out.getvalue()) == size
    assert picture_size(out.getvalue()[:700]) == size


def test_a_progressive_image_with_long_comments_is_read_too() -> None:
    out = io.BytesIO()
    Image.new("RGB", (30, 20)).save(out, "JPEG", progressive=True, comment=b"x" * 60_000)
    assert picture_size(out.getvalue()) == (30, 20)


@given(st.sampled_from([b"", b"\x89PNG\r\n\x1a\n", b"\xff\xd8", b"GIF89a"]), st.binary(max_size=60))
def test_any_bytes_are_a_size_or_one_line(head: bytes, rest: bytes) -> None:
    try:
        width, height = picture_size(head + rest, where="p.png")
    except PlanError as error:
        if "\n" in str(error):
            raise
    else:
        assert 0 < width <= 100_000
        assert 0 < height <= 100_000


def with_picture(site: Path, lines: str) -> Path:
    """Put a table for a picture below the first floor of a site."""
    file = site / "site.toml"
    head, floors, rest = file.read_text("utf-8").partition("[[floors]]")
    body, mark, tail = rest.partition("\n[")
    table = f"\n[floors.picture]\n{lines}\n"
    file.write_text(head + floors + body + table + mark + tail, "utf-8")
    return site


def test_a_picture_is_part_of_its_floor(make_site: Callable[..., Path]) -> None:
    site = with_picture(make_site(), 'file = "scan.png"\nm_per_px = 0.02\nangle_deg = 3')
    read = read_site(site)
    assert read.floors[0].picture == PlanPicture("scan.png", 0.02, 3.0)
    (note,) = [one for one in read.problems if "picture" in one.message]
    assert (note.severity, note.where) == ("note", "scan.png")
    assert "missing" in note.message
    (site / "scan.png").write_bytes(b"x")
    assert not [one for one in read_site(site).problems if "picture" in one.message]


@pytest.mark.parametrize("name", ["../scan.png", "/tmp/scan.png", "scan.svg"])
def test_a_picture_outside_or_of_another_kind_is_left_out_and_the_floor_stays(
    make_site: Callable[..., Path], name: str
) -> None:
    read = read_site(with_picture(make_site(), f'file = "{name}"\nm_per_px = 0.02'))
    assert read.floors[0].picture is None
    assert [one.severity for one in read.problems if one.where == name] == ["note"]


@pytest.mark.parametrize(
    ("lines", "text"),
    [
        ('file = "a.png"', "m_per_px' is missing"),
        ('file = "a.png"\nm_per_px = 0', "more than 0"),
        ('file = "a.png"\nm_per_px = 2.1', "at most 2"),
        ('file = "a.png"\nm_per_px = 1\nangle = 3', "did you mean 'angle_deg'"),
    ],
)
def test_a_table_that_does_not_fit_names_its_key(
    make_site: Callable[..., Path], lines: str, text: str
) -> None:
    with pytest.raises(SiteError, match=text):
        read_site(with_picture(make_site(), lines))
