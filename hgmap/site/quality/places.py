"""Readings that were taken at one place: same round, floor, room, band, within a hand's breadth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final, Literal, TypeAlias

import numpy as np

from hgmap.site.reading import Reading

Method = Literal["direct", "laboratory"]
Key: TypeAlias = tuple[str, str, str, str, str]

WITHIN_M: Final = 0.05
"""A limit of ours, no source: nobody puts an inlet back more exactly than a hand's breadth."""

_STRIDE: Final = 2**31


def method_of(reading: Reading) -> Method:
    """Return how a reading was made; side by side, the two check each other and repeat nothing."""
    return "laboratory" if reading.kind == "laboratory" else "direct"


def at_one_place(readings: Iterable[Reading], least: int = 1) -> list[list[Reading]]:
    """Gather readings by place, each group in the order given.

    Parameters
    ----------
    readings : iterable of Reading
    least : int
        Smaller groups are left out.

    Readings within 0.05 m of each other belong together, and so does a chain of them. A reading
    that only names its room has no place of its own and is left out, as is one off the map.

    Returns
    -------
    list of list of Reading
        Those of a room and height together.
    """
    spots: dict[Key, dict[tuple[float, float], list[Reading]]] = {}
    for one in readings:
        if one.x is None or one.y is None or one.placed == "room" or not one.on_map:
            continue
        key = (one.round, one.floor, one.room, one.band, _sort(one))
        if not (math.isfinite(one.x) and math.isfinite(one.y)):
            continue
        spots.setdefault(key, {}).setdefault((one.x, one.y), []).append(one)
    groups: list[list[Reading]] = []
    for by_place in spots.values():
        places = list(by_place)
        near = _with_company(places)
        if least <= 1:
            groups += [by_place[place] for place, one in zip(places, near, strict=True) if not one]
        else:
            groups += [
                by_place[place]
                for place, one in zip(places, near, strict=True)
                if not one and len(by_place[place]) >= least
            ]
        company = [place for place, one in zip(places, near, strict=True) if one]
        for chain in _chains(company):
            group = [one for k in chain for one in by_place[company[k]]]
            if len(group) >= least:
                groups.append(group)
    return groups


def _with_company(places: Sequence[tuple[float, float]]) -> list[bool]:
    """Tell which places have another in their square of the net or in one beside it.

    Most have none, and a million of them are told in one go.
    """
    squares = np.floor(np.array(places, dtype=np.float64) / WITHIN_M).astype(np.int64)
    # one number for a square; squares far apart may share one, which only costs a closer look
    codes = squares[:, 0] * _STRIDE + squares[:, 1]
    known, back, counts = np.unique(codes, return_inverse=True, return_counts=True)
    company = counts > 1
    for step in (1, _STRIDE - 1, _STRIDE, _STRIDE + 1):
        at = np.searchsorted(known, known + step).clip(max=len(known) - 1)
        there = known[at] == known + step
        company |= there
        company[at[there]] = True
    return [bool(one) for one in company[back]]


def _sort(reading: Reading) -> str:
    """Tell readings apart by what they are about: a floor sweep never repeats the room's air."""
    if reading.kind == "source search":
        return reading.kind
    return method_of(reading)


def _chains(places: Sequence[tuple[float, float]]) -> list[list[int]]:
    """Gather places closer than the limit; only the squares of a net beside each are looked at."""
    parent = list(range(len(places)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    net: dict[tuple[int, int], list[int]] = {}
    for k, (x, y) in enumerate(places):
        column, row = math.floor(x / WITHIN_M), math.floor(y / WITHIN_M)
        for dx in (-1, 0, 1):
            for dy in (-1, 0, 1):
                for other in net.get((column + dx, row + dy), ()):
                    if math.dist(places[other], (x, y)) <= WITHIN_M + 1e-9:
                        first, second = sorted((root(other), root(k)))
                        parent[second] = first
        net.setdefault((column, row), []).append(k)
    chains: dict[int, list[int]] = {}
    for k in range(len(places)):
        chains.setdefault(root(k), []).append(k)
    return list(chains.values())
