"""Figures of a clearance in words: a sign is never lost."""

from __future__ import annotations

import pytest

from hgmap.decide.clearance.statistics import room_statistics
from hgmap.report.clearance_notes import elsewhere_words


@pytest.mark.parametrize(
    ("highest", "over", "told"),
    [(None, None, "–"), (0.4, None, "0.4"), (100.0, 100.0, ">100"), (3.0, 0.5, ">3")],
)
def test_a_saturated_reading_at_another_height_keeps_its_sign(
    highest: float | None, over: float | None, told: str
) -> None:
    found = room_statistics(
        "store", [1.0, 2.0], [True, True], 0.8, highest_elsewhere=highest, saturated_elsewhere=over
    )
    assert elsewhere_words(found) == told
