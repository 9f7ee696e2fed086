"""Rows of a file as a person lists them: runs as from and to."""

from __future__ import annotations

from collections.abc import Iterable


def row_spans(rows: Iterable[int]) -> str:
    """Write row numbers in order, runs of three or more as from and to.

    Examples
    --------
    >>> row_spans([7, 2, 3, 4, 9])
    '2 to 4, 7, 9'
    """
    runs: list[list[int]] = []
    for row in sorted(set(rows)):
        if runs and row == runs[-1][-1] + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )
