"""A mixture of another floor is refused in one line, so that no draft is made of it."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from hgmap.errors import EstimateError
from hgmap.field import as_before


def test_ranges_that_are_not_among_the_candidates_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    part = SimpleNamespace(weight=1.0, candidate=SimpleNamespace(range_m=36.2, log_prior=3.1))
    before = cast("Any", SimpleNamespace(numbers=np.ones(3, dtype=bool)))
    monkeypatch.setattr(as_before, "heaviest", lambda mixture: [part])
    with pytest.raises(EstimateError, match="not those of before"):
        as_before.weighed_as_before(
            before, (), np.arange(3.0), np.ones((3, 1)), error_weight=np.ones(3), intervals=None
        )
