"""A rule laxer than the built-in one is said in words."""

from __future__ import annotations

import pytest

from hgmap.site.model import MapSettings
from hgmap.site.warnings import lax_rules


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        (MapSettings(clear_at=0.1), ["clear_at 0.1 is laxer than the built-in 0.05", "up to 0.1"]),
        (MapSettings(remediate_at=0.7), ["remediate_at 0.7 is laxer than the built-in 0.5"]),
        (MapSettings(guard_m=1.0), ["guard_m 1 is laxer than the built-in 1.5", "1 m from"]),
    ],
)
def test_a_laxer_rule_says_what_it_lets_through(settings: MapSettings, words: list[str]) -> None:
    texts = lax_rules(settings)
    assert len(texts) == 1
    assert all(one in texts[0] for one in words)


def test_each_laxer_rule_is_said_and_stricter_ones_are_not() -> None:
    assert len(lax_rules(MapSettings(clear_at=0.1, remediate_at=0.6, guard_m=1.0))) == 3
    assert lax_rules(MapSettings(clear_at=0.01, remediate_at=0.3, guard_m=3.0)) == ()
