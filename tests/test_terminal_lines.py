"""Lines for the terminal: nothing is lost where one line stands for many rows."""

from __future__ import annotations

import io

from hypothesis import given
from hypothesis import strategies as st
from rich.console import Console

from hgmap.site.model import Problem
from hgmap.terminal.lines import gathered, say


def held(row: int, message: str = "no unit", file: str = "a.csv") -> Problem:
    return Problem("held", f"{file}, row {row} (R{row})", message)


def test_rows_with_the_same_thing_wrong_share_a_line() -> None:
    rows = [held(row) for row in (2, 3, 4, 7, 9, 10)]
    assert list(gathered(rows)) == ["held: a.csv, rows 2 to 4, 7, 9, 10: no unit"]


def test_two_rows_other_files_and_other_messages_keep_their_own_line() -> None:
    ones = [held(2), held(3), held(2, file="b.csv"), held(4, "no value"),
            Problem("note", "a.csv", "column 'x' is not read")]  # fmt: skip
    assert list(gathered(ones)) == [
        "held: a.csv, row 2 (R2): no unit", "held: a.csv, row 3 (R3): no unit",
        "held: b.csv, row 2 (R2): no unit", "held: a.csv, row 4 (R4): no value",
        "note: a.csv: column 'x' is not read",
    ]  # fmt: skip


@given(st.sets(st.integers(2, 60)), st.sets(st.integers(2, 60)))
def test_no_row_is_lost_or_made_up(first: set[int], second: set[int]) -> None:
    lines = list(gathered([*map(held, first), *(held(row, "no value") for row in second)]))
    told: dict[str, set[int]] = {"no unit": set(), "no value": set()}
    for line in lines:
        where, message = line.removeprefix("held: a.csv, row").rsplit(": ", 1)
        for part in where.split("(")[0].removeprefix("s").split(","):
            low, _, high = part.partition(" to ")
            told[message] |= set(range(int(low), int(high or low) + 1))
    assert told == {"no unit": first, "no value": second}


def printed(text: str, *, terminal: bool) -> list[str]:
    out = io.StringIO()
    say(Console(file=out, width=60, force_terminal=terminal, soft_wrap=True, color_system=None),
        text)  # fmt: skip
    return out.getvalue().splitlines()


def test_a_terminal_breaks_at_words_and_a_pipe_not_at_all() -> None:
    text = "  ! " + "a long line about readings " * 6
    assert printed(text, terminal=False) == [text]
    lines = printed(text, terminal=True)
    assert max(map(len, lines)) <= 60
    assert all(line.startswith("    ") for line in lines[1:])
    assert " ".join(" ".join(lines).split()) == " ".join(text.split())
