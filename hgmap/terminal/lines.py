"""Lines for the terminal: long ones broken at words, and the same thing said once for many rows."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Final

from hgmap.errors import one_line
from hgmap.site.row_spans import row_spans

if TYPE_CHECKING:
    from rich.console import Console

    from hgmap.site.model import Problem

LEAST_WIDTH: Final = 40
FEWEST_ROWS: Final = 3
"""So many rows of one file with the same thing wrong share a line."""

_ROW: Final = re.compile(r"(?P<file>.*), row (?P<row>\d+)(?: \(.*\))?")


def say(console: Console, text: str, *, indent: int = 4, style: str | None = None) -> None:
    """Print a line; on a terminal it is broken at words, and goes on with an indent.

    In a file or a pipe one message stays one line.
    """
    lines = [text]
    if console.is_terminal and console.width >= LEAST_WIDTH:
        lines = textwrap.wrap(
            text, console.width, subsequent_indent=" " * indent, break_long_words=False,
            break_on_hyphens=False, drop_whitespace=True,
        ) or [""]  # fmt: skip
    for line in lines:
        console.print(line, style=style)


def problem_line(problem: Problem) -> str:
    """Return a problem as one line."""
    return one_line(problem.message, where=problem.where, todo=problem.todo)


def gathered(problems: Iterable[Problem]) -> Iterator[str]:
    """Yield problems as lines, in order; rows of one file with the same message share a line.

    No row is lost: each stands in a line of its own or in the list of rows.
    """
    groups: dict[tuple[str, str, str, str], list[tuple[int, Problem]]] = {}
    for number, problem in enumerate(problems):
        found = _ROW.fullmatch(problem.where) if problem.severity == "held" else None
        file, row = (found["file"], int(found["row"])) if found else (problem.where, number)
        key = (problem.severity if found else f"#{number}", file, problem.message, problem.todo)
        groups.setdefault(key, []).append((row, problem))
    for (_, file, message, todo), rows in groups.items():
        if len(rows) < FEWEST_ROWS:
            yield from (f"{one.severity}: {problem_line(one)}" for _, one in rows)
        else:
            where = f"{file}, rows {row_spans(row for row, _ in rows)}"
            yield f"{rows[0][1].severity}: {one_line(message, where=where, todo=todo)}"
