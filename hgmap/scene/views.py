"""What can be shown of a floor, each by itself or on top of the others."""

from __future__ import annotations

from typing import Final, Literal

View = Literal["readings", "zones", "estimate", "probability", "next places"]

VIEWS: Final[tuple[View, ...]] = ("readings", "zones", "estimate", "probability", "next places")
USUAL: Final[frozenset[View]] = frozenset({"readings", "zones", "estimate", "next places"})
"""What the printed sheet shows."""
