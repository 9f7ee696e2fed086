"""The file of rules: each with who says so, none missing, none unknown."""

from __future__ import annotations

from importlib import resources
from typing import Any, get_args

import pytest

from hgmap.errors import SiteError
from hgmap.site.instruments.model import Principle
from hgmap.site.instruments.rules import load_rules, parse_rules
from hgmap.site.reading import Finding

TEXT = resources.files("hgmap.site").joinpath("instrument_rules.toml").read_text("utf-8")
ONE = TEXT[TEXT.index("[[rule]]") : TEXT.index("[[rule]]", TEXT.index("[[rule]]") + 1)]


def test_every_rule_says_who_says_so() -> None:
    for principle in get_args(Principle):
        for rule in load_rules().of(principle).values():
            assert any(
                rule.source.startswith(word)
                for word in ("common practice, no source", "value from memory")
            ), rule.key
            assert rule.says


def test_the_gold_film_numbers_are_those_of_common_practice() -> None:
    # common practice, no source: 45 min; five samples, 15 s, three of them 0.00; 5 min under 3
    rules = load_rules().of("gold film")
    assert rules["regeneration-length"].numbers["minutes"] == 45
    zero = rules["zero-after-regeneration"].numbers
    assert (zero["samples"], zero["spacing_s"], zero["zeros"]) == (5, 15, 3)
    warm = rules["warm-up"].numbers
    assert (warm["minutes"], warm["below_level_ug_m3"]) == (5, 3)
    assert rules["closing-check"].then == rules["saturation"].then == "hold"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[rule]\n", "TOML syntax"),
        ("", "rule"),
        (ONE, "lacks the rule"),
        (TEXT + ONE, "stands twice"),
        (TEXT.replace('"saturation"', '"satiation"'), "no such rule"),
        (TEXT.replace("zeros = 3, ", ""), "needs the number 'zeros'"),
        (TEXT.replace("zeros = 3", "zeros = 3, noughts = 2"), "number 'noughts' is not read"),
        (TEXT.replace("zeros = 3", "zeros = -3"), "zeros = -3 cannot be"),
        (TEXT.replace("zeros = 3", "zeros = nan"), "zeros = nan cannot be"),
        (TEXT.replace('\nthen = "hold"', '\nthen = "shrug"', 1), "then"),
        (TEXT.replace('source = "common practice, no source"\n', "", 1), "source"),
        (TEXT.replace('principles = ["gold film"]', 'principles = ["sniffing"]', 1), "principles"),
        (
            TEXT.replace('principles = ["gold film"]', 'principles = ["atomic absorption"]', 1),
            "lacks the rule",
        ),
    ],
)
def test_a_file_of_rules_that_is_not_whole_is_refused(text: str, says: str) -> None:
    with pytest.raises(SiteError, match=says) as caught:
        parse_rules(text, where="rules.toml")
    assert str(caught.value).startswith("rules.toml")
    assert "\n" not in str(caught.value)


def test_a_changed_reading_is_what_replace_makes(make_reading: Any) -> None:
    reading = make_reading(kind="duplicate", duplicate_of="R0", low=0.1, temperature_c=20.0)
    change: dict[str, Any] = {
        "held": ("a",), "cautions": ("b",), "error": 0.5, "findings": (Finding("hold", "r", "m"),)
    }  # fmt: skip
    new, old = reading.with_verdict(**change), reading._replace(**change)
    assert new == old
    assert hash(new) == hash(old)
