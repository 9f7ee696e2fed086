"""Stopping work that nobody waits for any more."""

from __future__ import annotations

from collections.abc import Callable

from hgmap.field.points import Check, never

Asked = Callable[[], bool]
"""Tells whether the work is not wanted any more."""


class Cancelled(Exception):  # noqa: N818
    """The work was not wanted any more; nothing is wrong."""


def check_of(cancelled: Asked | None) -> Check:
    """Return what raises :class:`Cancelled` as soon as the work is not wanted any more."""
    if cancelled is None:
        return never

    def check() -> None:
        if cancelled():
            raise Cancelled

    return check
