"""Floors that share one plan file: what changes the plan of one changes that of the others."""

from __future__ import annotations

from hgmap.errors import SiteError
from hgmap.site.schema import SiteTable
from hgmap.site.store import plain_name


def floors_with_plan_of(table: SiteTable, floor: str) -> tuple[str, ...]:
    """Return the names of the other floors that have the plan file of a floor.

    Parameters
    ----------
    table : SiteTable
    floor : str
        Name of the floor.
    """
    plans = {one.name: _plain(one.plan) for one in table.floors}
    return tuple(name for name, plan in plans.items() if name != floor and plan == plans.get(floor))


def also_changes(floor: str) -> str:
    """Say that a change of one floor's plan changes another floor."""
    return (
        f"also changes floor {floor!r}, which has the same plan file; give it a file of its own "
        "if it is not meant"
    )


def _plain(plan: str) -> str:
    try:
        return plain_name(plan, where="")
    except SiteError:  # it lies outside the folder, and is refused elsewhere
        return plan
