"""What ``import hgmap`` offers."""

from __future__ import annotations

import pytest

import hgmap


@pytest.mark.parametrize("name", hgmap.__all__)
def test_every_public_name_can_be_loaded(name: str) -> None:
    assert getattr(hgmap, name) is not None
    assert name in dir(hgmap)


def test_every_run_of_a_site_folder_is_public() -> None:
    assert {name for name in hgmap.__all__ if name.endswith("_site")} == {
        "check_site", "clear_site", "compare_site", "design_site", "look_at_site",
        "map_site", "read_site",
    }  # fmt: skip
