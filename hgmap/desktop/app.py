"""Starting the window."""

from __future__ import annotations

from collections.abc import Sequence


def run(arguments: Sequence[str]) -> int:
    """Open the window and return its exit status."""
    raise NotImplementedError(arguments)
