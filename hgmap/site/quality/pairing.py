"""Which readings repeat each other: taken at one place, or written as a duplicate of another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hgmap.site.quality.places import at_one_place
from hgmap.site.reading import Reading


@dataclass(frozen=True, slots=True)
class Lonely:
    """A duplicate whose original was not found, and why."""

    reading: str
    why: str


def groups_of(
    usable: Sequence[Reading], every: Sequence[Reading]
) -> tuple[tuple[tuple[Reading, ...], ...], tuple[Lonely, ...]]:
    """Gather the readings that repeat each other.

    A duplicate goes with the reading that it names, unless that was read elsewhere; one that names
    none goes with what stands at its place. Readings at one place go together whoever wrote them.
    A direct reading beside a laboratory sample checks it and does not repeat it, unless it says
    that it does.

    Parameters
    ----------
    usable : sequence of Reading
    every : sequence of Reading
        Held ones too, to say why a duplicate stays alone.

    Returns
    -------
    groups : tuple of tuple of Reading
        Of two readings or more; in each and among them in the order of ids.
    lonely : tuple of Lonely
    """
    ordered = sorted(usable, key=lambda one: (one.round, one.id, one.where))
    index = {id(one): k for k, one in enumerate(ordered)}
    wanted = {(one.round, one.duplicate_of) for one in ordered if one.duplicate_of}
    by_id: dict[tuple[str, str], list[int]] = {}
    for k, one in enumerate(ordered if wanted else ()):
        if (key := (one.round, one.id)) in wanted:
            by_id.setdefault(key, []).append(k)
    parent = list(range(len(ordered)))
    for group in at_one_place(ordered, least=2):
        _join(parent, (index[id(one)] for one in group))
    alone: dict[int, str] = {}
    known = wanted & {(one.round, one.id) for one in every} if wanted else wanted
    for k, one in enumerate(ordered):
        if not one.duplicate_of:
            continue
        found = [j for j in by_id.get((one.round, one.duplicate_of), ()) if j != k]
        if len(found) == 1 and _elsewhere(ordered[found[0]], one):
            alone[k] = f"repeats {one.duplicate_of}, which was read in another room or height"
        elif len(found) == 1:
            _join(parent, (found[0], k))
        elif one.duplicate_of == one.id:
            alone[k] = "names itself as the reading that it repeats"
        elif (one.round, one.duplicate_of) in known:
            alone[k] = f"repeats {one.duplicate_of}, which is held or stands twice"
        else:
            alone[k] = f"repeats {one.duplicate_of}, which is not in its round"
    members: dict[int, list[int]] = {}
    for k, above in enumerate(parent):
        if above != k:
            root = _root(parent, k)
            members.setdefault(root, [root]).append(k)
    together = {k for chain in members.values() for k in chain}
    for k, one in enumerate(ordered):
        if one.kind == "duplicate" and k not in together and k not in alone:
            alone[k] = "names no reading that it repeats, and none stands at its place"
    groups = tuple(tuple(ordered[k] for k in chain) for _, chain in sorted(members.items()))
    return groups, tuple(Lonely(ordered[k].id, why) for k, why in sorted(alone.items()))


def _elsewhere(first: Reading, second: Reading) -> bool:
    """Tell whether two readings, both with a place, were read in different rooms or heights."""
    return any(
        a and b and a != b
        for a, b in ((first.floor, second.floor), (first.room, second.room),
                     (first.band, second.band))
    )  # fmt: skip


def _join(parent: list[int], members: Iterable[int]) -> None:
    roots = sorted({_root(parent, k) for k in members})
    for other in roots[1:]:
        parent[other] = roots[0]


def _root(parent: list[int], k: int) -> int:
    while parent[k] != k:
        parent[k] = parent[parent[k]]
        k = parent[k]
    return k
