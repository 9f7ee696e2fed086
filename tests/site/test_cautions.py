"""What every output carries is written once."""

from __future__ import annotations

import pytest

from hgmap.site.cautions import SCREENING, screening


@pytest.mark.parametrize(
    ("medium", "what"), [("air", "air"), ("surface", "surface samples"), ("bulk", "bulk samples")]
)
def test_the_caution_names_what_was_screened(medium: str, what: str) -> None:
    text = screening(medium)  # type: ignore[arg-type]
    assert text.startswith(f"Screening of the {what} at the time of the survey; not a health")
    for one in (text, SCREENING):
        assert one.endswith("Local codes and licensed practice decide.")
